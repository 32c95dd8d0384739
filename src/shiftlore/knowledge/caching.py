"""Keep what was read, so that the next start need not parse thousands of lines again.

The cache is a JSON file named by a hash of every knowledge file's bytes, the version and this program's
own reading code. It is never trusted over the files: another byte in any of them is another name. A cache
that is damaged, belongs to somebody else, or cannot be written is passed over without a word.
`SHIFTLORE_CACHE=off` switches it off.
"""

import contextlib
import gc
import hashlib
import json
import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from shiftlore.knowledge.codec import decode_knowledge, encode_knowledge
from shiftlore.knowledge.folders import KnowledgeFile
from shiftlore.knowledge.records import Knowledge
from shiftlore.version import __version__

_KEPT = 6
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
    folder = _cache_folder()
    if folder is None:
        return
    with contextlib.suppress(*_DAMAGED):
        body = json.dumps(encode_knowledge(knowledge), separators=(",", ":"), ensure_ascii=False).encode()
        folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        _write_whole(folder / f"{_hash_files(files)}.json", _checksum(body) + b"\n" + body)
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


def _write_whole(path: Path, content: bytes) -> None:
    """Write to a file beside it and rename, so that a reader never sees half."""
    beside = path.with_name(f".new-{os.getpid()}-{path.name}")
    try:
        beside.write_bytes(content)
        os.replace(beside, path)
    finally:
        beside.unlink(missing_ok=True)


def _drop_oldest(folder: Path) -> None:
    """Keep the newest few."""
    caches = sorted(folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in caches[_KEPT:]:
        path.unlink(missing_ok=True)
