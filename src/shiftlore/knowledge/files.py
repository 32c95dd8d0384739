"""Find the knowledge's files, and take what was read of these very bytes before.

The cache is a JSON file named by a hash of every knowledge file's bytes, the version and this program's
own reading code. It is never trusted over the files: another byte in any of them is another name. A cache
that is damaged, holds what no file could say, belongs to somebody else or may be written by others, is a link, or cannot be
written is passed over without a word.
`SHIFTLORE_CACHE=off` switches it off.
"""

import contextlib
import gc
import hashlib
import os
import re
import stat
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from shiftlore.basics.problems import Mark, Problem
from shiftlore.basics.structs import Value
from shiftlore.basics.whole_files import read_bounded
from shiftlore.knowledge.rulebook import Knowledge, decode_knowledge, encode_knowledge
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

_KEPT = 6
_LARGEST = 1 << 20  # more is refused by the reader, which is not imported for it
_OWN_MODE = 0o600
_OTHERS_MAY_WRITE = stat.S_IWGRP | stat.S_IWOTH
_LARGEST_CACHE = 1 << 27
_BEGINS = re.compile(rb"^\s*- \{?\s*id: *([\w-]+)", re.MULTILINE)
_DAMAGED = (ValueError, TypeError, KeyError, IndexError, AttributeError, RecursionError, OverflowError, OSError)
_CODE_ROOMS = ("knowledge", "sheets", "reading")


class KnowledgeFile(Value, frozen=True):
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
            path = folder / name
            files.append(KnowledgeFile(*kind, name, path, _bytes_of(path)))
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
        body = read_kept(f"{mark}.rules")
        return None if body is None else _decode_at_rest(body)
    except _DAMAGED:
        return None


def save_cached(mark: str, knowledge: Knowledge) -> None:
    """Write the knowledge beside others, whole or not at all; failing is no error."""
    with contextlib.suppress(*_DAMAGED):
        write_kept(f"{mark}.rules", encode_knowledge(knowledge), _KEPT)


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


def _decode_at_rest(body: bytes) -> Knowledge:
    """Keep the garbage collector from walking tens of thousands of new records again and again."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        return decode_knowledge(body)
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
