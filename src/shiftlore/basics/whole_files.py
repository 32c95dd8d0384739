"""Write a file so that a crash, a full disk or a killed process never leaves half of one; read one without waiting."""

import contextlib
import errno
import glob
import os
import stat
import time
from collections.abc import Iterable
from pathlib import Path

_NEW_FILE_MODE = 0o666
_TRIED = b"\0" * 4096
_MORE = 1 << 12
_LEFT_SECONDS = 60.0
"""A part that is older was left by a run that was killed: writing takes a part of a second."""


def write_whole(target: Path, content: bytes | Iterable[bytes], mode: int, replace: bool = True) -> None:
    """Write a file whole or not at all: beside it first, forced to disk, then in its place in one step.

    What killed runs have left of this file goes.

    Args:
        target: a real path, links followed.
        content: all of it, or a part at a time.
        mode: permission bits that the file gets.
        replace: whether it may take the place of a file that is there.
    Raises: FileExistsError: a file is there, or appeared meanwhile, and may not be replaced. OSError: it cannot be
        written; what was there before is still there, and nothing lies beside it.
    """
    import tempfile  # a warm start writes nothing

    _clean_parts(target)
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=_part_prefix(target), suffix=".part")
    try:
        with os.fdopen(handle, "wb") as stream:
            for part in (content,) if isinstance(content, bytes) else content:
                stream.write(part)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, mode)
        if not replace:
            _claim(name, target)
        os.replace(name, target)
    finally:
        with contextlib.suppress(OSError):
            os.unlink(name)
    _sync_folder(target.parent)


def read_bounded(path: Path, most: int) -> bytes:
    """Read an ordinary file, at most so many bytes and one more, so that a longer one is known.

    Raises: OSError: it cannot be read; or it is a pipe or device, which would have to be waited for.
    """
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    try:
        found, parts, left = os.fstat(handle), list[bytes](), most + 1
        if stat.S_ISDIR(found.st_mode):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        if not stat.S_ISREG(found.st_mode):
            raise OSError(errno.EINVAL, "it is no ordinary file")
        while part := os.read(
            handle, min(left, found.st_size + _MORE)
        ):  # asking for much more than there is costs time
            parts.append(part)
            left -= len(part)
        return b"".join(parts)
    finally:
        os.close(handle)


def try_place(path: Path) -> Path:
    """See whether a file can be written here, before anybody works for it.

    Returns: the real path, links followed.
    Raises: OSError: why not: no such folder, write-protected, no ordinary file, the name too long, the disk full.
    """
    import tempfile

    target = Path(os.path.realpath(path))
    with contextlib.suppress(FileNotFoundError):
        found = os.stat(target)
        if stat.S_ISDIR(found.st_mode):
            raise IsADirectoryError(0, "it is a folder")
        if not stat.S_ISREG(found.st_mode):
            raise OSError(0, "it is no ordinary file")
        if not os.access(target, os.W_OK):
            raise PermissionError(0, "it is write-protected")
    with tempfile.NamedTemporaryFile(dir=target.parent, prefix=_part_prefix(target), suffix=".part") as stream:
        stream.write(_TRIED)
    return target


def _claim(part: str, target: Path) -> None:
    """Take a name that nobody has: in one step by a link, or where the system has none by an empty file."""
    try:
        os.link(part, target)
    except FileExistsError:
        raise
    except OSError:
        os.close(os.open(target, os.O_CREAT | os.O_EXCL))


def _part_prefix(target: Path) -> str:
    return f".{target.name[:40]}."


def _clean_parts(target: Path) -> None:
    """Take away the parts of this file that killed runs have left."""
    for part in target.parent.glob(f"{glob.escape(_part_prefix(target))}*.part"):
        with contextlib.suppress(OSError):
            if time.time() - part.lstat().st_mtime > _LEFT_SECONDS:
                part.unlink()


def new_file_mode() -> int:
    """Give the permission bits that the user's mask allows a new file."""
    mask = os.umask(0)
    os.umask(mask)
    return _NEW_FILE_MODE & ~mask


def _sync_folder(folder: Path) -> None:
    """Force the new name to disk, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
