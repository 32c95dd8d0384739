"""Rules that would never be heard of: what shows in nothing, is led to by nothing, or is cured by nothing."""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.places import place_of
from shiftlore.knowledge.records import Knowledge

_FOUND_BY_NOTHING = "none"


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
    return [
        Problem(
            place_of(knowledge, "cause", cause.id, "id"),
            "K120",
            f"Nothing that can be observed follows from {cause.id}",
            "Add a finding, or a state that shows in one, to leads_to.",
        )
        for cause in knowledge.causes.values()
        if cause.area != _FOUND_BY_NOTHING and not any(link.target in showing for link in cause.leads_to)
    ]


def validate_orphan_findings(knowledge: Knowledge) -> list[Problem]:
    """K121 (warning): a finding that no cause or state leads to says nothing about any cause.

    Findings that only fill in other answers are left out.

    Passes:

        leads_to: {fluid_smell: often, fluid_colour: {dark: often}}
        findings:
        - {id: fluid_smell}

    Warned of, at the finding's id:

        findings:
        - {id: fluid_smell}                       # stands in no leads_to
    """
    explained = {link.target for parent in knowledge.parents for link in parent.leads_to}
    return [
        Problem(
            place_of(knowledge, "finding", finding.id, "id"),
            "K121",
            f"Nothing leads to {finding.id}",
            "Add it to the leads_to of what brings it about, or delete it.",
            "warning",
        )
        for finding in knowledge.findings.values()
        if finding.id not in explained and not finding.stands_for
    ]


def validate_idle_checks(knowledge: Knowledge) -> list[Problem]:
    """K122: a check must reveal something.

    Passes:

        checks:
        - {id: look_in, reveals: [fluid_colour]}

    Fails, at the check's id:

        checks:
        - {id: look_in, reveals: []}
    """
    return [
        Problem(
            place_of(knowledge, "check", check.id, "id"),
            "K122",
            f"The check {check.id} reveals nothing",
            "Add the findings that it answers: reveals: [...].",
        )
        for check in knowledge.checks.values()
        if not check.reveals
    ]


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
    return [
        Problem(
            place_of(knowledge, "cause", cause.id, "id"),
            "K123",
            f"No job cures {cause.id}",
            "Add it to the cures of a job.",
            "warning",
        )
        for cause in knowledge.causes.values()
        if cause.id not in cured and cause.area != _FOUND_BY_NOTHING
    ]
