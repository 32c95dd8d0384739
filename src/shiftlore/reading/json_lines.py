"""Turn one line of JSON into the nodes that the YAML reader would make of it, in a tenth of the time.

What holds for a YAML text holds here: UTF-8 alone, no hidden characters, no key twice, no nesting over `MAX_DEPTH`, and
scalars stay what was written. A place is a line; columns are not counted.
"""

import json
from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.reading.nodes import FORBIDDEN, JSON_EXPONENT, MAX_DEPTH, Node, Origin, plain_number


class _Number(str):
    """A number as it was written."""

    __slots__ = ()


class _Pairs(list[tuple[str, Any]]):
    """An object as it was written: keys that stand twice stand twice."""

    __slots__ = ()


class _RefusedLine(Exception):
    """Carries what is wrong and what to write instead."""


def read_json_line(
    content: bytes, file: str, line: int, letter: str, max_bytes: int
) -> tuple[Node | None, list[Problem]]:
    """Read one JSON object that stands on a line of its own, or say what is wrong with it.

    Args:
        file, line: its place, for every mark.
        letter: first letter of the problem codes.
        max_bytes: a longer one is refused unread.
    Returns: the root node, or None where it cannot be read; and all problems.
    """
    origin, mark = Origin(file, letter, is_json=True), Mark(file, line, 1)
    try:
        value = _load(content, max_bytes)
        problems: list[Problem] = []
        return _Builder(origin, line, problems).build(value, 0), problems
    except _RefusedLine as refused:
        number, what, advice = refused.args
        return None, [Problem(mark, letter + number, what, advice)]


def _load(content: bytes, max_bytes: int) -> _Pairs:
    if len(content) > max_bytes:
        raise _RefusedLine(
            "002", f"The row is larger than {max_bytes // 1024} KiB", "Leave out what is no part of a case."
        )
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        advice = 'Save the file with the encoding "UTF-8".'
        raise _RefusedLine("003", f"Byte {error.start + 1} of the row is not UTF-8 text", advice) from error
    try:
        value = json.loads(
            text, object_pairs_hook=_Pairs, parse_float=_Number, parse_int=_Number, parse_constant=_refuse_constant
        )
    except RecursionError as error:
        raise _RefusedLine("008", f"Nested deeper than {MAX_DEPTH} levels", "Write it flatter.") from error
    except ValueError as error:
        said = f"{error.msg} at character {error.pos + 1}" if isinstance(error, json.JSONDecodeError) else str(error)
        raise _RefusedLine(
            "004", f"This is not JSON: {said}", "Write one case as one JSON object on a line."
        ) from error
    if not isinstance(value, _Pairs):
        raise _RefusedLine("013", "The row is no object", "Write one case as one JSON object on a line.")
    return value


def _refuse_constant(name: str) -> float:
    raise _RefusedLine("016", f"{name} is no number", "Write a number, or null where it is not known.")


class _Builder:
    """Builds nodes from what was read."""

    def __init__(self, origin: Origin, line: int, problems: list[Problem]):
        self.origin, self.line, self.problems = origin, line, problems

    def build(self, value: Any, depth: int) -> Node:
        """Give the node of a value."""
        if depth > MAX_DEPTH:
            raise _RefusedLine("008", f"Nested deeper than {MAX_DEPTH} levels", "Write it flatter.")
        if isinstance(value, _Pairs):
            node = Node("mapping", self.origin, self.line, 1)
            seen = set()
            for key, member in value:
                if key in seen:
                    self._tell("005", f'The key "{key}" stands here a second time', "Keep one of the two.")
                seen.add(key)
                node.pairs.append((self._text(key), self.build(member, depth + 1)))
            return node
        if isinstance(value, list):
            node = Node("list", self.origin, self.line, 1)
            node.items = [self.build(member, depth + 1) for member in value]
            return node
        if isinstance(value, _Number):
            text = plain_number(value) if JSON_EXPONENT.fullmatch(value) else str(value)
            return Node("scalar", self.origin, self.line, 1, text=text, bare=True)
        if isinstance(value, str):
            return self._text(value)
        text = "null" if value is None else "true" if value else "false"
        return Node("scalar", self.origin, self.line, 1, text=text, bare=True)

    def _text(self, text: str) -> Node:
        found = FORBIDDEN.search(text)
        if found:
            raise _RefusedLine(
                "003", f"Unprintable character U+{ord(found[0]):04X} in a quoted text", "Take the escape out."
            )
        return Node("scalar", self.origin, self.line, 1, text=text)

    def _tell(self, number: str, what: str, advice: str) -> None:
        self.problems.append(Problem(Mark(self.origin.file, self.line, 1), self.origin.letter + number, what, advice))
