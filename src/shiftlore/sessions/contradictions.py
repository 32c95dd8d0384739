"""Answers that cannot all be so, told while both are still in somebody's mind; and what is not asked beside an answer."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from shiftlore.compiling import Expansion, list_clashes

if TYPE_CHECKING:
    from shiftlore.sessions.interview import Interview

MOST_TOLD = 4
BOTH = (
    "These do not go together. b takes the last answer back; or say in your own words what is so, and the one that stood there "
    "before is corrected."
)


def tell_clashes(before: "Interview", after: "Interview") -> tuple[str, ...]:
    """Tell which answers cannot both be so, of those that an interview has and the one before it had not."""
    if not before.case.unit or after.case == before.case:
        return ()
    told = list_clashes(after.compiled.expansion, after.given) - list_clashes(before.compiled.expansion, before.given)
    said = sorted(f"{after.say(one, after.given[one])}, and {after.say(two, after.given[two])}." for one, two in told)
    return (*said[:MOST_TOLD], BOTH) if said else ()


def is_moot(expansion: Expansion, given: Mapping[str, str], finding: str) -> bool:
    """Tell whether nobody asks for a finding beside what was answered: a yes could not be, or its no would say nothing."""
    record, nodes = expansion.finding_records[finding], expansion.findings
    if any(given.get(name) == nodes[name].grades[0] for name in record.includes if name in nodes):
        return True
    telling = (name for name, grade in given.items() if name in nodes and grade != nodes[name].grades[0])
    others = [expansion.finding_records[name] for name in telling]
    return any(record.id in (*one.never_with, *one.denied_by, *one.not_asked_with) for one in others)
