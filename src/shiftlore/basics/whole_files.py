"""Write a file so that a crash, a full disk or a killed process never leaves half of one."""

import contextlib
import os
import tempfile
from pathlib import Path

_NEW_FILE_MODE = 0o666


def write_whole(target: Path, content: bytes, mode: int) -> None:
    """Write a file whole or not at all: beside it first, forced to disk, then in its place in one step.

    Args:
        target: a real path, links followed.
        mode: permission bits that the file gets.
    Raises: OSError: it cannot be written; what was there before is still there, and nothing lies beside it.
    """
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name[:40]}.", suffix=".part")
    in_place = False
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, mode)
        os.replace(name, target)
        in_place = True
    finally:
        if not in_place:
            with contextlib.suppress(OSError):
                os.unlink(name)
    _sync_folder(target.parent)


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
