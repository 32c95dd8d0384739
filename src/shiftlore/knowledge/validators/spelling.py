"""K128 (warning): a tag or tool that is spelled almost like a known one is probably that one.

A record that needs a tag which no unit sheet carries stands on no unit, and a check that needs a tool which
no shop has is never offered; so a slip of the fingers would go unnoticed.

Passes:

    needs: [converter]             # tag of a unit sheet
    tools: [drain_tray]            # tool of shop.yaml

Warned of, at the word:

    needs: [convertor]             # Did you mean converter?
"""

from collections.abc import Iterator
from difflib import get_close_matches

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of, scopes_of
from shiftlore.reading import quoted

_ALMOST = 0.85


def validate_near_misses(knowledge: Knowledge) -> list[Problem]:
    """Find tags and tools that differ by a letter or two from known ones."""
    tags = {
        tag
        for sheet in knowledge.sheets.values()
        for key in ("tags", "possible_tags")
        for tag in getattr(sheet, key, ())
    }
    tools = set(knowledge.shop.tools) if knowledge.shop is not None else set()
    found = [_near(knowledge, place, word, "tag", tags) for place, word in _tags(knowledge)]
    found += [_near(knowledge, place, word, "tool", tools) for place, word in _tools(knowledge)]
    return [problem for problem in found if problem is not None]


def _near(knowledge: Knowledge, place: tuple[str, ...], word: str, kind: str, known: set[str]) -> Problem | None:
    near = [] if word in known else get_close_matches(word, sorted(known), 1, _ALMOST)
    if not near:
        return None
    what = f"The {kind} {quoted(word)} is known nowhere"
    return Problem(place_of(knowledge, *place), "K128", what, f"Did you mean {near[0]}?", "warning")


def _tags(knowledge: Knowledge) -> Iterator[tuple[tuple[str, ...], str]]:
    for owner, scope in scopes_of(knowledge):
        yield from (((*owner, "needs", tag), tag) for tag in scope.needs)
        yield from (((*owner, "not_with", tag), tag) for tag in scope.not_with)


def _tools(knowledge: Knowledge) -> Iterator[tuple[tuple[str, ...], str]]:
    for check in knowledge.checks.values():
        yield from ((("check", check.id, "tools", tool), tool) for tool in check.tools)
    for job in knowledge.jobs.values():
        yield from ((("job", job.id, "tools", tool), tool) for tool in job.tools)
