"""Candidates, and their chance of a cure: against enumeration by hand and against simulated repairs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.offers import compiled, view

from shiftlore.advising.options_candidates import (
    LEAST_ADDED,
    LEAST_BESIDE,
    Candidate,
    Cures,
    choose_few,
    differs,
    drop_hopeless,
    keep_frontier,
    list_candidates,
    make_candidate,
    prepare_cures,
)
from shiftlore.advising.pricing import OptionCost
from shiftlore.cases import Case, Done
from shiftlore.compiling import Faults, compile_case

FAULTS = Faults(("a", "b"), ((), (0,), (1,), (0, 1)), np.array([0.1, 0.4, 0.3, 0.2]))
N_VEHICLES = 200_000
SIGMAS = 4.0


def test_cured_by__of_two_causes_both_must_go_and_nothing_wrong_is_not_cured() -> None:
    cures = Cures(FAULTS, FAULTS.prior, {}, FAULTS.prior[None], {})
    assert [0.0, 0.8, 0.5, 0.4] == pytest.approx(cures.cured_by(np.array([0.2, 0.5])).tolist(), abs=1e-12)


@settings(deadline=None)  # the first call compiles the case
@given(st.lists(st.sampled_from(range(40)), min_size=1, max_size=4, unique=True))
def test_p_cured__one_more_job_never_lowers_it(places: list[int]) -> None:
    cures = view().cures
    jobs = [list(cures.means)[place] for place in places]
    assert cures.p_cured(jobs) >= cures.p_cured(jobs[:-1]) - 1e-12
    assert cures.p_cured(jobs) >= cures.p_reached(jobs) - 1e-12


@pytest.mark.parametrize("name", ["slips", "harsh"])
def test_p_cured__agrees_with_simulated_repairs(name: str) -> None:
    """Draw vehicles from the belief, repair each cause with each job by chance, and count who drives well."""
    cures, rng = view(name).cures, np.random.default_rng(7)
    likely = sorted(cures.means, key=lambda job: -cures.p_cured((job,)))
    for jobs in (likely[:1], likely[3:4], likely[5:8]):
        states = rng.choice(len(cures.p_states), size=N_VEHICLES, p=cures.p_states / cures.p_states.sum())
        share = np.mean(_repair(cures.faults, states, [cures.means[job] for job in jobs], rng))
        p = cures.p_cured(jobs)
        assert p == pytest.approx(share, abs=SIGMAS * np.sqrt(p * (1 - p) / N_VEHICLES) + 1e-9)


def _repair(faults: Faults, states: np.ndarray, jobs: list[np.ndarray], rng: np.random.Generator) -> np.ndarray:
    """Say of each vehicle whether every cause in it was put right by at least one job."""
    cured = np.zeros(len(states), dtype=bool)
    for state in np.unique(states):
        here = np.flatnonzero(states == state)
        good = np.full(len(here), bool(faults.members[state]))
        for cause in faults.members[state]:
            good &= np.any([rng.random(len(here)) < job[cause] for job in jobs], axis=0)
        cured[here] = good
    return cured


def test_spread__holds_the_chance() -> None:
    cures = view().cures
    for job in list(cures.means)[:60]:
        low, high = cures.spread((job,))
        assert 0.0 <= low <= cures.p_cured((job,)) <= high <= 1.0


def test_spread__no_jobs_cure_nothing() -> None:
    assert (0.0, 0.0) == view().cures.spread(())


def test_prepare_cures__a_job_that_failed_leaves_less_of_its_causes() -> None:
    before = view()
    job = max(before.cures.means, key=lambda key: before.cures.p_cured((key,)))
    case = before.compiled.case
    again = Case(case.unit, case.odometer_km, complaint=case.complaint, findings=case.findings, done=(Done(job),))
    after = prepare_cures(compile_case(compiled().unit, again), (job,))
    assert after.p_cured((job,)) < before.cures.p_cured((job,))


def candidate(name: str, price: float, p: float, kind: str = "job") -> Candidate:
    return Candidate((name,), kind, OptionCost(price, price, price), p)


CANDIDATES = st.lists(st.tuples(st.integers(1, 5000), st.floats(0.0, 1.0)), min_size=1, max_size=12).map(
    lambda pairs: [candidate(str(i), float(price), p) for i, (price, p) in enumerate(pairs)]
)


@given(CANDIDATES)
def test_keep_frontier__keeps_just_what_nothing_beats(candidates: list[Candidate]) -> None:
    kept = keep_frontier(candidates)
    for one in candidates:
        beaten = any(
            other.cost.typical <= one.cost.typical
            and other.p_cured >= one.p_cured
            and other is not one
            and (other.cost.typical < one.cost.typical or other.p_cured > one.p_cured)
            for other in candidates
        )
        twin = any(
            other is not one and (other.cost.typical, other.p_cured) == (one.cost.typical, one.p_cured)
            for other in kept
        )
        assert (one in kept) == (not beaten and one.p_cured > 0 and not twin) or twin


@given(CANDIDATES)
def test_choose_few__is_short_and_differs_in_kind(candidates: list[Candidate]) -> None:
    frontier = keep_frontier(candidates)
    chosen = choose_few(frontier, frontier[:1], lambda one: one.cost.typical, 4)
    assert len(chosen) <= 4
    assert all(differs(one, other) for one in chosen for other in chosen if one is not other)
    assert chosen == sorted(chosen, key=lambda one: one.cost.typical)


def test_differs__not_in_pennies() -> None:
    assert not differs(candidate("a", 500, 0.5), candidate("b", 505, 0.7))
    assert not differs(candidate("a", 500, 0.5), candidate("b", 900, 0.52))
    assert differs(candidate("a", 500, 0.5), candidate("b", 900, 0.7))


def test_list_candidates__bundles_share_an_opening_and_hold_nothing_idle() -> None:
    harsh = view("harsh")
    bundles = [one for one in list_candidates(harsh.pricer, harsh.cures) if one.kind == "bundle"]
    assert bundles
    for bundle in bundles:
        for job in bundle.jobs:
            rest = tuple(other for other in bundle.jobs if other != job)
            assert harsh.cures.p_reached(bundle.jobs) - harsh.cures.p_reached(rest) >= LEAST_ADDED


def test_list_candidates__each_set_once_and_with_its_chance() -> None:
    found = list_candidates(view().pricer, view().cures, [("plain_service", "element_repair_c2")])
    assert len(found) == len({frozenset(one.jobs) for one in found})
    assert frozenset(("plain_service", "element_repair_c2")) in {frozenset(one.jobs) for one in found}


@pytest.mark.parametrize(
    ("jobs", "kept"),
    [("abc", "ab"), ("cb", "c"), ("ad", "a"), ("c", "c"), ("", "")],
)
def test_drop_hopeless__what_has_no_real_chance_by_itself_or_beside_the_others_goes(jobs: str, kept: str) -> None:
    """Of a and b at work together each needs the other; c and d help one vehicle in fifty, and nobody orders that."""
    faults = Faults(("a", "b", "c", "d"), ((), (0,), (0, 1), (2,), (3,)), np.array([0.06, 0.5, 0.4, 0.02, 0.02]))
    means = dict(zip("abcd", np.eye(4), strict=True))
    cures = Cures(faults, faults.prior, means, faults.prior[None], {})
    assert cures.p_cured(("b",)) < LEAST_BESIDE
    assert tuple(kept) == drop_hopeless(cures, tuple(jobs))


def test_make_candidate__names_its_kind() -> None:
    kinds = {job: make_candidate(view().pricer, view().cures, (job,)).kind for job in ("plain_service", "overhaul")}
    assert {"plain_service": "service", "overhaul": "overhaul"} == kinds


def test_p_cured__jobs_of_one_kind_cure_as_surely_as_the_surest() -> None:
    cures = view().cures
    names = [job for job in cures.means if cures.kinds[job] == cures.kinds["plain_service"]]
    assert len(names) > 3
    for jobs in (names[:2], names):
        best = np.max([cures.means[job] for job in jobs], axis=0)
        assert 1.0 - best == pytest.approx(cures.missed_by(jobs), abs=1e-12)
    assert cures.p_reached(names) == pytest.approx(cures.p_cured(names), abs=1e-12)


def test_list_candidates__no_bundle_holds_what_another_of_its_jobs_contains() -> None:
    within, templates = compiled().knowledge.jobs_within, compiled().expansion.job_templates
    cures = view().cures
    bundles = list_candidates(view().pricer, cures, [("plain_service", "fluid_exchange_lines")])
    for one in bundles:
        inside = {name for job in one.jobs for name in within(templates[job])}
        assert not inside & {templates[job] for job in one.jobs}
