"""Find the knowledge's files, and take what was read of these very bytes before.

The cache is a JSON file named by a hash of every knowledge file's bytes, the version and this program's
own reading code. It is never trusted over the files: another byte in any of them is another name. A cache
that is damaged, holds what no file could say, belongs to somebody else or may be written by others, is a link, or cannot be
written is passed over without a word.
`SHIFTLORE_CACHE=off` switches it off.

Records become plain JSON values and come back guided by their own annotations. Marks become indexes into a list of file
names, and strengths indexes into a list of strengths, because thousands of them are equal.
"""

import contextlib
import gc
import hashlib
import json
import os
import re
import stat
import typing
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from pathlib import Path
from typing import Any

from shiftlore.basics.problems import Mark, Problem
from shiftlore.basics.quantities import MOST
from shiftlore.basics.whole_files import read_bounded
from shiftlore.knowledge.records import Strength
from shiftlore.knowledge.rulebook import Knowledge
from shiftlore.version import __version__

# Folder -> key of the list in its files; None where a file is one record.
FOLDERS = {
    "causes": None, "states": "states", "findings": "findings", "codes": "codes", "checks": "checks", "jobs": "jobs",
    "units": None, "textbook": None, "language": None, "sayings": None, "retired": None,
}  # fmt: skip
# File in the knowledge folder itself -> key of its list; None where the file is one record.
FILES = {
    "words.yaml": None, "shop.yaml": None, "areas.yaml": "areas", "backgrounds.yaml": "backgrounds",
    "access.yaml": "access", "follow_ups.yaml": "follow_ups", "cautions.yaml": "cautions", "prices.yaml": "prices",
}  # fmt: skip
# Words of the owner's page: read by `phrases` alone, when a page is asked for.
PHRASES_FOLDER = "phrases"

SHOP_PLACE = "SHIFTLORE_SHOP"
"""Name of the environment variable that may hold another place of the user's own shop file."""

_Convert = Callable[[Any], Any]
Record = typing.TypeVar("Record")

_KEPT = 6
_LARGEST = 1 << 20  # more is refused by the reader, which is not imported for it
_OWN_MODE = 0o600
_OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
_LARGEST_CACHE = 1 << 27
_BEGINS = re.compile(rb"^\s*- \{?\s*id: *([\w-]+)", re.MULTILINE)
_KEPT_FIELDS = {one.name: one.type for one in fields(Knowledge) if one.name not in ("places", "worked_out")}
_DAMAGED = (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError, OSError)
_CODE_ROOMS = ("knowledge", "sheets", "reading")


@dataclass(frozen=True, slots=True)
class KnowledgeFile:
    """One file to read.

    Args:
        kind: folder name, or file name without its ending: what it holds.
        list_key: key of the list of records in it, or None where the file is one record.
        name: path below the knowledge folder, as shown in marks.
        content: its bytes, or None where it could not be read.
    """

    kind: str
    list_key: str | None
    name: str
    path: Path
    content: bytes | None


def find_knowledge() -> Path:
    """Give the folder that came with the program: inside the installed package, or beside `src`."""
    packaged = Path(__file__).resolve().parents[1] / "_knowledge"
    return packaged if packaged.is_dir() else Path(__file__).resolve().parents[3] / "knowledge"


def find_own_shop() -> Path | None:
    """Say where the user's own shop file is looked for: where `SHIFTLORE_SHOP` says, or in the folder for settings.

    Returns: its place, or None where there is neither a home nor a folder for settings.
    """
    if named := os.environ.get(SHOP_PLACE):
        return Path(named).expanduser()
    folder = _find_own_folder("XDG_CONFIG_HOME", "APPDATA", ".config")
    return folder / "shop.yaml" if folder else None


def find_data_folder() -> Path | None:
    """Say where what the user's own shop gathers is kept; None where there is neither a home nor a folder for it."""
    return _find_own_folder("XDG_DATA_HOME", "LOCALAPPDATA", ".local/share")


def _find_own_folder(setting: str, windows: str, below_home: str) -> Path | None:
    """Find the program's own folder in one of the user's; the variables that may name that one, and where it else is."""
    base = os.environ.get(setting) or os.environ.get(windows, "")
    home = _find_home()
    folder = Path(base) if os.path.isabs(base) else home / below_home if home else None
    return folder / "shiftlore" if folder else None


def _find_home() -> Path | None:
    """Find the user's home; an empty setting is none, and not the root of the system."""
    try:
        return Path.home() if os.environ.get("HOME", "unset") else None
    except RuntimeError:
        return None


