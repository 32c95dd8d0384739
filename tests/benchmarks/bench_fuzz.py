"""Ten thousand spoiled cases, twice, and ten thousand spoiled rules and sheets; run it by name, it takes half an hour.

PYTHONPATH=src:tests python -m pytest -s -o python_files="bench_*.py" tests/benchmarks/bench_fuzz.py

Rules and sheets are spoiled with all that came with the program around them, ten files at a time; a file that was not spoiled is
read once, or it would take hours.
"""

import importlib.util
import shutil
import time
from pathlib import Path

from support.mutations import spoiled
from support.trade import ROOT

from shiftlore.knowledge import collect_knowledge, gathering
from shiftlore.knowledge.forms import FORMS
from shiftlore.knowledge.intake import Intake

TESTS = Path(__file__).parents[1]
COUNT, AT_ONCE, PATIENCE = 10_000, 10, 10.0


def load(name):
    spec = importlib.util.spec_from_file_location(name.replace("/", "_"), TESTS / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def read_once(read_file):
    """Give what reads a file as the program does, but takes what it read of the same bytes, under the same words, before."""
    read, said = {}, {}

    def take(file, gathered, intake):
        if file.kind not in (*FORMS, "units"):
            return read_file(file, gathered, intake)
        if id(intake.words) not in said:
            said[id(intake.words)] = intake.words, repr(intake.words)
        words = said[id(intake.words)][1]
        key = (file.name, file.content, intake.unopened, words)
        if key not in read:
            read[key] = {kind: {} for kind in gathered}, Intake(intake.words, unopened=intake.unopened)
            read_file(file, *read[key])
        own, told = read[key]
        if any(own[kind].keys() & gathered[kind].keys() for kind in own if own[kind]):
            return read_file(file, gathered, intake)  # an id that stands in two files
        for kind in own:
            if own[kind]:
                gathered[kind].update(own[kind])
        intake.problems.extend(told.problems)
        intake.places.update({place: mark for place, mark in told.places.items() if place not in intake.places})
        return None

    return take


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
    sound = collect_knowledge(ROOT / "knowledge")
    monkeypatch.setattr(gathering, "_read_file", read_once(gathering._read_file))
    folder = shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge")
    assert collect_knowledge(folder) == sound == collect_knowledge(folder), "read once and twice"
    accepted = load("knowledge/test_fuzz").spoil_and_check(folder, COUNT, 2026, AT_ONCE, skipped=())
    print(f"\n{COUNT} rules and sheets: {accepted} accepted")
    assert 0 < accepted < COUNT / 2
