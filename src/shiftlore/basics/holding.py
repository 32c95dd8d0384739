"""Hold a file for one session: a small file beside it says who has it open, so that a second session is told."""

import contextlib
import json
import os
import secrets
import socket
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any

from shiftlore.basics.problems import ShiftloreError, printable
from shiftlore.basics.whole_files import new_file_mode, read_bounded, write_whole

_LONGEST = 2048


@contextlib.contextmanager
def hold_file(path: Path, refuse: Callable[[str], ShiftloreError] | None = None) -> Iterator[None]:
    """Hold a file for what is done inside.

    Args:
        refuse: what is raised where another session has it open, by who that is.
    Raises: ShiftloreError: another session has it open. OSError: nothing can be written there.
    """
    hold = Hold(Path(os.path.realpath(path)))
    if other := hold.take():
        if refuse is not None:
            raise refuse(other)
        advice = f"Close it there first; if that one has ended, delete {printable(str(hold.place))}."
        raise ShiftloreError(f"{printable(str(path))} is open in another session ({other}). {advice}")
    try:
        yield
    finally:
        hold.release()


class Hold:
    """Says beside a file that this process has it open.

    Args:
        target: the real path of the file, which need not be there yet.
    """

    def __init__(self, target: Path):
        self.place = _note_of(target)
        self._mine = {
            "process": os.getpid(),
            "machine": socket.gethostname(),
            "since": time.strftime("%Y-%m-%d %H:%M"),
            "mark": secrets.token_hex(8),
        }

    def take(self) -> str:
        """Take the file, unless another session that still runs has it.

        Returns: who has it, or "" where it is now held here.
        Raises: OSError: nothing can be written there.
        """
        for _ in range(2):
            try:
                write_whole(self.place, self._content(), new_file_mode(), replace=False)
            except FileExistsError:
                if (other := self._read()) is None:
                    continue  # let go this moment, and perhaps taken by a third
                if not _is_over(other):
                    process, machine, since = (other.get(key, "?") for key in ("process", "machine", "since"))
                    return printable(f"process {process} on {machine} since {since}")
                self.place.unlink(missing_ok=True)
            else:
                return ""
        return "another process, just now"

    def take_over(self) -> None:
        """Take the file from whoever has it; that session finds out before it saves again."""
        write_whole(self.place, self._content(), new_file_mode())

    def is_here(self) -> bool:
        """Tell whether nobody has taken the file over."""
        return (self._read() or {}).get("mark", self._mine["mark"]) == self._mine["mark"]

    def move_to(self, target: Path) -> None:
        """Let go of this file, and hold a new one instead."""
        self.release()
        self.place = _note_of(target)
        self.take()

    def release(self) -> None:
        """Let go, if it is still held here."""
        if self._read() == self._mine:
            self.place.unlink(missing_ok=True)

    def _content(self) -> bytes:
        return json.dumps(self._mine).encode()

    def _read(self) -> Mapping[str, Any] | None:
        """Give who holds the file; nothing where that cannot be told, None where nobody does."""
        try:
            found = json.loads(read_bounded(self.place, _LONGEST))
        except FileNotFoundError:
            return {} if self.place.is_symlink() else None
        except (OSError, ValueError):
            return {}
        return found if isinstance(found, dict) else {}


def _note_of(target: Path) -> Path:
    return target.with_name(f".{target.name[:200]}.open")


def _is_over(other: Mapping[str, Any]) -> bool:
    """Tell whether the process that held a file has ended: it ran here, and the system does not know it any more."""
    process = other.get("process")
    if os.name != "posix" or not isinstance(process, int) or other.get("machine") != socket.gethostname():
        return not other  # an empty or unreadable note holds nothing
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return False
