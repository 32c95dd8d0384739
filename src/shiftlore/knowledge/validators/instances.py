"""K115: `where` must be a word that fits the kinds at the two ends of its line.

Passes (an `each: element` cause, an `each: gear` finding):

    leads_to: {gear_slips: {strength: often, where: applied}}

Fails, at the target:

    leads_to: {gear_slips: {strength: often, where: switching}}
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge, Link
from shiftlore.reading import known_words, quoted
from shiftlore.sheets import is_where_word, where_words


def validate_instances(knowledge: Knowledge) -> list[Problem]:
    """Find `where` words that the two ends of a line cannot mean, and torque where there is none."""
    each_of = {record.id: record.scope.each for record in knowledge.children}
    problems = []
    for parent in knowledge.parents:
        for link in parent.leads_to:
            if link.target in each_of:
                problems += _of_one(link, parent.scope.each, each_of[link.target])
    return problems


def _of_one(link: Link, parent_each: str | None, target_each: str | None) -> list[Problem]:
    problems = []
    if link.where is not None and not is_where_word(link.where, parent_each, target_each):
        ends = f"from {_named(parent_each)} to {_named(target_each)}"
        allowed = where_words(parent_each, target_each)
        advice = known_words(link.where, allowed) if allowed else "Take where out: neither end is a template."
        problems.append(Problem(link.mark, "K115", f"A line {ends} cannot say where: {quoted(link.where)}", advice))
    if link.by_torque and (parent_each, target_each) != ("element", "gear"):
        problems.append(
            Problem(link.mark, "K115", "by_torque needs a line from each element to each gear", "Take by_torque out.")
        )
    return problems


def _named(each: str | None) -> str:
    return "a single record" if each is None else f"each {each.replace('_', ' ')}"
