"""Answers that cannot all be so, told while both are still in somebody's mind; and what was done, or is at once, in words."""

from shiftlore.advising import name_job
from shiftlore.cases import CAME_BACK, CURED, NOT_CURED, Done
from shiftlore.compiling import list_clashes
from shiftlore.ranking.dangers import list_do_now
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


def tell_at_once(interview: Interview) -> dict[str, str]:
    """Tell what is done at once, for what was answered: its name in the rules, and in words."""
    return {one.id: one.says for one in list_do_now(interview.compiled)}


def tell_done(interview: Interview, item: Done) -> str:
    """Say in words what was done and what came of it."""
    expansion = interview.compiled.expansion
    if item.id in expansion.checks:
        return f"{expansion.checks[item.id].label}, made"
    known = interview.knowledge.jobs.get(item.id)
    label = name_job(interview.compiled, item.id) if item.id in expansion.jobs else known.label if known else item.id
    came = {CURED: "the complaint is gone", NOT_CURED: "the complaint is still there", CAME_BACK: "it came back"}
    after = f" after {item.after_days:g} days" if item.after_days is not None else ""
    after += f" after {item.after_km:,.0f} km" if item.after_km is not None else ""
    return f"{label}: {came.get(item.result, 'done')}{after}"
