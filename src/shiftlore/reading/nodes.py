"""Turn one YAML text into nodes that know their file, line and column, and refuse whatever is unsafe.

Nothing is constructed: a scalar stays the text that was written, with a note whether it stood bare.
Refused, each with its place: anchors and aliases (they can blow a small file up), tags, several
documents, duplicate keys, keys that are not words, byte order marks, control characters, other
encodings than UTF-8, files over a stated size, nesting over `MAX_DEPTH`.
"""

import json
import re
from pathlib import Path

import yaml

from shiftlore.basics.problems import Mark, Problem, printable
from shiftlore.basics.structs import Value
from shiftlore.basics.whole_files import read_bounded

KNOWLEDGE_BYTES = 1024 * 1024
CASE_BYTES = 256 * 1024
MAX_DEPTH = 40

# Control characters, line breaks that editors do not show, and marks that turn the writing direction.
FORBIDDEN = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]"
)
_JSON_PAIR = re.compile(r"\\u([dD][89abAB][0-9a-fA-F]{2})\\u([dD][c-fC-F][0-9a-fA-F]{2})")
JSON_EXPONENT = re.compile(r"-?\d+(\.\d+)?[eE][-+]?\d+")


class Origin(Value, frozen=True):
    """Which text a node comes from, and the letter that its problem codes begin with.

    Args:
        file: name shown in every mark.
        letter: ``K`` knowledge, ``U`` unit sheet, ``C`` case.
        is_json: whether the text is JSON, where ``1e3`` is a number.
    """

    file: str
    letter: str = "K"
    is_json: bool = False


class Node:
    """One value of a YAML text: a scalar, a list or a mapping, with its place.

    Args:
        kind: ``scalar``, ``list`` or ``mapping``.
        origin: the text that it stands in.
        line, column: where it begins, from 1.
        text: what was written, for a scalar.
        bare: whether a scalar stands without quotes, so that YAML may turn it into something else.
        items: members of a list.
        pairs: key and value nodes of a mapping, in the order written.
    """

    __slots__ = ("bare", "column", "items", "kind", "line", "origin", "pairs", "text")

    def __init__(self, kind: str, origin: Origin, line: int, column: int, *, text: str = "", bare: bool = False):
        self.kind = kind
        self.origin = origin
        self.line = line
        self.column = column
        self.text = text
        self.bare = bare
        self.items: list[Node] = []
        self.pairs: list[tuple[Node, Node]] = []

    @property
    def mark(self) -> Mark:
        """Say where the value begins."""
        return Mark(self.origin.file, self.line, self.column)

    @property
    def is_null(self) -> bool:
        """Tell whether nothing stands here: an empty place, ``~`` or a bare ``null``."""
        return self.kind == "scalar" and self.bare and self.text in ("", "~", "null", "Null", "NULL")

    def get(self, key: str) -> "Node | None":
        """Give the value under a key of a mapping, or None."""
        for key_node, value in self.pairs:
            if key_node.text == key:
                return value
        return None


def read_yaml(
    source: str | bytes | Path, file: str | None = None, letter: str = "K", max_bytes: int = KNOWLEDGE_BYTES
) -> tuple[Node | None, list[Problem]]:
    """Read one YAML document into nodes, or say what is wrong with it.

    Args:
        source: the text itself (str or bytes), or a Path to read.
        file: name shown in marks; a path names itself.
        letter: first letter of the problem codes.
        max_bytes: larger texts are refused unread.
    Returns: the root node, or None where there is none; and all problems, in the order of their places.
    """
    name = printable(file if file is not None else str(source) if isinstance(source, Path) else "<text>")
    origin = Origin(name, letter)
    try:
        text = _decode(_fetch(source, max_bytes, origin), origin)
        if _looks_like_json(text):
            origin = Origin(name, letter, is_json=True)
            text = _JSON_PAIR.sub(_join_pair, text)
        composer = _Composer(text, origin)
        root = composer.compose()
    except _Refused as refused:
        return None, [refused.problem]
    if root is None and not composer.problems:
        advice = "Write at least one key, or delete the file."
        composer.problems.append(Problem(Mark(name, 1, 1), letter + "001", "The file is empty", advice))
    return root, composer.problems


class _Refused(Exception):
    """Reading stops here; carries the one problem that explains why."""

    def __init__(self, problem: Problem):
        super().__init__(problem.what)
        self.problem = problem


