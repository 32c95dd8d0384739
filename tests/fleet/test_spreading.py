"""Work spread over processes and over Dask comes back, whatever happens to a worker."""

import os
import pickle
import subprocess
import sys
import time
from pathlib import Path

import pytest
from support.long_runs import long_run
from support.trade import ROOT, shipped
from support.work import die, die_once, double, raise_it, tell_threads

from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.compiling import Learned, Overlay, compile_unit, with_overlay
from shiftlore.fleet.spreading import OWN_THREADS, THREADS, count_cores, open_workers, strip_knowledge
from shiftlore.knowledge.rulebook import SHIPPED

needs_kill = pytest.mark.skipif(os.name != "posix", reason="kill -9")


def collect(jobs: int, shared: object, function: object, count: int = 6) -> dict[int, object]:
    with open_workers(shared, jobs) as spread:
        return dict(spread(function, range(count)))  # type: ignore[arg-type]


@pytest.mark.parametrize("jobs", [1, 2])
def test_open_workers__every_item_comes_back_with_its_place(jobs: int) -> None:
    assert {i: 3 * i for i in range(6)} == collect(jobs, 3, double)


@needs_kill
def test_open_workers__what_a_killed_worker_had_is_given_out_again(tmp_path: Path) -> None:
    assert {i: i for i in range(6)} == collect(2, str(tmp_path), die_once)
    assert (tmp_path / "died-2").exists()


@long_run
@needs_kill
def test_open_workers__what_ends_every_worker_is_told(tmp_path: Path) -> None:
    with pytest.raises(ShiftloreError, match=r"Chunk \d has ended its process 3 times. What is done is kept"):
        collect(2, str(tmp_path), die, 2)


@long_run
def test_open_workers__one_thread_each() -> None:
    before = os.environ.get(THREADS[0])
    assert {"1"} == set(collect(2, None, tell_threads, 2).values())
    assert before == os.environ.get(THREADS[0])


@pytest.mark.parametrize("jobs", [1, 2])
def test_open_workers__what_a_call_raises_is_raised_here(jobs: int) -> None:
    with pytest.raises(ShiftloreError, match="This was wrong"):
        collect(jobs, None, raise_it, 2)


@long_run
def test_open_workers__items_are_taken_only_as_they_are_needed() -> None:
    taken = []

    def items():  # type: ignore[no-untyped-def]
        for i in range(50):
            taken.append(i)
            yield i

    with open_workers(1, 2) as spread:
        next(spread(double, items()))
        assert len(taken) <= 6


def test_open_workers__nobody_answers_there(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("shiftlore.fleet.spreading.CONNECT_SECONDS", 0.5)
    with (
        pytest.raises(UsageProblem, match=r"No scheduler answers at tcp://127.0.0.1:9\."),
        open_workers(1, 1, "tcp://127.0.0.1:9"),
    ):
        pass


ALONE = """
import os, sys, threading
os.environ["OPENBLAS_NUM_THREADS"] = "1"
from shiftlore.fleet.spreading import choose_start, open_workers
from support.work import die_once, tell_shared
shared = [sys.argv[1]]
with open_workers(shared, 2) as spread:
    print(choose_start(), {held for _, held in spread(tell_shared, range(4))} == {id(shared)})
with open_workers(sys.argv[1], 2) as spread:
    print(sorted(item for _, item in spread(die_once, range(6))))
waiting = threading.Event()
threading.Thread(target=waiting.wait).start()
print(choose_start())
waiting.set()
"""


@needs_kill
@pytest.mark.skipif(not Path(OWN_THREADS).is_dir(), reason="threads cannot be counted here")
def test_choose_start__a_process_of_one_thread_is_forked_with_all_that_it_has(tmp_path: Path) -> None:
    path = os.pathsep.join([str(ROOT / "src"), str(ROOT / "tests")])
    command, environment = [sys.executable, "-c", ALONE, str(tmp_path)], {**os.environ, "PYTHONPATH": path}
    run = subprocess.run(command, env=environment, capture_output=True, text=True, check=True)
    assert ["fork True", "[0, 1, 2, 3, 4, 5]", "spawn"] == run.stdout.splitlines() and (tmp_path / "died-2").exists()


@long_run
@needs_kill
@pytest.mark.parametrize("threads", ["1", "4"])
def test_open_workers__no_process_outlives_the_one_that_started_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, threads: str
) -> None:
    """A run is killed while its workers wait; they end by themselves, forked or begun anew."""
    monkeypatch.setenv(THREADS[0], threads)
    script = tmp_path / "run.py"
    script.write_text(
        "import os, time\nfrom shiftlore.fleet.spreading import open_workers\n\n\n"
        "def told(shared, item):\n    return os.getpid()\n\n\n"
        "if __name__ == '__main__':\n    with open_workers(1, 2) as spread:\n"
        "        print(*{pid for _, pid in spread(told, range(8))}, flush=True)\n        time.sleep(60)\n",
        encoding="utf-8",
    )
    run = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True, cwd=tmp_path)
    assert run.stdout is not None
    workers = [int(pid) for pid in run.stdout.readline().split()]
    run.kill()
    run.wait()
    run.stdout.close()
    for _ in range(100):
        alive = [pid for pid in workers if _is_alive(pid)]
        if not alive:
            break
        time.sleep(0.05)
    assert workers and [] == alive


def _is_alive(pid: int) -> bool:
    try:
        return "Z" not in Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False


def test_strip_knowledge__takes_along_what_was_noted_and_nothing_that_was_worked_out() -> None:
    laid = with_overlay(shipped(), Overlay(base_rates={"pump_worn": Learned(1.0, 2.0, 3.0, 4.0)}))
    compile_unit(laid, "long5")
    bare = pickle.loads(pickle.dumps(strip_knowledge(laid)))
    assert laid == bare and bare.worked_out[SHIPPED]
    wanted, found = (compile_unit(rules, "long5").expansion.causes for rules in (laid, bare))
    assert {key: one.share for key, one in wanted.items()} == {key: one.share for key, one in found.items()}


def test_count_cores__is_at_least_one() -> None:
    assert 1 <= count_cores() <= 4096
