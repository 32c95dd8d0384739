"""Ten thousand spoiled cases, twice, and ten thousand spoiled rules and sheets; run it by name, it takes half an hour.

PYTHONPATH=src:tests python -m pytest -s -o python_files="bench_*.py" tests/benchmarks/bench_fuzz.py

Rules and sheets are spoiled with all that came with the program around them, four files at a time; what was not spoiled is
parsed once, or it would take hours.
"""

import functools
import importlib.util
import shutil
import time
from pathlib import Path

from support.mutations import spoiled
from support.trade import ROOT

from shiftlore.knowledge import gathering

TESTS = Path(__file__).parents[1]
COUNT, AT_ONCE, PATIENCE = 10_000, 4, 10.0


def load(name):
    spec = importlib.util.spec_from_file_location(name.replace("/", "_"), TESTS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_read_case__spoiled_10000_times():
    cases = load("cases/test_fuzz")
    accepted = sum(cases.check_spoiled_case(text) for text in spoiled(cases.CASE, 2026, COUNT))
    print(f"\n{COUNT} cases: {accepted} accepted")
    assert 0 < accepted < COUNT / 2


def test_read_case__with_all_that_can_be_said_spoiled_10000_times():
    cases, accepted, worst = load("cases/test_fuzz"), 0, 0.0
    for text in spoiled(cases.FULL, 2027, COUNT):
        started = time.process_time()
        accepted += cases.check_spoiled_full_case(text)
        worst = max(worst, time.process_time() - started)
    print(f"\n{COUNT} cases against the whole knowledge: {accepted} accepted, worst {worst:.2f} s")
    assert 0 < accepted < COUNT / 2 and worst < PATIENCE


def test_collect_knowledge__spoiled_10000_times(tmp_path, monkeypatch):
    for name in ("read_yaml", "read_sheet"):
        monkeypatch.setattr(gathering, name, functools.lru_cache(2_000)(getattr(gathering, name)))
    folder = shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge")
    accepted = load("knowledge/test_fuzz").spoil_and_check(folder, COUNT, 2026, AT_ONCE, skipped=())
    print(f"\n{COUNT} rules and sheets: {accepted} accepted")
    assert 0 < accepted < COUNT / 2
