"""The chance of a cure: against enumeration by hand and against simulated repairs."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.offers import compiled, view

from shiftlore.advising.options_cures import Cures, prepare_cures
from shiftlore.cases import Case
from shiftlore.compiling import Faults, compile_case

FAULTS = Faults(("a", "b"), ((), (0,), (1,), (0, 1)), np.array([0.1, 0.4, 0.3, 0.2]))
N_VEHICLES = 200_000
SIGMAS = 4.0


def test_cured_by__of_two_causes_both_must_go_and_nothing_wrong_is_not_cured() -> None:
    cures = Cures(FAULTS, FAULTS.prior, {}, FAULTS.prior[None], {})
    assert [0.0, 0.8, 0.5, 0.4] == pytest.approx(cures.cured_by(np.array([0.2, 0.5])).tolist(), abs=1e-12)


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
    again = Case(case.unit, case.odometer_km, complaint=case.complaint, findings=case.findings, done=(job,))
    after = prepare_cures(compile_case(compiled().unit, again), (job,))
    assert after.p_cured((job,)) < before.cures.p_cured((job,))
