"""Ten thousand spoiled cases and ten thousand spoiled knowledge files; run it by name, it takes minutes.

PYTHONPATH=src:tests python -m pytest -o python_files="bench_*.py" tests/benchmarks/bench_fuzz.py
"""

import importlib.util
from pathlib import Path

from support.mutations import spoiled
from support.trade import write_small

TESTS = Path(__file__).parents[1]
COUNT = 10_000


def load(name):
    spec = importlib.util.spec_from_file_location(name.replace("/", "_"), TESTS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_read_case__spoiled_10000_times():
    cases = load("cases/test_fuzz")
    accepted = sum(cases.check_spoiled_case(text) for text in spoiled(cases.CASE, 2026, COUNT))
    assert 0 < accepted < COUNT / 2


def test_collect_knowledge__spoiled_10000_times(tmp_path):
    assert 0 < load("knowledge/test_fuzz").spoil_and_check(write_small(tmp_path, ""), COUNT, 2026) < COUNT / 2
