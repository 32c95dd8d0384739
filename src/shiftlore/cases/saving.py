"""Write a case file so that a crash or a full disk never leaves half of one."""

import os
import stat
from pathlib import Path

from shiftlore.basics.errors import CaseError
from shiftlore.basics.problems import Mark, Problem
from shiftlore.basics.whole_files import new_file_mode, write_whole
from shiftlore.cases.records import Case
from shiftlore.cases.rendering import render_case


def save_case(path: str | Path, case: Case) -> None:
    """Write a case to a file, whole or not at all.

    The text goes to a file beside it, is forced to disk, and takes the name over in one step. The mode of a
    file that was there is kept; a link is followed.

    Raises: CaseError: tells why the file cannot be written; what was there before is still there.
    """
    target = Path(os.path.realpath(path))
    try:
        _write_whole(target, render_case(case).encode("utf-8"))
    except OSError as error:
        reason = error.strerror or str(error)
        raise CaseError(
            [
                Problem(
                    Mark(str(path)),
                    "C040",
                    f"The case cannot be written: {reason}",
                    "Choose another file or folder, or make room; nothing was changed.",
                )
            ]
        ) from error


def _write_whole(target: Path, content: bytes) -> None:
    if target.is_dir():
        raise IsADirectoryError(0, "it is a folder")
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(0, "it is write-protected")
    write_whole(target, content, _mode_for(target))


def _mode_for(target: Path) -> int:
    """Keep the mode of the file that is there; a new one gets what the user's mask allows."""
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except FileNotFoundError:
        return new_file_mode()
