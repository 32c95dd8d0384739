"""Turn published repairs into what a later case is held against: what they presented, and what the rules alone believed."""

import hashlib
from collections.abc import Iterable
from pathlib import Path

from shiftlore.basics import ShiftloreError
from shiftlore.compiling import compile_case, compile_unit
from shiftlore.knowledge import Knowledge
from shiftlore.repairs.alike import list_beliefs, list_signs
from shiftlore.repairs.memory import PUBLISHED, Remembered, shorten
from shiftlore.repairs.published import Repair
from shiftlore.repairs.scoring import enter_repair


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


def hash_lists(folder: Path) -> str:
    """Hash the lists of published repairs and the cases entered from them."""
    found = hashlib.sha256()
    for path in sorted((*folder.glob("*.yaml"), *folder.glob("*/*.yaml")), key=lambda path: path.as_posix()):
        found.update(path.name.encode() + b"\0" + path.read_bytes().replace(b"\r\n", b"\n") + b"\0")
    return found.hexdigest()
