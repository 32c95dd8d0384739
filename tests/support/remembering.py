"""Turn published repairs into what a later case is held against: what they presented, and what the rules alone believed."""

import hashlib
import json
from collections.abc import Iterable, Mapping
from io import BytesIO
from pathlib import Path

import numpy as np

from shiftlore.basics import ShiftloreError
from shiftlore.compiling import CompiledCase, compile_case, compile_unit
from shiftlore.knowledge import Knowledge
from shiftlore.repairs.alike import list_signs, list_templates
from shiftlore.repairs.confirmed import Repair, enter_repair
from shiftlore.repairs.memory import _SMALL, PUBLISHED, Memory, Remembered, shorten

_LARGEST = 2**16 - 1


def remember_repairs(knowledge: Knowledge, repairs: Iterable[Repair]) -> list[Remembered]:
    """Give the published repairs as remembered cases; those whose answers no cause can give are left out."""
    alone = knowledge.with_rules_alone()
    found = (remember_repair(alone, repair) for repair in repairs)
    return [one for one in found if one is not None]


def remember_repair(alone: Knowledge, repair: Repair) -> Remembered | None:
    """Give one published repair as a remembered case; None where its answers cannot all be true.

    Args:
        alone: the rules without what published repairs have taught: that would know the repair again.
    """
    try:
        case = enter_repair(alone, repair)
        compiled = compile_case(compile_unit(alone, case.vehicle), case)
        beliefs = list_beliefs(compiled)
    except ShiftloreError:
        return None
    return Remembered(
        id=repair.id,
        source=PUBLISHED,
        told=shorten(repair.presented),
        area=repair.areas[0],
        causes=repair.causes,
        vehicle=case.unit,
        beliefs=beliefs,
        signs=list_signs(compiled),
        cause=repair.cause,
        from_whom=repair.source,
    )


def list_beliefs(compiled: CompiledCase) -> dict[str, float]:
    """Give the chance of each cause as written, of a vehicle that has one of them, by its answers and the rules alone.

    Raises: ImpossibleEvidence: no single cause allows all of the answers.
    """
    return _add_up(compiled, compiled.prepared.single.posterior(compiled.evidence)[0])


def list_chances(compiled: CompiledCase) -> dict[str, float]:
    """Give the same before any answer."""
    return _add_up(compiled, compiled.prepared.single.tables.prior)


def _add_up(compiled: CompiledCase, p_root: np.ndarray) -> dict[str, float]:
    """Add up the instances of each cause; root state 0 is no known cause."""
    templates, column = list_templates(compiled)
    found = np.bincount(column, p_root[1:], len(templates))
    return dict(zip(templates, (found / found.sum()).tolist(), strict=True))


def weigh_alike(beliefs: Mapping[str, float], others: Mapping[str, float], chances: Mapping[str, float]) -> float:
    """Give the Bayes factor of one and the same cause against two strangers, by what is believed of the causes alone.

    Args:
        beliefs, others: p(f|E) and p(f|R); chances: p(f).
    """
    return sum(p * others.get(cause, 0.0) / chances[cause] for cause, p in beliefs.items() if p > 0)


def hash_lists(folder: Path) -> str:
    """Hash the lists of published repairs and the cases entered from them."""
    found = hashlib.sha256()
    for path in sorted((*folder.glob("*.yaml"), *folder.glob("*/*.yaml")), key=lambda path: path.as_posix()):
        found.update(path.name.encode() + b"\0" + path.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return found.hexdigest()


def write_memory(memory: Memory) -> bytes:
    """Write the arrays as they are kept: not packed, for they are read whenever a case is ranked."""
    told = {"tables": memory.tables, "source": memory.source, "made_from": memory.made_from}
    arrays: dict[str, np.ndarray] = {
        "told": np.frombuffer(json.dumps(told, ensure_ascii=False).encode(), np.uint8),
        "text": np.frombuffer(memory.text, np.uint8),
        "counts": np.stack(
            [np.bincount(row, minlength=len(memory)) for row in (memory.belief_owner, memory.sign_owner)]
        ),
        "belief": memory.belief.astype(np.float16),
        "text_end": memory.text_end.astype(np.int32),
    }
    for name in ("counts", *_SMALL):
        whole = arrays[name] if name in arrays else getattr(memory, name)
        assert whole.max(initial=0) <= _LARGEST, "it fits into two bytes"
        arrays[name] = whole.astype(np.uint16)
    buffer = BytesIO()
    np.savez(buffer, **arrays)
    return buffer.getvalue()
