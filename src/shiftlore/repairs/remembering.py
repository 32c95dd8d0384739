"""Turn published repairs into what a later case is held against: what they presented, and what the rules alone believed."""

from collections.abc import Iterable

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
        repair.id,
        PUBLISHED,
        shorten(repair.presented),
        repair.areas[0],
        repair.causes,
        case.unit,
        beliefs,
        list_signs(compiled),
        cause=repair.cause,
        from_whom=repair.source,
    )
