"""What every record reader shares: the words, the problems so far, and where each id stands."""

from dataclasses import dataclass, field

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.reading import Fields, Node
from shiftlore.knowledge.records import Need, Raise, Scope, Words
from shiftlore.knowledge.strengths import ratio_of
from shiftlore.sheets import EACH


@dataclass(slots=True)
class Intake:
    """Gathers while files are read, one for a whole knowledge folder.

    Args:
        words: the numbers behind the words.
        problems: every problem so far.
        places: (kind, id, key, member) -> where that member stands.
        source: the source stated once for the file being read, or "".
    """

    words: Words
    problems: list[Problem] = field(default_factory=list)
    places: dict[tuple[str, ...], Mark] = field(default_factory=dict)
    source: str = ""

    def open(self, node: Node, kind: str) -> tuple[Fields, str]:
        """Open a record and read its id, noting where it stands."""
        fields = Fields(node, self.problems, kind)
        record_id = fields.ident("id")
        fields.named = record_id
        self.note((kind, record_id, "id"), fields.value_mark("id"))
        return fields, record_id

    def note(self, place: tuple[str, ...], mark: Mark) -> None:
        """Remember where something stands; the first place counts."""
        self.places.setdefault(place, mark)

    def ids(self, fields: Fields, key: str, owner: tuple[str, str]) -> tuple[str, ...]:
        """Read a list of ids and note where each stands."""
        found = fields.marked_list(key)
        for text, mark in found:
            self.note((*owner, key, text), mark)
        return tuple(text for text, _ in found)

    def noted_text(self, fields: Fields, key: str, owner: tuple[str, str], default: object = None) -> str:
        """Read one id that names another record, and note where it stands."""
        text = fields.text(key) if default is None else fields.text(key, default)
        self.note((*owner, key), fields.value_mark(key))
        return text

    def needs(self, fields: Fields, key: str) -> tuple[Need, ...]:
        """Read a list of parts or consumables: price-book entry and count."""
        found = []
        for member in fields.records(key, "part or consumable"):
            price = member.text("price")
            count = member.number("count", low=0.001, high=1000, default=1.0)
            member.finish()
            found.append(Need(price, count, member.value_mark("price")))
        return tuple(found)

    def raised_by(self, fields: Fields) -> tuple[Raise, ...]:
        """Read how the backgrounds raise or lower a hazard."""
        found = []
        for background, mark, node in fields.pairs("raised_by"):
            answers = Fields(node, self.problems, f"raised_by {background}")
            for grade, grade_mark, ratio_node in answers.own_pairs():
                ratio = ratio_of(ratio_node, self.problems)
                if ratio is not None:
                    found.append(Raise(background, grade, ratio, grade_mark))
                    self.note(("raised_by", str(grade_mark)), mark)
        return tuple(found)

    def scope(self, fields: Fields, owner: tuple[str, str]) -> Scope:
        """Read on which units a record stands, and over what it expands."""
        return Scope(
            each=fields.word("each", EACH, None),
            types=self.ids(fields, "types", owner),
            needs=self.ids(fields, "needs", owner),
            not_with=self.ids(fields, "not_with", owner),
        )

    def source_of(self, fields: Fields) -> str:
        """Read a record's source, or take the one stated for the whole file."""
        return fields.text("source", self.source or None) if self.source else fields.text("source")
