"""Answers that cannot all be so, told while both are still in somebody's mind."""

from shiftlore.compiling import list_clashes
from shiftlore.sessions.interview import Interview

MOST_TOLD = 4
BOTH = (
    "These do not go together. b takes the last answer back; or say in your own words what is so, and the one that stood there "
    "before is corrected."
)


def tell_clashes(before: Interview, after: Interview) -> tuple[str, ...]:
    """Tell which answers cannot both be so, of those that an interview has and the one before it had not."""
    if not before.case.unit or after.case == before.case:
        return ()
    told = list_clashes(after.compiled.expansion, after.given) - list_clashes(before.compiled.expansion, before.given)
    said = sorted(f"{after.say(one, after.given[one])}, and {after.say(two, after.given[two])}." for one, two in told)
    return (*said[:MOST_TOLD], BOTH) if said else ()
