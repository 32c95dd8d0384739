"""Names: ids that are taken, files that are called otherwise, and words that are spelled almost right."""

from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from pathlib import PurePosixPath

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Check, Job
from shiftlore.knowledge.rulebook import Knowledge
from shiftlore.knowledge.validators.ids import place_of, scopes_of
from shiftlore.reading import quoted

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
