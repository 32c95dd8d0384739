"""Rules that would never be heard of: what shows in nothing, is led to by nothing, or is cured by nothing."""

from collections.abc import Iterable

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.rulebook import Knowledge
from shiftlore.knowledge.validators.ids import place_of

_FOUND_BY_NOTHING = "none"
# Code -> kind of record, and severity.
_TOLD_OF = {
    "K120": ("cause", "error"), "K121": ("finding", "warning"), "K122": ("check", "error"), "K123": ("cause", "warning"),
}  # fmt: skip


def _tell(knowledge: Knowledge, code: str, records: Iterable[str], what: str, write_instead: str) -> list[Problem]:
    """Make a problem at the id of each of these records; `{}` in `what` stands for it."""
    kind, severity = _TOLD_OF[code]
    marks = {name: place_of(knowledge, kind, name, "id") for name in records}
    return [Problem(mark, code, what.format(name), write_instead, severity) for name, mark in marks.items()]


def validate_silent_causes(knowledge: Knowledge) -> list[Problem]:
    """K120: every cause must show in at least one finding, by itself or through states.

    Passes:
        leads_to: {line_pressure_low: often}      # and that state leads to findings

    Fails, at the cause:
        leads_to: {}                              # nobody could ever find it
    """
    showing = {*knowledge.findings}
    while more := {
        state.id
        for state in knowledge.states.values()
        if state.id not in showing and any(link.target in showing for link in state.leads_to)
    }:
        showing |= more
    silent = [
        cause.id
        for cause in knowledge.causes.values()
        if cause.area != _FOUND_BY_NOTHING and not any(link.target in showing for link in cause.leads_to)
    ]
    advice = "Add a finding, or a state that shows in one, to leads_to."
    return _tell(knowledge, "K120", silent, "Nothing that can be observed follows from {}", advice)


def validate_orphan_findings(knowledge: Knowledge) -> list[Problem]:
    """K121 (warning): a finding that no cause or state leads to says nothing about any cause.

    Findings that follow others, or only fill in other answers, are left out.

    Passes:
        leads_to: {fluid_smell: often, fluid_colour: {dark: often}}
        findings:
        - {id: fluid_smell}

    Warned of, at the finding's id:
        findings:
        - {id: fluid_smell}                       # stands in no leads_to
    """
    explained = {link.target for parent in knowledge.parents for link in parent.leads_to}
    explained |= {one.id for one in knowledge.findings.values() if one.follows or one.stands_for}
    orphans = [one.id for one in knowledge.findings.values() if one.id not in explained]
    advice = "Add it to the leads_to of what brings it about, or delete it."
    return _tell(knowledge, "K121", orphans, "Nothing leads to {}", advice)


def validate_idle_checks(knowledge: Knowledge) -> list[Problem]:
    """K122: a check must reveal something.

    Passes:
        checks:
        - {id: look_in, reveals: [fluid_colour]}

    Fails, at the check's id:
        checks:
        - {id: look_in, reveals: []}
    """
    idle = [check.id for check in knowledge.checks.values() if not check.reveals]
    advice = "Add the findings that it answers: reveals: [...]."
    return _tell(knowledge, "K122", idle, "The check {} reveals nothing", advice)


def validate_uncured_causes(knowledge: Knowledge) -> list[Problem]:
    """K123 (warning): a cause that no job cures can be found but never offered to the owner; normal behaviour needs none.

    Passes:
        jobs:
        - {id: overhaul, cures: {worn_pump: nearly_always, worn_lining: nearly_always}}

    Warned of, at the cause's id:
        jobs:
        - {id: overhaul, cures: {worn_pump: nearly_always}}
    """
    cured = {cure.cause for job in knowledge.jobs.values() for cure in job.cures}
    uncured = [one.id for one in knowledge.causes.values() if one.id not in cured and one.area != _FOUND_BY_NOTHING]
    return _tell(knowledge, "K123", uncured, "No job cures {}", "Add it to the cures of a job.")
