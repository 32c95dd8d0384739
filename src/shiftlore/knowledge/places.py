"""Where the members of records stand, and what to say where one names nothing."""

from collections.abc import Iterable, Iterator

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.records import Knowledge, Scope
from shiftlore.reading import known_words, quoted


def tell_unknown(knowledge: Knowledge, mark: Mark, code: str, kind: str, written: str, known: Iterable[str]) -> Problem:
    """Make the problem for an unknown id; a retired one names what replaced it."""
    if written in knowledge.retired:
        replaced_by = knowledge.retired[written]
        advice = f"Write {replaced_by}." if replaced_by else "Take the line out."
        return Problem(mark, code, f"The {kind} {quoted(written)} is retired", advice)
    return Problem(mark, code, f"There is no {kind} {quoted(written)}", known_words(written, known))


def place_of(knowledge: Knowledge, *place: str) -> Mark:
    """Say where a member of a record stands, or where nothing is known of it, nowhere."""
    return knowledge.places.get(place, Mark())


def scopes_of(knowledge: Knowledge) -> Iterator[tuple[tuple[str, str], Scope]]:
    """Give the scope of every record that may be a template, with its kind and id."""
    for kind, records in (
        ("cause", knowledge.causes),
        ("state", knowledge.states),
        ("finding", knowledge.findings),
        ("check", knowledge.checks),
        ("job", knowledge.jobs),
    ):
        for record in records.values():
            yield (kind, record.id), record.scope
