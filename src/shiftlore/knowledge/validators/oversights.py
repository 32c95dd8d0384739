"""What slips by: rules that would never be heard of, ids that are taken, files called otherwise, words spelled almost right."""

from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from pathlib import PurePosixPath

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Check, Job
from shiftlore.knowledge.rulebook import Knowledge
from shiftlore.knowledge.validators.ids import place_of, scopes_of
from shiftlore.reading import quoted

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


_ALONE_IN_FILE = ("cause", "textbook case", "unit sheet", "language", "retired")
# Kinds that share one set of ids: kind -> field of `Knowledge`.
_TOGETHER = (
    {"cause": "causes", "state": "states", "finding": "findings", "background": "backgrounds"},
    {"check": "checks", "job": "jobs", "access": "access"},
)
_ALMOST = 0.85


def validate_file_names(knowledge: Knowledge) -> list[Problem]:
    """K117: a file that holds one cause, unit, language or textbook case must be named by its id.

    Passes:
        id: worn_pump                  # in causes/pump/worn_pump.yaml

    Fails, at the id:
        id: tired_pump                 # in causes/pump/worn_pump.yaml
    """
    problems = []
    for place, mark in knowledge.places.items():
        if len(place) == 3 and place[0] in _ALONE_IN_FILE and place[2] == "id":
            record_id, stem = place[1], PurePosixPath(mark.file).stem
            if record_id not in ("", stem):
                what = f'The file is called "{stem}", its record "{record_id}"'
                advice = f"Rename the file to {record_id}.yaml, or write id: {stem}."
                problems.append(Problem(mark, "K117", what, advice))
    return problems


def validate_shared_ids(knowledge: Knowledge) -> list[Problem]:
    """K118: an id means one thing; causes, states, findings and backgrounds share one set of ids, acts another.

    Passes:
        states:
        - {id: fluid_aerated}

    Fails, at the second id, also where a retired rule had it:
        states:
        - {id: fluid_colour}           # a finding has this id
    """
    problems, advice = [], "Choose another id; ids are never used twice."
    for kinds in _TOGETHER:
        seen: dict[str, str] = dict.fromkeys(knowledge.retired, "retired rule")
        for kind, record_id in ((kind, one) for kind, name in kinds.items() for one in getattr(knowledge, name)):
            if record_id in seen:
                mark, what = (
                    place_of(knowledge, kind, record_id, "id"),
                    f'The id "{record_id}" is taken by a {seen[record_id]}',
                )
                problems.append(Problem(mark, "K118", what, advice))
            seen.setdefault(record_id, kind)
    return problems


def validate_near_misses(knowledge: Knowledge) -> list[Problem]:
    """K128 (warning): a tag or tool that is spelled almost like a known one is probably that one.

    A record that needs a tag which no unit sheet carries stands on no unit, and a check that needs a tool which
    no shop has is never offered; so a slip of the fingers would go unnoticed.

    Passes:
        checks:
        - {id: look_in, tools: [jack]}              # shop.yaml has a jack

    Warned of, at the word:
        checks:
        - {id: look_in, tools: [jak]}               # Did you mean jack?
    """
    sheets = knowledge.sheets.values()
    tags = {tag for sheet in sheets for tag in (*sheet.tags, *sheet.possible_tags)}
    asked = [
        (*owner, key, tag)
        for owner, one in scopes_of(knowledge)
        for key in ("needs", "not_with")
        for tag in getattr(one, key)
    ]
    shop = knowledge.shop
    tools = {*shop.tools, *shop.tools_borrowed} if shop is not None else set()
    acts: dict[str, Iterable[Check | Job]] = {"check": knowledge.checks.values(), "job": knowledge.jobs.values()}
    used = [(kind, act.id, "tools", tool) for kind, records in acts.items() for act in records for tool in act.tools]
    return [*_near(knowledge, "tag", tags, asked), *_near(knowledge, "tool", tools, used)]


def validate_tags(knowledge: Knowledge) -> list[Problem]:
    """K133: a tag of a unit sheet that is spelled almost like a known one is that one.

    A tag that is known to no rule and no other sheet says nothing, so a slip of the fingers takes causes off the unit.

    Passes:
        needs: [rwd]                     # in a cause
        tags: [step, rwd]                # in a unit sheet

    Fails, at the tags:
        needs: [rwd]
        tags: [step, rwdd]               # Did you mean rwd?
    """
    return [problem for sheet in knowledge.sheets.values() for problem in knowledge.judge_tags(sheet)]


def _near(knowledge: Knowledge, kind: str, known: set[str], places: Iterable[tuple[str, ...]]) -> Iterator[Problem]:
    for place in places:
        word = place[-1]
        near = [] if word in known else get_close_matches(word, sorted(known), 1, _ALMOST)
        if near:
            what = f"The {kind} {quoted(word)} is known nowhere"
            yield Problem(place_of(knowledge, *place), "K128", what, f"Did you mean {near[0]}?", "warning")
