"""Keep what was read, so that the next start need not parse thousands of lines again.

The cache is a JSON file named by a hash of every knowledge file's bytes, the version and this program's
own reading code. It is never trusted over the files: another byte in any of them is another name. A cache
that is damaged, belongs to somebody else, or cannot be written is passed over without a word.
`SHIFTLORE_CACHE=off` switches it off.

Records become plain JSON values and come back guided by their own annotations. Marks become indexes into a list of file
names, and strengths indexes into a list of strengths, because thousands of them are equal.
"""

import contextlib
import gc
import hashlib
import json
import os
import types
import typing
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

from shiftlore.basics.problems import Mark
from shiftlore.knowledge.folders import KnowledgeFile
from shiftlore.knowledge.records import Knowledge, Strength
from shiftlore.sheets import UnitSheet
from shiftlore.version import __version__

_Convert = Callable[[Any], Any]

_KEPT = 6
_OWN_MODE = 0o600
_LEFT_OUT = ("places", "worked_out")
_DAMAGED = (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError, OSError)
_CODE_FOLDERS = tuple(Path(__file__).parents[1] / room for room in ("knowledge", "sheets", "reading"))


def load_cached(files: Iterable[KnowledgeFile]) -> Knowledge | None:
    """Give the knowledge that was read from these very bytes before, or None."""
    folder = _cache_folder()
    if folder is None:
        return None
    try:
        path = folder / f"{_hash_files(files)}.json"
        checksum, body = _owned_bytes(path).split(b"\n", 1)
        if checksum != _checksum(body):
            return None
        with _collector_at_rest():
            return decode_knowledge(json.loads(body))
    except _DAMAGED:
        return None


def save_cached(files: Iterable[KnowledgeFile], knowledge: Knowledge) -> None:
    """Write the knowledge beside others, whole or not at all; failing is no error."""
    from shiftlore.basics.whole_files import write_whole  # a warm start writes nothing

    folder = _cache_folder()
    if folder is None:
        return
    with contextlib.suppress(*_DAMAGED):
        body = json.dumps(encode_knowledge(knowledge), separators=(",", ":"), ensure_ascii=False).encode()
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        write_whole(folder / f"{_hash_files(files)}.json", _checksum(body) + b"\n" + body, _OWN_MODE)
        _drop_oldest(folder)


@contextlib.contextmanager
def _collector_at_rest() -> Iterator[None]:
    """Keep the garbage collector from walking tens of thousands of new records again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def _cache_folder() -> Path | None:
    """Find the user's cache folder, or None where the cache is off or there is no home."""
    if os.environ.get("SHIFTLORE_CACHE", "").lower() in ("off", "no", "0"):
        return None
    base = os.environ.get("XDG_CACHE_HOME", "")
    if os.path.isabs(base):
        return Path(base) / "shiftlore"
    try:
        return Path.home() / ".cache" / "shiftlore"
    except RuntimeError:
        return None


def _hash_files(files: Iterable[KnowledgeFile]) -> str:
    """Hash names and bytes of the files, the version, and the age of the reading code."""
    digest = hashlib.blake2b(f"{__version__}\0{_code_age()}".encode(), digest_size=20)
    for file in files:
        content = b"" if file.content is None else file.content
        digest.update(f"\0{file.name}\0{len(content)}\0".encode("utf-8", "surrogateescape"))
        digest.update(content)
    return digest.hexdigest()


def _code_age() -> str:
    """Tell one state of the reading code from the next, for those who change it."""
    marks = []
    for folder in _CODE_FOLDERS:
        with contextlib.suppress(OSError), os.scandir(folder) as entries:
            for entry in entries:
                if entry.name.endswith(".py"):
                    stat = entry.stat()
                    marks.append(f"{entry.name}:{stat.st_mtime_ns}:{stat.st_size}")
    return ",".join(sorted(marks))