def collect_files(folder: Path) -> tuple[list[KnowledgeFile], list[Problem]]:
    """Read the bytes of every knowledge file, in the order of their names.

    Returns: the files; and a problem for each YAML file that stands where nothing reads it.
    """
    if not folder.is_dir():
        advice = "Give the path of a folder that has causes, states and findings in it."
        return [], [Problem(Mark(str(folder)), "K001", "There is no such knowledge folder", advice)]
    files, problems = [], []
    for name in _yaml_names(str(folder), ""):
        kind = _kind_of(name)
        if kind is None:
            problems.append(_stray(name))
        else:
            files.append(KnowledgeFile(*kind, name, folder / name, _bytes_of(folder / name)))
    return files, problems


def list_ids(folder: Path, kinds: Iterable[str]) -> list[str]:
    """Name the records of some kinds, cheaply: by the names of their files, or by the lines that begin a record.

    Args:
        kinds: such as `causes`, `jobs` or `access`, as in `FOLDERS` and `FILES`.
    Returns: ids, sorted; none where there is no such folder.
    """
    wanted, found = set(kinds), set[str]()
    for name in _yaml_names(str(folder), "") if folder.is_dir() else ():
        kind = _kind_of(name)
        if kind is None or kind[0] not in wanted:
            continue
        content = None if kind[1] is None else _bytes_of(folder / name)
        found |= {Path(name).stem} if kind[1] is None else {it.decode() for it in _BEGINS.findall(content or b"")}
    return sorted(found)


def _yaml_names(folder: str, below: str) -> Iterator[str]:
    """Name every YAML file below the folder; names that begin with a dot or underscore are passed over."""
    with os.scandir(folder) as entries:
        members = sorted(entries, key=lambda entry: entry.name)
    for entry in members:
        if entry.name.startswith((".", "_")) or (not below and entry.name == PHRASES_FOLDER):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from _yaml_names(entry.path, f"{below}{entry.name}/")
        elif entry.name.endswith((".yaml", ".yml")):
            yield below + entry.name


def _kind_of(name: str) -> tuple[str, str | None] | None:
    first = name.split("/")[0]
    known = FILES if first == name else FOLDERS
    return (first.removesuffix(".yaml"), known[first]) if name.endswith(".yaml") and first in known else None


def _stray(name: str) -> Problem:
    from shiftlore.reading import known_words  # only where something is wrong: it brings the YAML parser

    if name.endswith(".yml"):
        return Problem(Mark(name), "K030", "Nothing reads a file that ends in .yml", "Rename it to end in .yaml.")
    known = [*FILES, *(f"{folder}/" for folder in FOLDERS)]
    first = name.split("/")[0] + ("/" if "/" in name else "")
    return Problem(Mark(name), "K030", "Nothing reads a file of this name or in this folder", known_words(first, known))


def _bytes_of(path: Path) -> bytes | None:
    with contextlib.suppress(OSError):
        return read_bounded(path, _LARGEST)
    return None


def load_cached(mark: str) -> Knowledge | None:
    """Give the knowledge that was read from these very bytes before, or None.

    Args:
        mark: as `hash_files` gives it.
    """
    try:
        body = read_kept(f"{mark}.json")
        return None if body is None else _decode_at_rest(body)
    except _DAMAGED:
        return None


def save_cached(mark: str, knowledge: Knowledge) -> None:
    """Write the knowledge beside others, whole or not at all; failing is no error."""
    with contextlib.suppress(*_DAMAGED):
        body = json.dumps(encode_knowledge(knowledge), separators=(",", ":"), ensure_ascii=False).encode()
        write_kept(f"{mark}.json", body, _KEPT)


def read_kept(name: str) -> bytes | None:
    """Give what was kept in the cache under a name; None where it is not there, or is damaged or not ours alone."""
    folder = cache_folder()
    if folder is None:
        return None
    try:
        checksum, body = read_owned(folder / name).split(b"\n", 1)
    except _DAMAGED:
        return None
    return body if checksum == _checksum(body) else None


def write_kept(name: str, body: bytes, most: int) -> None:
    """Keep something in the cache, whole or not at all, for its owner alone; failing is no error.

    Args:
        most: so many of the same ending are kept, the newest.
    """
    from shiftlore.basics.whole_files import write_whole  # a warm start writes nothing

    folder = cache_folder()
    if folder is None:
        return
    with contextlib.suppress(*_DAMAGED):
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _refuse_foreign(folder.lstat(), stat.S_ISDIR)
        write_whole(folder / name, _checksum(body) + b"\n" + body, _OWN_MODE)
        alike = folder.glob(f"*{Path(name).suffix}")
        for path in sorted(alike, key=lambda path: path.stat().st_mtime, reverse=True)[most:]:
            path.unlink(missing_ok=True)


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no number")


