"""A unit set up for simulation."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.trade import shipped, unit_of

from shiftlore.basics import UsageProblem
from shiftlore.simulating.unit_bench import CHECKS_PRICED, QUESTIONS, WorkState, choose_on_bench, set_up_bench


@cache
def _bench():
    return set_up_bench(unit_of())


def _state(evidence=None):
    situation = _bench().situation
    done, checked = np.zeros(len(situation.jobs), dtype=bool), np.zeros(len(situation.checks), dtype=bool)
    return _bench().believe(WorkState(evidence or {}, np.zeros(0), 0, checked, done))


def test_believe__nothing_known_is_the_prior():
    prior = _bench().weighing.gather(_bench().compiled.faults.prior)
    assert prior == pytest.approx(_state().belief, abs=1e-9)


def test_believe__failed_job_moves_belief_away_from_its_causes():
    job = _bench().situation.job_index("overhaul")
    done = _state().done.copy()
    done[job] = True
    after = _bench().believe(replace(_state(), done=done))
    touched = _bench().touches[job]
    assert touched @ after.belief < touched @ _state().belief


def test_telling_checks__at_most_so_many_and_none_twice():
    checks = _bench().telling_checks(_state(), np.arange(50))
    assert CHECKS_PRICED >= len(checks) == len(set(checks))


def test_telling_checks__what_is_known_is_not_checked():
    finding = _bench().layouts[_bench().situation.checks[0].id].combined[0].finding
    assert 0 not in _bench().telling_checks(_state({finding: 0}), np.arange(50))


def test_choose_on_bench__gives_something_to_do():
    assert choose_on_bench(_bench(), _state()).kind in ("check", "job")


def test_asked__questions_only_to_the_owner():
    records = unit_of().expansion.finding_records
    assert QUESTIONS == len(_bench().asked)
    assert all(records[name].got_by in ("owner", "history") for name in _bench().asked)


def test_set_up_bench__without_a_shop():
    with pytest.raises(UsageProblem, match="no shop"):
        set_up_bench(replace(unit_of(), knowledge=replace(shipped(), shop=None)))
