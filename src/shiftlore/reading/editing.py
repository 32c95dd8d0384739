"""Change values of a YAML text and leave all else as a person wrote it: order, comments, empty lines, quotes.

The text is taken apart and put together by a library that keeps comments. It hangs the lines of comment before a key on
what stands above them; here they stay with the key below.
"""

import io
import json
import re
from collections.abc import Callable, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

import yaml
from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.compat import ordereddict
from ruamel.yaml.error import CommentMark, YAMLError
from ruamel.yaml.resolver import VersionedResolver
from ruamel.yaml.tokens import CommentToken

from shiftlore.reading.nodes import Node, read_yaml
from shiftlore.reading.scalars import bare_number

_COMMENT = re.compile(r"(?:^|(?<=\s))#.*$")
_DASH = re.compile(r"^( *)[^\s#-][^\n]*:[ \t]*(?:#[^\n]*)?\n(?: *(?:#[^\n]*)?\n)*( *)- ", re.MULTILINE)
_BELOW = re.compile(r"^[^\s#-][^\n]*:[ \t]*(?:#[^\n]*)?\n(?: *(?:#[^\n]*)?\n)*( +)[^\s#-]", re.MULTILINE)
_BEHIND, _ABOVE = 2, 1
"""Where the library keeps a comment behind a value of a mapping, and one above its key."""


def set_value(text: str, path: Sequence[str], value: str | None) -> str:
    """Give the text with one value changed, added, or taken out.

    Args:
        text: a readable document, or nothing yet.
        path: keys from the outermost to the value's own; mappings on the way are made where they are missing.
        value: as it shall be written, on one line; None takes key and value out.
    Raises: ValueError: it cannot be read, stands in braces as a whole, or has no mapping on the way.
    Example:
        >>> set_value("a: 1  # one\\nb: {c: 2}\\n", ["a"], "3")
        'a: 3  # one\\nb: {c: 2}\\n'
    """
    root = _load(text)
    if root.fa.flow_style():
        raise ValueError("it is written in braces")
    mapping = root
    for key in path[:-1]:
        if not isinstance(mapping.get(key), CommentedMap) or not mapping[key]:
            if mapping.get(key):
                raise ValueError(f"{key} is no mapping")
            if value is None:
                return text
            _put(mapping, key, CommentedMap())
        mapping = mapping[key]
    if value is not None:
        _put(mapping, path[-1], _load(f"value: {value}\n")["value"])
    elif path[-1] in mapping:
        _take(mapping, path[-1])
    return _dump(root, text)


def carry_over(text: str, before: str, after: str, same: Callable[[str], str] = str) -> str:
    """Change in a text what one document has changed from another; no comment is lost.

    Args:
        text: what a person wrote, perhaps since; YAML or JSON.
        before, after: the documents, both a mapping in block style.
        same: gives the one name of keys that mean the same.
    Raises: ValueError: the text cannot be taken apart.
    """
    if text.lstrip().startswith("{"):
        return render_as_json(after, indent=2) + "\n"
    root, old, new = _load(text), _load(before), _load(after)
    _carry(root, old, new, same)
    made = _dump(root, text)
    lost = _list_comments(text)
    for comment in _list_comments(made):
        if comment in lost:
            lost.remove(comment)
    return made + "".join(f"{comment}\n" for comment in lost)


def render_as_json(text: str, indent: int | None = None) -> str:
    """Write a document that was rendered here as JSON; yes and no stay words.

    Example:
        >>> render_as_json("a: [yes, 1.5]\\n")
        '{"a": ["yes", 1.5]}'
    """
    node, problems = read_yaml(text)
    assert node is not None and not problems, "it was rendered here"
    return json.dumps(_as_json(node), ensure_ascii=False, indent=indent)


class _AsWritten(VersionedResolver):
    """Takes every scalar as the text that was written, so that none is written otherwise."""

    @property
    def versioned_resolver(self) -> Mapping[str, Any]:
        """Give no form that would be a number or another value."""
        return {}


def _library(text: str) -> YAML:
    """Set the library up to write as the text is written."""
    library = YAML()
    library.Resolver = _AsWritten
    library.preserve_quotes = True
    library.width = 1_000_000
    dash, below = _DASH.search(text), _BELOW.search(text)
    offset = len(dash[2]) - len(dash[1]) if dash else 0
    library.indent(mapping=len(below[1]) if below else 2, sequence=offset + 2, offset=offset)
    return library


def _load(text: str) -> CommentedMap:
    try:
        root = _library(text).load(text) if text.strip() else None
    except (YAMLError, RecursionError) as error:
        raise ValueError("it has problems of its own") from error
    if root is None:
        root = CommentedMap()
        if text.strip():
            root.ca.comment = [None, [CommentToken(text.rstrip("\n") + "\n", CommentMark(0))]]
    if not isinstance(root, CommentedMap):
        raise ValueError("it is no mapping")
    return root


def _dump(root: CommentedMap, text: str) -> str:
    stream = io.StringIO()
    if root:
        _library(text).dump(root, stream)
    return stream.getvalue()


