"""How long the knowledge takes to load, in processor time: without the cache, with it, to search, and to refuse.

PYTHONPATH=src python -m pytest -s -o python_files="bench_*.py" tests/benchmarks/bench_loading.py
"""

import time

import pytest

import shiftlore
from shiftlore.basics import ShiftloreError
from shiftlore.knowledge import find_knowledge, load_knowledge
from shiftlore.knowledge.files import collect_files
from shiftlore.words import read_report

WARM_SECONDS, UNKNOWN_SECONDS = 0.060, 2.0
SENTENCE = "bangs into second when hot, fine when cold, no codes"


def best_of(count, act):
    """Give the shortest processor time of several runs, in seconds."""
    times = []
    for _ in range(count):
        start = time.process_time()
        act()
        times.append(time.process_time() - start)
    return min(times)


def test_load_knowledge__warm_within_60_ms(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    files, _ = collect_files(find_knowledge())
    cold = best_of(1, load_knowledge)
    warm = best_of(5, load_knowledge)
    lines = sum(file.content.count(b"\n") for file in files)
    print(f"\n{len(files)} files, {lines} lines: cold {cold * 1000:.0f} ms, warm {warm * 1000:.0f} ms")
    assert warm < WARM_SECONDS


def test_read_report__within_a_twentieth_of_a_second():
    knowledge = load_knowledge()
    making = best_of(1, lambda: read_report(knowledge, None, SENTENCE))
    reading = best_of(5, lambda: read_report(knowledge, None, SENTENCE))
    print(f"\nfirst {making * 1000:.0f} ms, a sentence {reading * 1000:.1f} ms")
    assert reading < 0.05


def test_read_case__8000_unknown_ids_within_2_s():
    """All that came with the program is read before; 8,000 ids fill the largest case that is read."""
    knowledge = load_knowledge()
    text = "unit: long8\nfindings:\n" + "".join(f"  unknown_thing_{number}: yes\n" for number in range(8_000))

    def read():
        with pytest.raises(ShiftloreError):
            shiftlore.read_case(text, knowledge)

    first = best_of(1, read)
    print(f"\n8,000 unknown ids: {first:.2f} s")
    assert first < UNKNOWN_SECONDS
