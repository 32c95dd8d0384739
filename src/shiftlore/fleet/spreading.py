"""Work spread over processes of this machine, or over the workers of a Dask scheduler: one chunk a call, in bounded numbers.

What all calls share (the rules) goes to each worker once; a process that is forked has it already. A worker that dies takes
nothing with it: its chunks are given out again, a few times; what then still ends its worker is told.
"""

import contextlib
import gc
import os
import pickle
import threading
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from functools import lru_cache
from multiprocessing import connection, get_context, parent_process
from typing import Any

from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.rulebook import OVERLAY

MOST_TRIES = 3
"""Workers that one chunk may end before it is given up."""
WAITING = 2
"""Chunks at a time for each worker: one in work, one waiting."""
CONNECT_SECONDS = 20
THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
NEEDED = "A scheduler needs distributed. Install it: python -m pip install distributed; or leave --scheduler out."
OWN_THREADS = "/proc/self/task"
"""Where a system that forks safely lists the threads of this process, those of libraries too."""
Spread = Callable[[Callable[[Any, Any], Any], Iterable[Any]], Iterator[tuple[int, Any]]]
"""Calls a function of the module level with what is shared and each item; gives (place of the item, result) as they come."""


def count_cores() -> int:
    """Count the processors that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextlib.contextmanager
def open_workers(shared: Any, jobs: int = 1, scheduler: str = "") -> Iterator[Spread]:
    """Give a way to spread work.

    Args:
        shared: what every call gets first; it can be pickled.
        jobs: processes; 1 works in this one.
        scheduler: address of a Dask scheduler, instead of processes of this machine.
    Raises: UsageProblem: nobody answers there. ShiftloreError: a library is missing.
    """
    if scheduler:
        with _connect(scheduler) as client:
            yield _Remote(client, _strip(shared)).spread
    elif jobs == 1:
        yield lambda function, items: ((place, function(shared, item)) for place, item in enumerate(items))
    else:
        with _one_thread():
            local = _Local(jobs, shared)
            try:
                yield local.spread
            finally:
                local.close()


def strip_knowledge(knowledge: Knowledge) -> Knowledge:
    """Give the same rules without what was worked out from them: every worker does that for itself."""
    bare = knowledge.vary()
    if OVERLAY in bare.worked_out:
        overlay, plain = bare.worked_out[OVERLAY]
        bare.worked_out[OVERLAY] = (overlay, strip_knowledge(plain))
    return bare


def _strip(shared: Any) -> Any:
    return strip_knowledge(shared) if isinstance(shared, Knowledge) else shared


def choose_start() -> str:
    """Choose how processes are started: forked where this one has a single thread, for then they have the rules at once."""
    try:
        is_alone = len(os.listdir(OWN_THREADS)) == 1
    except OSError:
        is_alone = False
    return "fork" if is_alone else "spawn"


@contextlib.contextmanager
def _one_thread() -> Iterator[None]:
    """Let processes that are started meanwhile use one thread of the linear algebra library each."""
    before = {name: os.environ.get(name) for name in THREADS}
    os.environ.update(dict.fromkeys(THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]
            else:
                os.environ[name] = value


@lru_cache(1)
def _unpack_shared(packed: bytes) -> Any:
    shared = pickle.loads(packed)
    gc.freeze()  # what stays need not be looked through for what is dropped, row after row
    return shared


_given: list[Any] = []
"""What all calls of this process share."""


def _begin(shared: Any) -> None:
    """Begin a process of this machine: take what all calls share, and end with the process that started it."""
    _given[:] = [shared]
    gc.freeze()
    parent = parent_process()
    if parent is not None:
        threading.Thread(target=_watch, args=(parent.sentinel,), daemon=True).start()


def _call_here(function: Callable[[Any, Any], Any], item: Any) -> Any:
    return function(_given[0], item)


def _call_there(function: Callable[[Any, Any], Any], packed: bytes, item: Any) -> Any:
    return function(_unpack_shared(packed), item)


def _watch(sentinel: int) -> None:
    connection.wait([sentinel])
    os._exit(1)


class _Local:
    """Processes of this machine, started anew where one of them dies."""

    def __init__(self, jobs: int, shared: Any):
        self.jobs, self.shared = jobs, shared
        self.pool = self._start()

    def _start(self) -> Executor:
        how = choose_start()
        shared = self.shared if how == "fork" else _strip(self.shared)
        return ProcessPoolExecutor(self.jobs, get_context(how), initializer=_begin, initargs=(shared,))

    def close(self) -> None:
        """Stop all work."""
        self.pool.shutdown(wait=True, cancel_futures=True)

    def spread(self, function: Callable[[Any, Any], Any], items: Iterable[Any]) -> Iterator[tuple[int, Any]]:
        """Call a function with each item, as `Spread`."""
        left, tries = enumerate(items), dict[int, int]()
        going: dict[Future[Any], tuple[int, Any]] = {}
        again: list[tuple[int, Any]] = []
        while True:
            while (
                len(going) < WAITING * self.jobs and (given := again.pop(0) if again else next(left, None)) is not None
            ):
                try:
                    going[self.pool.submit(_call_here, function, given[1])] = given
                except BrokenProcessPool:
                    again.insert(0, given)
                    break
            if not going and not again:
                return
            done = wait(going, return_when=FIRST_COMPLETED).done
            lost = []
            for future in done:
                place, item = going.pop(future)
                try:
                    result = future.result()
                except BrokenProcessPool:
                    lost.append((place, item))
                    continue
                yield place, result
            if lost or not done:
                again = sorted([*again, *lost, *going.values()], key=lambda given: given[0])
                going = {}
                self._begin_anew(again, tries)

    def _begin_anew(self, lost: list[tuple[int, Any]], tries: dict[int, int]) -> None:
        """Start new processes; give up where the same chunk has ended several."""
        self.pool.shutdown(wait=True, cancel_futures=True)
        for place, _ in lost[: self.jobs]:
            tries[place] = tries.get(place, 0) + 1
            if tries[place] > MOST_TRIES:
                advice = (
                    "What is done is kept: see that there is memory enough, or take fewer --jobs, and start it again."
                )
                raise ShiftloreError(f"Chunk {place + 1} has ended its process {MOST_TRIES} times. {advice}")
        self.pool = self._start()


@contextlib.contextmanager
def _connect(address: str) -> Iterator[Any]:
    try:
        import distributed
    except ImportError as error:
        raise ShiftloreError(NEEDED) from error
    try:
        client = distributed.Client(address, timeout=CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        advice = "Start one, and give its address, such as tcp://127.0.0.1:8786."
        raise UsageProblem(f"No scheduler answers at {address}. {advice}") from error
    with client:
        yield client


class _Remote:
    """The workers of a Dask scheduler."""

    def __init__(self, client: Any, shared: Any):
        self.client = client
        self.packed = client.scatter(pickle.dumps(shared), broadcast=True, hash=False)

    def spread(self, function: Callable[[Any, Any], Any], items: Iterable[Any]) -> Iterator[tuple[int, Any]]:
        """Call a function with each item, as `Spread`; Dask gives out again what a dying worker had."""
        import distributed

        left = enumerate(items)
        width = WAITING * max(1, sum(self.client.nthreads().values()))
        places: dict[str, int] = {}
        coming = distributed.as_completed(loop=self.client.loop, raise_errors=False)
        while True:
            while len(places) < width and (given := next(left, None)) is not None:
                place, item = given
                future = self.client.submit(_call_there, function, self.packed, item, pure=False, retries=MOST_TRIES)
                places[future.key] = place
                coming.add(future)
            if not places:
                return
            future = next(coming)
            yield places.pop(future.key), self._take(future)

    def _take(self, future: Any) -> Any:
        """Take a result.

        Raises: ShiftloreError: the workers that had it died; otherwise what the call raised.
        """
        import distributed

        try:
            return future.result()
        except (distributed.KilledWorker, distributed.scheduler.KilledWorker) as error:
            advice = "What is done is kept: see to the workers, and start it again."
            raise ShiftloreError(f"A chunk has ended its workers several times. {advice}") from error
