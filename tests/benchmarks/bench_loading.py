"""How long the knowledge takes to load, in processor time: without the cache, with it, and to search.

PYTHONPATH=src python -m pytest -s -o python_files="bench_*.py" tests/benchmarks/bench_loading.py
"""

import time

from shiftlore.knowledge import find_knowledge, load_knowledge
from shiftlore.knowledge.files import collect_files
from shiftlore.words import read_report

WARM_SECONDS = 0.060
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