def _carry(target: CommentedMap, old: Mapping[str, Any], new: Mapping[str, Any], same: Callable[[str], str]) -> None:
    """Change in one mapping what `new` has changed from `old`."""
    names = {same(key): key for key in target}
    for key in old:
        if key not in new and same(key) in names:
            _take(target, names.pop(same(key)))
    above = None
    for key, value in new.items():
        name = names.get(same(key), key)
        if key not in old or old[key] != value or type(old[key]) is not type(value):
            here, was = target.get(name), old.get(key)
            if isinstance(here, CommentedMap) and isinstance(value, Mapping) and isinstance(was, Mapping) and here:
                _carry(here, was, value, same)
            elif isinstance(here, CommentedSeq) and isinstance(value, list) and isinstance(was, list) and here:
                _carry_list(here, was, value)
            else:
                _put(target, name, value, above)
        above = name if name in target else above


def _carry_list(target: CommentedSeq, old: list[Any], new: list[Any]) -> None:
    """Change in a list what `new` has changed from `old`: in its place where the list is still `old`, else at the end."""
    if list(target) != old:
        for item in [one for one in target if one in old and one not in new]:
            target.remove(item)
        target.extend(one for one in new if one not in old and one not in target)
        return
    for what, begin, end, first, last in reversed(SequenceMatcher(None, _told(old), _told(new)).get_opcodes()):
        if what != "equal":
            tail = _cut_tail(target, len(target) - 1) if end == len(target) else ""
            del target[begin:end]
            for place, item in enumerate(new[first:last], begin):
                target.insert(place, item)
            if tail and target:
                _hang(target, len(target) - 1, tail)


def _told(items: list[Any]) -> list[str]:
    return [repr(item) for item in items]


def _put(mapping: CommentedMap, key: str, value: Any, above: str | None = None) -> None:
    """Set a value; a new key goes below `above`, or last, before the comments of what follows."""
    if key in mapping:
        tail = _cut_tail(mapping, key)
        ordereddict.__setitem__(mapping, key, value)  # its own way keeps the old value's quotes
    else:
        keys = list(mapping)
        above = above if above in mapping else keys[-1] if keys else None
        tail = _cut_tail(mapping, above) if above is not None else ""
        mapping.insert(keys.index(above) + 1 if above is not None else 0, key, value)
    if tail:
        _hang(mapping, key, tail)


def _take(mapping: CommentedMap, key: str) -> None:
    """Take a key out; the comments of what follows stay."""
    keys, tail = list(mapping), _cut_tail(mapping, key)
    place = keys.index(key)
    del mapping[key]
    mapping.ca.items.pop(key, None)
    if tail and place > 0:
        _hang(mapping, keys[place - 1], tail)
    elif tail and len(keys) > 1:
        mapping.ca.items.setdefault(keys[1], [None] * 4)[_ABOVE] = [CommentToken(tail, CommentMark(0))]


def _last_token(parent: Any, key: Any) -> tuple[Any, Any]:
    """Find where the library hangs what follows a value: its holder, and the value's key there."""
    value = parent[key]
    if isinstance(value, CommentedMap | CommentedSeq) and value and not value.fa.flow_style():
        return _last_token(value, next(reversed(value)) if isinstance(value, CommentedMap) else len(value) - 1)
    return parent, key


def _cut_tail(parent: Any, key: Any) -> str:
    """Take the lines of comment below a value from it; one behind it stays."""
    tail = ""
    value = parent[key]
    if isinstance(value, CommentedSeq | CommentedMap) and value.ca.end:
        if value.fa.flow_style() and isinstance(parent, CommentedMap):  # behind the bracket
            parent.ca.items.setdefault(key, [None] * 4)[_BEHIND] = value.ca.end.pop(0)
        tail = "".join(" " * token.column + token.value for token in value.ca.end)
        value.ca.end = []
    holder, last = _last_token(parent, key)
    comments = holder.ca.items.get(last)
    index = _BEHIND if isinstance(holder, CommentedMap) else 0
    if comments and comments[index] is not None:
        behind, _, below = comments[index].value.partition("\n")
        comments[index] = CommentToken(behind + "\n", comments[index].start_mark) if behind else None
        tail = below + tail
    return tail


def _hang(parent: Any, key: Any, tail: str) -> None:
    """Hang lines of comment below a value."""
    holder, last = _last_token(parent, key)
    index = _BEHIND if isinstance(holder, CommentedMap) else 0
    comments = holder.ca.items.setdefault(last, [None] * 4)
    behind = comments[index].value if comments[index] is not None else "\n"
    mark = comments[index].start_mark if comments[index] is not None else CommentMark(0)
    comments[index] = CommentToken(behind + tail, mark)


def _list_comments(text: str) -> list[str]:
    """List the comments of a text, as a reader that knows quotes sees them."""
    masked = list(text)
    for token in yaml.scan(text, Loader=yaml.CSafeLoader if yaml.__with_libyaml__ else yaml.SafeLoader):
        if isinstance(token, yaml.ScalarToken):
            begin, end = token.start_mark.index, token.end_mark.index
            masked[begin:end] = [letter if letter == "\n" else "_" for letter in masked[begin:end]]
    places = (
        (line, _COMMENT.search(shown))
        for line, shown in zip(text.split("\n"), "".join(masked).split("\n"), strict=True)
    )
    return [line[found.start() :].rstrip() for line, found in places if found]


def _as_json(node: Node) -> Any:
    """Give a node as JSON has it; yes and no stay words."""
    if node.kind == "mapping":
        return {key.text: _as_json(value) for key, value in node.pairs}
    if node.kind == "list":
        return [_as_json(item) for item in node.items]
    return None if node.is_null else bare_number(node) if bare_number(node) is not None else node.text
