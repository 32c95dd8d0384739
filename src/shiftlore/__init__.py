"""Shiftlore: what is most likely wrong with an automatic transmission, and what to check next.

Everything here loads what it needs when it is first used: importing the package costs nothing.
"""

from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shiftlore.version import __version__

if TYPE_CHECKING:
    from shiftlore.advising import NextSteps, Options
    from shiftlore.basics import ShiftloreError
    from shiftlore.cases import Case
    from shiftlore.gearing import UnitDescription
    from shiftlore.knowledge import Knowledge
    from shiftlore.ranking import Ranking
    from shiftlore.words import Hit

__all__ = [
    "Case",
    "Knowledge",
    "ShiftloreError",
    "__version__",
    "describe_unit",
    "find",
    "load",
    "next_steps",
    "options",
    "rank",
    "read_case",
    "to_pgmpy",
]

# Class -> room that it comes from.
_LATER = {"Case": "cases", "Knowledge": "knowledge", "ShiftloreError": "basics"}


def __getattr__(name: str) -> Any:
    """Import a class when it is asked for (PEP 562)."""
    if name in _LATER:
        return getattr(import_module(f"shiftlore.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)


def load(path: Path | str | None = None) -> "Knowledge":
    """Load the rules of the trade.

    Args:
        path: a knowledge folder; None takes the one that came with the program.
    Raises: KnowledgeError: carries every problem, each with its place and what to write instead.
    """
    from shiftlore.knowledge import load_knowledge

    return load_knowledge(path)


def read_case(path: Path | str, knowledge: "Knowledge | None" = None) -> "Case":
    """Read one vehicle's case, or tell everything that is wrong with it.

    Args:
        path: a YAML or JSON file.
        knowledge: what the case may speak of; None takes the rules that came with the program.
    Raises: CaseError: carries every problem, each with its place and what to write instead.
    """
    from shiftlore.cases import read_case as read
    from shiftlore.compiling import list_known

    loaded = knowledge or load()
    return read(Path(path), lambda unit_id: list_known(loaded, unit_id))


def rank(knowledge: "Knowledge", case: "Case", audit: bool = False) -> "Ranking":
    """Rank the causes of a case, most probable first, with what speaks for and against each.

    Args:
        audit: recompute with pgmpy and tell the largest difference.
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    from shiftlore.compiling import compile_case, compile_unit
    from shiftlore.ranking import rank_causes

    return rank_causes(compile_case(compile_unit(knowledge, case.unit), case), audit=audit)


def next_steps(knowledge: "Knowledge", case: "Case", tree_depth: int = 0) -> "NextSteps":
    """Say which check or job comes next, best first, with what it costs and what it saves.

    Args:
        tree_depth: also grow the whole check order, so many steps deep.
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    from shiftlore.advising import next_steps as choose
    from shiftlore.compiling import compile_case, compile_unit

    return choose(compile_case(compile_unit(knowledge, case.unit), case), tree_depth=tree_depth)


def options(knowledge: "Knowledge", case: "Case", budget: float | None = None) -> "Options":
    """Say what to offer the owner: jobs with their price and their chance of curing the complaint.

    Args:
        budget: what the owner will spend, in the shop's currency; None takes the case's own.
    Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
    """
    from shiftlore.advising import offer_options
    from shiftlore.compiling import compile_case, compile_unit

    return offer_options(compile_case(compile_unit(knowledge, case.unit), case), budget=budget)


def describe_unit(
    knowledge: "Knowledge", unit: str, lost: Sequence[str] = (), stuck: Sequence[str] = ()
) -> "UnitDescription":
    """Work out a unit: ratios, who holds what in which gear, torques, and what a fault feels like.

    Args:
        unit: id of a unit sheet.
        lost: elements that hold nothing.
        stuck: solenoids, as `solenoid=on` or `solenoid=off`; with neither, every fault is worked out.
    Raises: UnknownId: no sheet carries the id; names the nearest.
    """
    from shiftlore.basics import UnknownId, nearest
    from shiftlore.gearing import describe_unit as describe

    if unit not in knowledge.sheets:
        near = ", ".join(nearest(unit, knowledge.sheets)) or ", ".join(sorted(knowledge.sheets))
        raise UnknownId(f'There is no unit "{unit}". Write one of: {near}.')
    sheet: Any = knowledge.sheets[unit]
    return describe(sheet, lost, stuck)


def find(knowledge: "Knowledge", words: str, most: int = 12) -> "list[Hit]":
    """Find the findings, checks, causes, jobs and codes that plain words speak of, best first."""
    from shiftlore.words import find_words

    return find_words(knowledge, words, most=most)


def to_pgmpy(knowledge: "Knowledge", unit: str) -> Any:
    """Hand a unit's network to pgmpy, so that anyone can check or reuse it; the root variable is `fault`.

    The priors are those of a vehicle of which neither distance nor background is known.
    Args:
        unit: id of a unit sheet.
    Returns: a `pgmpy.models.DiscreteBayesianNetwork`.
    Raises: UnknownId: no sheet carries the id; names the nearest.
    """
    from shiftlore.cases import Case
    from shiftlore.compiling import compile_case, compile_unit
    from shiftlore.compiling import to_pgmpy as export

    model, _ = export(compile_case(compile_unit(knowledge, unit), Case(unit)).network)
    return model