def _decode_at_rest(body: bytes) -> Knowledge:
    """Keep the garbage collector from walking tens of thousands of new records again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        return decode_knowledge(json.loads(body, parse_constant=_refuse_constant))
    finally:
        if was_on:
            gc.enable()


def cache_folder() -> Path | None:
    """Find the user's cache folder, or None where the cache is off or there is no home."""
    if os.environ.get("SHIFTLORE_CACHE", "").lower() in ("off", "no", "0"):
        return None
    base = os.environ.get("XDG_CACHE_HOME", "")
    if os.path.isabs(base):
        return Path(base) / "shiftlore"
    home = _find_home()
    return home / ".cache" / "shiftlore" if home else None


def hash_files(files: Iterable[KnowledgeFile]) -> str:
    """Hash names and bytes of the files, the version, and the age of the reading code."""
    digest = hashlib.blake2b(f"{__version__}\0{code_age(*_CODE_ROOMS)}".encode(), digest_size=20)
    for file in files:
        content = b"" if file.content is None else file.content
        digest.update(f"\0{file.name}\0{len(content)}\0".encode("utf-8", "surrogateescape"))
        digest.update(content)
    return digest.hexdigest()


def code_age(*rooms: str) -> str:
    """Tell one state of the code in some rooms from the next, for those who change it."""
    marks = []
    for room in rooms:
        with contextlib.suppress(OSError), os.scandir(Path(__file__).parents[1] / room) as entries:
            for entry in entries:
                if entry.name.endswith(".py"):
                    stat = entry.stat()
                    marks.append(f"{entry.name}:{stat.st_mtime_ns}:{stat.st_size}")
    return ",".join(sorted(marks))


def hash_text(*texts: str) -> str:
    """Hash texts to a short name."""
    return hashlib.blake2b("\0".join(texts).encode("utf-8", "surrogateescape"), digest_size=10).hexdigest()


def _checksum(body: bytes) -> bytes:
    return hashlib.blake2b(body, digest_size=20).hexdigest().encode()


def read_owned(path: Path) -> bytes:
    """Read a file of one's own cache.

    Raises: ValueError, OSError: it or its folder is somebody else's, a link, a pipe, or may be written by others.
    """
    _refuse_foreign(path.parent.lstat(), stat.S_ISDIR)
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(handle, "rb") as stream:
        _refuse_foreign(os.fstat(handle), stat.S_ISREG)
        return stream.read(_LARGEST_CACHE)


def _refuse_foreign(found: os.stat_result, is_kind: Callable[[int], bool]) -> None:
    """Refuse what is of another kind, belongs to somebody else, or may be written by others."""
    if not is_kind(found.st_mode):
        raise ValueError("no ordinary file or folder")
    if hasattr(os, "getuid") and (found.st_uid != os.getuid() or found.st_mode & _OTHERS_MAY_WRITE):
        raise ValueError("not ours alone")


def encode_knowledge(knowledge: Knowledge) -> dict[str, Any]:
    """Give the knowledge as JSON values; the places of single words are left out."""
    encoder = _Encoder()
    body = {name: encoder.encode(getattr(knowledge, name)) for name in _KEPT_FIELDS}
    return {"files": list(encoder.files), "strengths": [*map(list, encoder.strengths)], "knowledge": body}


def decode_knowledge(values: Mapping[str, Any]) -> Knowledge:
    """Build the knowledge from what `encode_knowledge` gave.

    Raises: ValueError, TypeError, KeyError or IndexError where the values are something else.
    """
    decoder = _Decoder(values["files"], values["strengths"])
    kept = values["knowledge"]
    return Knowledge(**{name: decoder.converter(wanted)(kept[name]) for name, wanted in _KEPT_FIELDS.items()})


def encode_record(record: Any) -> dict[str, Any]:
    """Give one record, with all that is in it, as JSON values."""
    encoder = _Encoder()
    body = encoder.encode(record)
    return {"files": list(encoder.files), "strengths": [*map(list, encoder.strengths)], "record": body}


