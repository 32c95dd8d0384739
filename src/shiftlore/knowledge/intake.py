"""What every record reader shares: the words, the problems so far, and where each id stands."""

from dataclasses import dataclass, field
from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.records import Strength, Words
from shiftlore.knowledge.strengths import strength_of
from shiftlore.reading import Fields, Node, answer_of


@dataclass(slots=True)
class Intake:
    """Gathers while files are read, one for a whole knowledge folder.

    Args:
        words: the numbers behind the words.
        problems: every problem so far.
        places: (kind, id, key, member) -> where that member stands.
        source: the source stated once for the file being read, or "".
        unopened: the state of disassembly of checks and jobs that name none: the one in which nothing is open.
    """

    words: Words
    problems: list[Problem] = field(default_factory=list)
    places: dict[tuple[str, ...], Mark] = field(default_factory=dict)
    source: str = ""
    unopened: str = ""

    def note(self, place: tuple[str, ...], mark: Mark) -> None:
        """Remember where something stands; the first place counts."""
        self.places.setdefault(place, mark)

    def ids(self, fields: Fields, key: str, owner: tuple[str, str]) -> tuple[str, ...]:
        """Read a list of ids and note where each stands."""
        found = fields.marked_list(key)
        for text, mark in found:
            self.note((*owner, key, text), mark)
        return tuple(text for text, _ in found)

    def strength(self, node: Node) -> Strength | None:
        """Read a strength, or None where it is wrong."""
        return strength_of(node, self.words, self.problems)

    def answer(self, node: Node) -> str | None:
        """Read an answer, or None where it is wrong."""
        return answer_of(node, self.problems)


@dataclass(slots=True)
class Opened:
    """A record that is being read.

    Args:
        fields: its keys.
        intake: where problems and places go.
        kind: what it is called in messages and places.
        values: field of the record -> what was read of it so far.
        owner: kind and id, once the id is read.
    """

    fields: Fields
    intake: Intake
    kind: str
    values: dict[str, Any] = field(default_factory=dict)
    owner: tuple[str, str] = ("", "")

    def name(self, record_id: str) -> None:
        """Say which record it is, for messages and places."""
        self.fields.named = record_id
        self.owner = (self.kind, record_id)
