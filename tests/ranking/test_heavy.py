"""Every case is ranked in bounded time, and says how sure its numbers are."""

import time
from functools import cache

import numpy as np
import pytest
from support.heavy import answer_all, choose_greedily, list_special, make_heavy, rank_connected
from support.trade import unit_of

from shiftlore.cases import Case
from shiftlore.compiling import CompiledCase, compile_case
from shiftlore.exact import HubEngine
from shiftlore.ranking import Ranking, rank_causes

MOST_SECONDS = 6.0
"""Generous: a heavy case takes some tenths of a second of processor time (`benchmarks/bench_heavy.py`)."""
SPECIAL = sorted(list_special(unit_of("long5")))
EXACT = ("all no", "all doubted no", "40 doubted noes")


@cache
def rank_special(unit: str, name: str) -> tuple[CompiledCase, Ranking, float]:
    """Rank a special case; gives processor seconds too."""
    case = list_special(unit_of(unit))[name]
    return rank_timed(unit, case)


def rank_timed(unit: str, case: Case) -> tuple[CompiledCase, Ranking, float]:
    """Compile and rank a case of a vehicle that was not seen before."""
    compiled_unit = unit_of(unit)
    compiled_unit.prepared.clear()
    started = time.process_time()
    compiled = compile_case(compiled_unit, case)
    ranking = rank_causes(compiled)
    return compiled, ranking, time.process_time() - started


@pytest.mark.parametrize(
    ("unit", "name"),
    [*(("long5", name) for name in SPECIAL), ("long8", "all yes"), ("long8", "pump gone"), ("cvt", "all yes")],
)
def test_rank_causes__takes_bounded_time(unit: str, name: str) -> None:
    assert MOST_SECONDS > rank_special(unit, name)[2]


@pytest.mark.parametrize("name", SPECIAL)
def test_rank_causes__gives_proper_numbers_however_heavy(name: str) -> None:
    compiled, ranking, _ = rank_special("long5", name)
    assert 1 == pytest.approx(float(compiled.p_faults.sum()), abs=1e-9)
    assert all(0 <= cause.low <= cause.high <= 1 and 0 <= cause.probability <= 1 for cause in ranking.causes)
    reasons = [reason for cause in ranking.causes for reason in (*cause.speaks_for, *cause.speaks_against)]
    assert all(np.isfinite(reason.decibans) for reason in reasons)


@pytest.mark.parametrize("name", SPECIAL)
def test_bound_posterior__holds_what_is_shown(name: str) -> None:
    compiled, _, _ = rank_special("long5", name)
    low, high = compiled.engine.bound_posterior(compiled.evidence)
    assert (low <= compiled.p_faults + 1e-9).all() and (compiled.p_faults <= high + 1e-9).all()
    exact = compiled.engine.stand(compiled.evidence).exact
    assert exact == bool((high - low < 1e-15).all())


@pytest.mark.parametrize("name", EXACT)
def test_stand__sound_answers_are_never_too_many(name: str) -> None:
    """Doubted or not, they are products."""
    compiled, _, _ = rank_special("long5", name)
    assert compiled.engine.stand(compiled.evidence).exact
    assert 0 <= compiled.left_out < 0.2


def test_stand__a_case_too_heavy_says_so() -> None:
    compiled, _, _ = rank_special("long5", "all yes")
    standing = compiled.engine.stand(compiled.evidence)
    assert not standing.exact
    assert 10 < len(standing.replaced)


@pytest.mark.parametrize(("first", "n"), [(0, 12), (9, 32)])
def test_rank_causes__findings_chosen_to_hang_together(first: int, n: int) -> None:
    unit = unit_of("long5")
    chosen = choose_greedily(unit, rank_connected(unit)[first], n)
    assert n == len(set(chosen))
    compiled, ranking, seconds = rank_timed("long5", make_heavy(unit, answer_all(unit, chosen, -1)))
    assert MOST_SECONDS > seconds
    assert ranking.causes[0].probability == pytest.approx(float(compiled.causes_now.max()), abs=1e-12)


def test_stand__a_heavy_case_that_is_still_exact_agrees_with_its_own_bounds() -> None:
    """The same answers, worked out exactly and by bounds alone: the exact numbers lie between."""
    unit = unit_of("long5")
    compiled = compile_case(
        unit, make_heavy(unit, answer_all(unit, choose_greedily(unit, rank_connected(unit)[0], 8), -1))
    )
    exact = compiled.engine.stand(compiled.evidence)
    bounded = HubEngine(compiled.engine.tables, 40 * compiled.engine.tables.n_root, 0).stand(compiled.evidence)
    assert exact.exact and not bounded.exact
    assert (bounded.log_low <= exact.log_likelihood + 1e-9).all()
    assert (exact.log_likelihood <= bounded.log_high + 1e-9).all()
