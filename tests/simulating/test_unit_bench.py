"""A unit set up for simulation."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.trade import shipped, unit_of

from shiftlore.advising.situations import prepare_situation
from shiftlore.basics import UsageProblem
from shiftlore.cases import Case
from shiftlore.compiling import compile_beforehand
from shiftlore.planning import choose_step
from shiftlore.simulating.unit_bench import QUESTIONS, WorkState, decide_next, set_up_bench


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


def test_list_open__what_is_known_is_not_checked():
    finding = _bench().layouts[_bench().situation.checks[0].id].combined[0].finding
    order = np.arange(len(_bench().situation.checks))
    assert 0 in _bench().list_open(_state(), order)
    assert 0 not in _bench().list_open(_state({finding: 0}), order)


def test_decide_next__says_what_next_says_of_the_same_answers():
    """The planner that is simulated is the one that is used: same first steps at the same prices."""
    told = {"slips_gear_2": "yes", "fluid_smell_burnt": "no"}
    nodes = unit_of().expansion.findings
    evidence = {finding: nodes[finding].grades.index(grade) for finding, grade in told.items()}
    decided = decide_next(_bench(), _state(evidence))
    prepared = prepare_situation(compile_beforehand(unit_of(), Case("long5")).with_evidence(evidence))
    asked = choose_step(prepared.situation, prepared.oracle)
    assert [step.ids for step in asked.steps[:5]] == [step.ids for step in decided.steps[:5]]
    prices = [step.expected_total for step in asked.steps[:5]]
    assert prices == pytest.approx([step.expected_total for step in decided.steps[:5]], rel=1e-6)


def test_asked__questions_only_to_the_owner():
    records = unit_of().expansion.finding_records
    assert QUESTIONS == len(_bench().asked)
    assert all(records[name].got_by in ("owner", "history") for name in _bench().asked)


def test_set_up_bench__without_a_shop():
    with pytest.raises(UsageProblem, match="no shop"):
        set_up_bench(replace(unit_of(), knowledge=replace(shipped(), shop=None)))
