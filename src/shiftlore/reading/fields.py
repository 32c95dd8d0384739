"""Read the keys of one mapping, gather every problem, and find the keys that nobody asked for."""

from collections.abc import Callable, Iterable
from typing import Any, Final

from shiftlore.basics.problems import Mark, Problem, nearest
from shiftlore.reading.nodes import Node
from shiftlore.reading.scalars import id_of, number_of, quoted, tell, text_of, whole_of, word_of, yes_no_of


class _Required:
    """Stands for "this key must be there"."""

    def __repr__(self) -> str:
        return "REQUIRED"


REQUIRED: Final = _Required()


class Fields:
    """The keys of one mapping, read by name and type; problems go into a shared list.

    An accessor gives its `default` where the key is missing or stands empty, and a neutral
    stand-in (``""``, 0, False, ``()``) where the value is wrong or a required key is missing:
    the problem is in the list, so a caller need not look. `finish` reports the keys that no
    accessor asked for.

    Args:
        node: the mapping; any other kind is itself a problem, and reads as empty.
        problems: the list that problems are added to.
        what: what the mapping describes, for messages (``cause``, ``finding`` ...).
    Example:
        >>> from shiftlore.reading import read_yaml
        >>> node, problems = read_yaml("id: low_fluid\\nminuts: 3\\n")
        >>> fields = Fields(node, problems, "check")
        >>> fields.text("id"), fields.number("minutes", low=0, default=5.0)
        ('low_fluid', 5.0)
        >>> fields.finish()
        >>> problems[0].write_instead
        'Did you mean minutes?'
    """

    def __init__(self, node: Node, problems: list[Problem], what: str = "record"):
        self.node = node
        self.problems = problems
        self.what = what
        self.named = ""
        self._asked: dict[str, None] = {}
        self._values: dict[str, tuple[Node, Node]] = {}
        if node.kind == "mapping":
            for key, value in node.pairs:
                self._values.setdefault(key.text, (key, value))
        else:
            said = f"A {_kind_name(node)} stands here where the keys of {_with_article(what)} should"
            tell(problems, node, "013", said, "Write keys with a colon and a space, one a line.")

    @property
    def mark(self) -> Mark:
        """Say where the mapping begins."""
        return self.node.mark

    def has(self, key: str) -> bool:
        """Tell whether the key is written, with whatever value."""
        return self._note(key) in self._values

    def keys(self) -> list[str]:
        """Give the keys as written, in order."""
        return list(self._values)

    def get(self, key: str) -> Node | None:
        """Give the value's node, or None where the key is missing or stands empty."""
        entry = self._values.get(self._note(key))
        return None if entry is None or entry[1].is_null else entry[1]

    def value_mark(self, key: str) -> Mark:
        """Say where the value stands, or where the mapping begins if the key is missing."""
        return self._values[key][1].mark if key in self._values else self.mark

    def add(self, mark: Mark, number: str, what: str, write_instead: str, severity: str = "error") -> None:
        """Add a problem of your own; its code gets the letter of this text."""
        self.problems.append(Problem(mark, self.node.origin.letter + number, what, write_instead, severity))

    def read(self, key: str, default: object, stand_in: object, reader: Callable[[Node], object]) -> Any:
        """Read a value by any function that gives None where it is wrong."""
        node = self.get(key)
        if node is None:
            if isinstance(default, _Required):
                self._missing(key)
                return stand_in
            return default
        value = reader(node)
        return stand_in if value is None else value

    def text(self, key: str, default: object = REQUIRED) -> str:
        """Read a text; empty quotes are a text only where the default is an empty one."""
        node = self.get(key)
        if node is not None and node.kind == "scalar" and not node.text and default == "":
            return ""
        return self.read(key, default, "", lambda node: text_of(node, self.problems))

    def ident(self, key: str, default: object = REQUIRED) -> str:
        """Read an id in snake_case."""
        return self.read(key, default, "", lambda node: id_of(node, self.problems))

    def word(self, key: str, choices: Iterable[str], default: object = REQUIRED) -> str:
        """Read one word of a fixed list."""
        allowed = list(choices)
        stand_in = default if isinstance(default, str) else (allowed[0] if allowed else "")
        return self.read(key, default, stand_in, lambda node: word_of(node, allowed, self.problems, key))

    def number(
        self, key: str, low: float | None = None, high: float | None = None, default: object = REQUIRED
    ) -> float:
        """Read a number between low and high, both included."""
        stand_in = (low or 0.0) if isinstance(default, _Required) else default
        return self.read(key, default, stand_in, lambda node: number_of(node, self.problems, low, high))

    def whole(self, key: str, low: int | None = None, high: int | None = None, default: object = REQUIRED) -> int:
        """Read a whole number between low and high, both included."""
        stand_in = (low or 0) if isinstance(default, _Required) else default
        return self.read(key, default, stand_in, lambda node: whole_of(node, self.problems, low, high))

    def yes_no(self, key: str, default: object = REQUIRED) -> bool:
        """Read yes or no."""
        return self.read(key, default, False, lambda node: yes_no_of(node, self.problems))

    def nodes(self, key: str, default: object = ()) -> list[Node]:
        """Give the members of a list; a single value without brackets is a problem."""
        return list(self.read(key, default, [], lambda node: self.list_of(node, self.problems)))

    def words_list(self, key: str) -> tuple[str, ...]:
        """Read a list of texts; a member written twice is a problem."""
        return tuple(text for text, _ in self.marked_list(key))

    def marked_list(self, key: str) -> list[tuple[str, Mark]]:
        """Read a list of texts with the place of each."""
        found: dict[str, Mark] = {}
        for node in self.nodes(key):
            text = text_of(node, self.problems)
            if text in found:
                self.add(node.mark, "018", f"{quoted(text)} stands twice in this list", "Keep one of the two.")
            elif text is not None:
                found[text] = node.mark
        return list(found.items())

    def mapping(self, key: str, what: str | None = None, required: bool = False) -> "Fields | None":
        """Open the mapping under a key, or give None where there is none."""
        node = self.get(key)
        if node is None:
            if required:
                self._missing(key)
            return None
        return Fields(node, self.problems, what or key.replace("_", " "))

    def records(self, key: str, what: str) -> list["Fields"]:
        """Open every mapping of a list of mappings."""
        return [Fields(node, self.problems, what) for node in self.nodes(key)]

    def pairs(self, key: str, required: bool = False) -> list[tuple[str, Mark, Node]]:
        """Give the pairs of a mapping with free keys: key, its place, value node (possibly empty)."""
        node = self.get(key)
        if node is None:
            if required:
                self._missing(key)
            return []
        return Fields(node, self.problems, key.replace("_", " ")).own_pairs()

    def own_pairs(self) -> list[tuple[str, Mark, Node]]:
        """Give the pairs of this mapping itself, its keys read as texts."""
        found = []
        for key, value in self._values.values():
            text = text_of(key, self.problems, "a key") if key.kind == "scalar" else None
            if text is not None:
                found.append((self._note(text), key.mark, value))
        return found

    def finish(self) -> None:
        """Report every key that nobody asked for, with the nearest known key."""
        for text, (key, _) in self._values.items():
            if text in self._asked or key.kind != "scalar":
                continue
            near = nearest(text, self._asked, 1)
            advice = f"Did you mean {near[0]}?" if near else "Known here: " + ", ".join(sorted(self._asked)) + "."
            tell(
                self.problems, key, "012", f"{_with_article(self.what).capitalize()} has no key {quoted(text)}", advice
            )

    def _note(self, key: str) -> str:
        self._asked[key] = None
        return key

    @staticmethod
    def list_of(node: Node, problems: list[Problem]) -> list[Node]:
        """Give the members of a list; anything else is a problem, and reads as empty."""
        if node.kind == "list":
            return node.items
        what = f"A {_kind_name(node)} stands here where a list should"
        tell(problems, node, "013", what, "Write a list: [one, two], or one dash a line.")
        return []

    def _missing(self, key: str) -> None:
        named = f" {self.named}" if self.named else ""
        self.add(self.mark, "011", f"The {self.what}{named} has no {key}", f"Add a line: {key}: ...")


def _kind_name(node: Node) -> str:
    return "single value" if node.kind == "scalar" else node.kind


def _with_article(what: str) -> str:
    return f"{'an' if what[0] in 'aeio' else 'a'} {what}"
