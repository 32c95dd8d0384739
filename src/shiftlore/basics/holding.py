"""Hold a file for one session: a small file beside it says who has it open, so that a second session is told."""

import contextlib
import json
import os
import secrets
import socket
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shiftlore.basics.whole_files import new_file_mode, read_bounded, write_whole

_LONGEST = 2048


class Hold:
    """Says beside a file that this process has it open.

    Args:
        target: the real path of the file, which need not be there yet.
    """

    def __init__(self, target: Path):
        self.place = target.with_name(f".{target.name[:200]}.open")
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
                other = self._read()
                if not _is_over(other):
                    return f"process {other.get('process', '?')} on {other.get('machine', '?')} since {other.get('since', '?')}"
                self.place.unlink(missing_ok=True)
            else:
                return ""
        return "another process, just now"

    def take_over(self) -> None:
        """Take the file from whoever has it; that session finds out before it saves again."""
        write_whole(self.place, self._content(), new_file_mode())

    def is_here(self) -> bool:
        """Tell whether nobody has taken the file over."""
        return self._read().get("mark", self._mine["mark"]) == self._mine["mark"]

    def release(self) -> None:
        """Let go, if it is still held here."""
        if self._read() == self._mine:
            self.place.unlink(missing_ok=True)

    def _content(self) -> bytes:
        return json.dumps(self._mine).encode()

    def _read(self) -> Mapping[str, Any]:
        """Give who holds the file; nothing where that cannot be told."""
        with contextlib.suppress(OSError, ValueError):
            found = json.loads(read_bounded(self.place, _LONGEST))
            return found if isinstance(found, dict) else {}
        return {}


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