def decode_record(wanted: type[Record], values: Mapping[str, Any]) -> Record:
    """Build a record from what `encode_record` gave.

    Raises: ValueError, TypeError, KeyError or IndexError where the values are something else.
    """
    found: Record = _Decoder(values["files"], values["strengths"]).converter(wanted)(values["record"])
    return found


class _Encoder:
    """Writes records as lists of their field values."""

    def __init__(self) -> None:
        self.files: dict[str, int] = {}
        self.strengths: dict[tuple[float, float, str | None], int] = {}

    def encode(self, value: Any) -> Any:
        """Give one value as JSON."""
        if isinstance(value, Mark):
            return [self.files.setdefault(value.file, len(self.files)), value.line, value.column]
        if isinstance(value, Strength):
            return self.strengths.setdefault((value.p, value.weight, value.word), len(self.strengths))
        if is_dataclass(value):
            return [self.encode(getattr(value, field.name)) for field in fields(value)]
        if isinstance(value, Mapping):
            if any(isinstance(key, tuple) for key in value):
                return [[*key, self.encode(member)] for key, member in value.items()]
            return {key: self.encode(member) for key, member in value.items()}
        if isinstance(value, frozenset):
            return sorted(value)
        return [self.encode(member) for member in value] if isinstance(value, tuple | list) else value


def _check_plain(wanted: Any, least: float = 0, most: float = MOST) -> _Convert:
    """Give what lets a value of one plain type through and raises for any other, and for a number out of its range."""

    def check(value: Any) -> Any:
        if type(value) is not wanted:
            raise TypeError(f"no {wanted.__name__}")
        return value

    def check_number(value: Any) -> Any:
        if not least <= value <= most or (type(value) is not wanted and type(value) is not int):
            raise TypeError("no number that may stand here")
        return value

    return check_number if wanted in (int, float) else check


def _listed(values: Any, count: int | None = None) -> list[Any]:
    """Let a list through, of so many members where that is given."""
    if type(values) is not list or count not in (None, len(values)):
        raise TypeError("no list")
    return values


def _strings(values: Any) -> list[str]:
    """Let a list of strings through: at once, as nearly all that is kept stands in one."""
    if not {*map(type, _listed(values))} <= {str}:
        raise TypeError("no list of strings")
    return values


class _Decoder:
    """Makes one converter per annotation."""

    def __init__(self, files: list[str], strengths: list[list[Any]]):
        self.files = _strings(files)
        self.known: dict[Any, _Convert] = {Mark: self._mark, object: lambda value: value}
        self.strengths = [*map(self._make_record(Strength), _listed(strengths))]
        self.known[Strength] = self._strength

    def converter(self, wanted: Any) -> _Convert:
        """Give the converter for an annotation."""
        if wanted not in self.known:
            self.known[wanted] = self._make(wanted)
        return self.known[wanted]

    def _mark(self, value: list[int]) -> Mark:
        file, line, column = value
        if file < 0 or not (type(line) is type(column) is int and 0 <= line <= MOST and 0 <= column <= MOST):
            raise TypeError("no place")
        return Mark(self.files[file], line, column)

    def _strength(self, index: int) -> Strength:
        found: Strength = self.strengths[index]
        if index < 0 or not found.weight:
            raise ValueError("no strength")
        return found

    def _make(self, wanted: Any) -> _Convert:
        origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
        if not arguments:
            return self._make_record(wanted) if is_dataclass(wanted) else _check_plain(wanted)
        if origin is typing.Annotated:
            return _check_plain(arguments[0], *arguments[1])
        is_mapping = isinstance(origin, type) and issubclass(origin, Mapping)
        inner = self.converter(arguments[1] if is_mapping else next(one for one in arguments if one is not type(None)))
        if arguments in ((str,), (str, ...)):
            return lambda values: origin(_strings(values))
        if origin is tuple:
            count = None if arguments[1:] == (...,) else len(arguments)
            return lambda values: tuple(map(inner, _listed(values, count)))
        if is_mapping and typing.get_origin(arguments[0]) is tuple:
            return lambda values: {tuple(_strings(key)): inner(member) for *key, member in values}
        if is_mapping:
            return lambda values: {key: inner(member) for key, member in values.items()}
        return lambda value: None if value is None else inner(value)

    def _make_record(self, wanted: Any) -> _Convert:
        """Convert every field, then build the record."""
        steps = [self.converter(field.type) for field in fields(wanted)]

        def build(values: list[Any]) -> Any:
            """Turn the field values into the record."""
            return wanted(*[convert(value) for convert, value in zip(steps, _listed(values), strict=True)])

        return build
