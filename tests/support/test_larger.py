"""The larger knowledge that benchmarks run on holds together, and ranks what the shipped one does."""

import time
from pathlib import Path

import shiftlore
from shiftlore.compiling import compile_case, compile_unit
from shiftlore.knowledge import Knowledge, collect_knowledge
from support.larger import write_larger
from support.trade import EXAMPLES


def rank(knowledge: Knowledge) -> tuple[str, float]:
    """Give the likeliest cause by the rules, and the processor seconds from the rules to it."""
    started = time.process_time()
    case = shiftlore.read_case(EXAMPLES / "touring_camper.yaml", knowledge)
    compiled = compile_case(compile_unit(knowledge, "long8"), case)
    first = compiled.causes[int(compiled.p_causes.argmax())]
    return first, time.process_time() - started


def test_write_larger__twice_the_causes_hold_together_and_cost_little_more(tmp_path: Path) -> None:
    once, errors = collect_knowledge(write_larger(tmp_path / "once", 1))
    twice, more_errors = collect_knowledge(write_larger(tmp_path / "twice", 2))
    assert not [one for one in (*errors, *more_errors) if one.severity == "error"]
    assert [2 * len(once.causes), 2 * len(once.findings)] == [len(twice.causes), len(twice.findings)]
    (first, seconds), (first_of_twice, more_seconds) = rank(once), rank(twice)
    assert first == first_of_twice and more_seconds < 5 * seconds + 1