def _checksum(body: bytes) -> bytes:
    return hashlib.blake2b(body, digest_size=20).hexdigest().encode()


def _owned_bytes(path: Path) -> bytes:
    """Read a file of one's own; somebody else's raises."""
    with path.open("rb") as stream:
        if hasattr(os, "getuid") and os.fstat(stream.fileno()).st_uid != os.getuid():
            raise ValueError("not ours")
        return stream.read()


def _drop_oldest(folder: Path) -> None:
    """Keep the newest few."""
    caches = sorted(folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in caches[_KEPT:]:
        path.unlink(missing_ok=True)


def encode_knowledge(knowledge: Knowledge) -> dict[str, Any]:
    """Give the knowledge as JSON values; the places of single words are left out."""
    encoder = _Encoder()
    body = {
        field.name: encoder.encode(getattr(knowledge, field.name))
        for field in fields(Knowledge)
        if field.name not in _LEFT_OUT
    }
    return {"files": list(encoder.files), "strengths": list(encoder.strengths), "knowledge": body}


def decode_knowledge(values: Mapping[str, Any]) -> Knowledge:
    """Build the knowledge from what `encode_knowledge` gave.

    Raises: ValueError, TypeError, KeyError or IndexError where the values are something else.
    """
    decoder = _Decoder(values["files"], [Strength(*each) for each in values["strengths"]])
    body = values["knowledge"]
    parts = {}
    for field in fields(Knowledge):
        if field.name not in _LEFT_OUT:
            wanted = Mapping[str, UnitSheet] if field.name == "sheets" else field.type
            convert = decoder.converter(wanted)
            value = body[field.name]
            parts[field.name] = value if convert is None else convert(value)
    return Knowledge(**parts)


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
            return {key: self.encode(member) for key, member in value.items()}
        if isinstance(value, frozenset):
            return sorted(value)
        return [self.encode(member) for member in value] if isinstance(value, tuple | list) else value


class _Decoder:
    """Makes one converter per annotation; None stands for "take it as it is"."""

    def __init__(self, files: list[str], strengths: list[Strength]):
        self.files = files
        self.strengths = strengths
        self.known: dict[Any, _Convert | None] = {Mark: self._mark, Strength: strengths.__getitem__}

    def converter(self, wanted: Any) -> _Convert | None:
        """Give the converter for an annotation."""
        if wanted not in self.known:
            self.known[wanted] = self._make(wanted)
        return self.known[wanted]

    def _mark(self, value: list[int]) -> Mark:
        return Mark(self.files[value[0]], value[1], value[2])

    def _make(self, wanted: Any) -> _Convert | None:
        origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
        if origin is types.UnionType or origin is typing.Union:
            inner = self.converter(next(part for part in arguments if part is not type(None)))
            return None if inner is None else _unless_none(inner)
        if origin is tuple:
            inner = self.converter(arguments[0])
            return tuple if inner is None else _each(inner)
        if origin is frozenset:
            return frozenset
        if origin is not None and issubclass(origin, Mapping):
            inner = self.converter(arguments[1])
            return None if inner is None else _each_value(inner)
        return self._make_record(wanted) if is_dataclass(wanted) else None

    def _make_record(self, wanted: Any) -> _Convert:
        """Convert only the fields that need it, then build the record."""
        steps = []
        for index, field in enumerate(fields(wanted)):
            convert = self.converter(field.type)
            if convert is not None:
                steps.append((index, convert))

        def build(values: list[Any]) -> Any:
            """Turn the field values into the record."""
            for index, convert in steps:
                values[index] = convert(values[index])
            return wanted(*values)

        return build


def _unless_none(convert: _Convert) -> _Convert:
    return lambda value: None if value is None else convert(value)


def _each(convert: _Convert) -> _Convert:
    return lambda values: tuple(map(convert, values))


def _each_value(convert: _Convert) -> _Convert:
    return lambda values: {key: convert(member) for key, member in values.items()}
