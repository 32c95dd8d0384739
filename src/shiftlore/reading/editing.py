"""Change single values of a YAML text and leave all else as a person wrote it: order, comments, empty lines."""

import json
import re
from collections.abc import Sequence

from shiftlore.reading.nodes import Node, read_yaml

_QUOTED = re.compile(r"\"(?:[^\"\\]|\\.)*\"|'(?:[^']|'')*'")
_COMMENT = re.compile(r"\s+#.*$")
_BARE_KEY = re.compile(r"[A-Za-z_][A-Za-z0-9_]*")
STEP = "  "


def set_value(text: str, path: Sequence[str], value: str | None) -> str:
    """Give the text with one value changed, added, or taken out.

    Args:
        text: a readable document in block style, or nothing yet.
        path: keys from the outermost to the value's own; mappings on the way are made where they are missing.
        value: as it shall be written, on one line; None takes key and value out.
    Raises: ValueError: a mapping on the way is written in braces, which only a person can change well.
    Example:
        >>> set_value("a: 1  # one\\nb: {c: 2}\\n", ["a"], "3")
        'a: 3  # one\\nb: {c: 2}\\n'
    """
    root, problems = read_yaml(text) if text.strip() else (None, [])
    lines = text.splitlines()
    if root is None:
        return text if value is None else _join([*lines, *_written(path, value, "")])
    if problems:
        raise ValueError("it has problems of its own")
    return _join(_set_in(lines, root, path, value, "", len(lines)))


def _set_in(
    lines: list[str], mapping: Node, path: Sequence[str], value: str | None, margin: str, end: int
) -> list[str]:
    """Change what stands in one mapping, whose lines end before `end`."""
    if mapping.kind != "mapping" or (mapping.pairs and lines[mapping.line - 1][mapping.column - 1] == "{"):
        raise ValueError("it is written in braces")
    margin = " " * (mapping.pairs[0][0].column - 1) if mapping.pairs else margin
    keys = [key.text for key, _ in mapping.pairs]
    if path[0] not in keys:
        last = _last_line(lines, mapping.line - 1, end)
        return lines if value is None else lines[:last] + _written(path, value, margin) + lines[last:]
    place = keys.index(path[0])
    key, below = mapping.pairs[place]
    after = mapping.pairs[place + 1][0].line - 1 if place + 1 < len(keys) else end
    after = _last_line(lines, key.line - 1, after)
    is_empty = len(path) > 1 and below.kind == "mapping" and not below.pairs
    if len(path) > 1 and not is_empty:
        return _set_in(lines, below, path[1:], value, margin + STEP, after)
    if value is None:
        return lines[: key.line - 1] + lines[after:]
    if is_empty:
        return lines[: key.line - 1] + _written(path, value, margin) + lines[after:]
    comment = _comment_behind(lines[key.line - 1], below) if after == key.line else ""
    return [*lines[: key.line - 1], _written(path, value, margin)[0] + comment, *lines[after:]]


def _written(path: Sequence[str], value: str, margin: str) -> list[str]:
    """Write a value with the keys that lead to it, a line each."""
    keys = [key if _BARE_KEY.fullmatch(key) else json.dumps(key, ensure_ascii=False) for key in path]
    above = [f"{margin}{STEP * depth}{key}:" for depth, key in enumerate(keys[:-1])]
    return [*above, f"{margin}{STEP * (len(keys) - 1)}{keys[-1]}: {value}"]


def _last_line(lines: list[str], begin: int, end: int) -> int:
    """Go back from `end` over empty lines and comments, which belong to what follows."""
    while end > begin + 1 and (not lines[end - 1].strip() or lines[end - 1].lstrip().startswith("#")):
        end -= 1
    return end


def _comment_behind(line: str, value: Node) -> str:
    """Give the comment behind a value of one line, with the blanks before it."""
    rest = line[value.column - 1 :] if not value.is_null else line.partition(":")[2]
    quoted = _QUOTED.match(rest)
    found = _COMMENT.search(rest, quoted.end() if quoted else 0)
    return found[0] if found else ""


def _join(lines: Sequence[str]) -> str:
    return "\n".join(lines) + "\n" * bool(lines)
