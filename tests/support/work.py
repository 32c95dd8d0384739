"""Work for processes of their own, which must be able to import it."""

import os
import signal
from pathlib import Path

from shiftlore.basics import ShiftloreError
from shiftlore.fleet.spreading import THREADS


def double(shared: int, item: int) -> int:
    """Give what comes of an item."""
    return shared * item


def die_once(folder: str, item: int) -> int:
    """End the process that works on item 2, the first time."""
    mark = Path(folder, f"died-{item}")
    if item == 2 and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return item


def die(folder: str, item: int) -> int:
    """End the process that works on item 1, each time."""
    if item == 1:
        os.kill(os.getpid(), signal.SIGKILL)
    return item


def tell_threads(shared: object, item: int) -> str:
    """Give how many threads the linear algebra may use."""
    return os.environ.get(THREADS[0], "")


def tell_shared(shared: object, item: int) -> int:
    """Give where this process holds what is shared."""
    return id(shared)


def raise_it(shared: object, item: int) -> int:
    """Raise."""
    raise ShiftloreError("This was wrong.")