def _refuse(origin: Origin, place: tuple[int, int], number: str, what: str, write_instead: str) -> _Refused:
    return _Refused(Problem(Mark(origin.file, *place), origin.letter + number, what, write_instead))


def _fetch(source: str | bytes | Path, max_bytes: int, origin: Origin) -> bytes:
    """Get the bytes, never more than allowed."""
    if isinstance(source, Path):
        try:
            content = read_bounded(source, max_bytes)
        except (OSError, ValueError) as error:
            what = f"The file cannot be read: {getattr(error, 'strerror', None) or str(error)}"
            raise _refuse(origin, (0, 0), "001", what, "Give the path of a readable file.") from error
    else:
        content = source.encode("utf-8", "surrogatepass") if isinstance(source, str) else source
    if len(content) > max_bytes:
        what = f"The file is larger than {max_bytes // 1024} KiB"
        raise _refuse(origin, (0, 0), "002", what, "Split it into smaller files.")
    return content


def _decode(content: bytes, origin: Origin) -> str:
    """Read the bytes as UTF-8 and refuse characters that nobody can see."""
    if content.startswith((b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff")):
        advice = 'Save it as "UTF-8", not as "UTF-8 with BOM" or "Unicode".'
        raise _refuse(origin, (1, 1), "003", "The file begins with a byte order mark", advice)
    try:
        text = content.decode("utf-8")
    except UnicodeDecodeError as error:
        place, advice = _place(content[: error.start].decode("utf-8", "replace")), 'Save it with the encoding "UTF-8".'
        raise _refuse(origin, place, "003", "The file is not UTF-8 text", advice) from error
    found = FORBIDDEN.search(text)
    if found:
        what, advice = f"Unprintable character U+{ord(found[0]):04X}", "Delete the character and type the word again."
        raise _refuse(origin, _place(text[: found.start()]), "003", what, advice)
    return text


def _place(before: str) -> tuple[int, int]:
    """Line and column, from 1, of what follows this text."""
    lines = re.split("\r\n|\r|\n", before)
    return len(lines), len(lines[-1]) + 1


def _looks_like_json(text: str) -> bool:
    if not text.lstrip().startswith("{"):
        return False
    try:
        json.loads(text)
    except (ValueError, RecursionError):
        return False
    return True


def _join_pair(found: re.Match[str]) -> str:
    """JSON writes one character above U+FFFF as two escapes; YAML wants the one."""
    character = bytes.fromhex(found[1] + found[2]).decode("utf-16-be")
    return f"\\U{ord(character):08X}"


class _Composer:
    """Builds nodes from parser events, so that depth is checked before anything is nested."""

    def __init__(self, text: str, origin: Origin):
        self.origin = origin
        self.problems: list[Problem] = []
        self.parser = (yaml.CSafeLoader if yaml.__with_libyaml__ else yaml.SafeLoader)(text)
        self.open: list[tuple[Node, dict[str, Node], list[Node]]] = []
        self.root: Node | None = None

    def compose(self) -> Node | None:
        """Give the root node; raises `_Refused` where the text cannot be followed any further."""
        try:
            while True:
                event = self.parser.get_event()
                if type(event) in _STEPS:
                    _STEPS[type(event)](self, event)
                elif isinstance(event, yaml.StreamEndEvent):
                    return self.root
        except yaml.YAMLError as error:
            raise _Refused(_syntax_problem(error, self.origin)) from error
        finally:
            self.parser.dispose()

    def start_document(self, event: yaml.Event) -> None:
        """Allow one document only."""
        if self.root is not None:
            advice = "Keep one document a file: delete the line of dashes and what follows it."
            raise self._stop(event, "009", "A second document begins here", advice)

    def scalar(self, event: yaml.ScalarEvent) -> None:
        """Add a scalar as it was written."""
        node = self._node("scalar", event)
        node.text = event.value
        node.bare = event.style in (None, "")
        if self.origin.is_json and node.bare and JSON_EXPONENT.fullmatch(node.text):
            node.text = plain_number(node.text)
        found = None if node.bare else FORBIDDEN.search(node.text)
        if found:
            what = f"Unprintable character U+{ord(found[0]):04X} in a quoted text"
            raise self._stop(event, "003", what, "Take the escape out.")
        self._add(node)

    def begin(self, event: yaml.Event) -> None:
        """Open a list or a mapping."""
        node = self._node("list" if isinstance(event, yaml.SequenceStartEvent) else "mapping", event)
        if len(self.open) >= MAX_DEPTH:
            raise self._stop(event, "008", f"Nested deeper than {MAX_DEPTH} levels", "Write it flatter.")
        self._add(node)
        self.open.append((node, {}, []))

    def end(self, event: yaml.Event) -> None:
        """Close the list or mapping opened last."""
        self.open.pop()

    def alias(self, event: yaml.Event) -> None:
        """Refuse an alias: it can make a small file enormous."""
        raise self._stop(event, "006", "An alias (*) stands here", "Write the text out in full.")

    def _node(self, kind: str, event: yaml.Event) -> Node:
        mark = event.start_mark
        if event.anchor is not None:
            advice = "Write the text out in full; put text that begins with & in quotes."
            raise self._stop(event, "006", f"An anchor (&{event.anchor}) stands here", advice)
        if event.tag is not None:
            advice = "Leave it out; put text that begins with ! in quotes."
            raise self._stop(event, "007", f"A tag ({event.tag}) stands here", advice)
        return Node(kind, self.origin, mark.line + 1, mark.column + 1)

    def _add(self, node: Node) -> None:
        """Put the node where it belongs: root, list member, key or value."""
        if not self.open:
            self.root = node
            return
        parent, seen, waiting_key = self.open[-1]
        if parent.kind == "list":
            parent.items.append(node)
        elif waiting_key:
            parent.pairs.append((waiting_key.pop(), node))
        else:
            self._check_key(node, seen)
            waiting_key.append(node)

    def _check_key(self, key: Node, seen: dict[str, Node]) -> None:
        """Refuse keys that are no words, merges, and keys written twice."""
        if key.kind != "scalar":
            number, what = "013", f"A {key.kind} stands where a key should"
            advice = "Write a word and a colon; put text that begins with { or [ in quotes."
        elif key.bare and key.text == "<<":
            number, what, advice = "006", "A merge key (<<) stands here", "Write the keys out in full."
        elif key.text in seen:
            number, what = "005", f'The key "{key.text}" stands here a second time'
            advice = f"Keep one of the two; the first is in line {seen[key.text].line}."
        else:
            seen[key.text] = key
            return
        self.problems.append(Problem(key.mark, self.origin.letter + number, what, advice))

    def _stop(self, event: yaml.Event, number: str, what: str, write_instead: str) -> _Refused:
        mark = event.start_mark
        return _refuse(self.origin, (mark.line + 1, mark.column + 1), number, what, write_instead)


_STEPS = {
    yaml.DocumentStartEvent: _Composer.start_document,
    yaml.ScalarEvent: _Composer.scalar,
    yaml.SequenceStartEvent: _Composer.begin,
    yaml.SequenceEndEvent: _Composer.end,
    yaml.MappingStartEvent: _Composer.begin,
    yaml.MappingEndEvent: _Composer.end,
    yaml.AliasEvent: _Composer.alias,
}


def plain_number(text: str) -> str:
    """Write a JSON number with an exponent without one, where that is possible."""
    value = float(text)
    return str(int(value)) if abs(value) < 1e15 and value == int(value) else f"{value:f}".rstrip("0")


_SYNTAX_ADVICE = (
    ("tab character", "Indent with spaces, not tabs."),
    ("nesting depth", "Write it flatter."),
    ("cannot start any token", "Indent with spaces, not tabs; put text that begins with %, @ or ` in quotes."),
    ("mapping values are not allowed", 'Put text that has ": " in it in quotes, and check the indentation.'),
    ("could not find expected ':'", "Write a colon and a space after the key, and check the indentation."),
    ("did not find expected key", "Check the indentation of this line and the one before; close every quote."),
    ("did not find expected '-' indicator", "Begin each member of the list with a dash, all in one column."),
    ("did not find expected ',' or", "Close the bracket, and separate its members with commas."),
    ("end of stream", "Close the quote or bracket that was opened."),
    ("unknown escape", r"Use single quotes, or write \\ for one backslash."),
)


def _syntax_problem(error: yaml.YAMLError, origin: Origin) -> Problem:
    """Tell a parser's complaint as a problem with its place and what to try."""
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    said = str(getattr(error, "problem", None) or getattr(error, "reason", None) or error)
    place = Mark(origin.file, mark.line + 1, mark.column + 1) if mark else Mark(origin.file)
    advice = [text for part, text in _SYNTAX_ADVICE if part in said] or ["Check quotes, brackets and indentation here."]
    return Problem(place, origin.letter + "004", f"This is not YAML: {said}", advice[0])
