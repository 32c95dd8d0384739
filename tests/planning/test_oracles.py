"""The table model of what checks show."""

import numpy as np
import pytest
from support.situations import single_causes
from support.table_oracle import TableOracle

from shiftlore.basics import ImpossibleEvidence, UnknownId
from shiftlore.planning import Outcomes, join_outcomes

HYPOTHESES = single_causes(["a", "b", "c"])
READING = Outcomes(("low", "normal"), np.array([[0.1, 0.8, 0.3], [0.9, 0.2, 0.7]]))
SMELL = Outcomes(("burnt", "clean"), np.array([[0.5, 0.0, 1.0], [0.5, 1.0, 0.0]]))
ORACLE = TableOracle(HYPOTHESES, np.array([0.5, 0.3, 0.2]), {"pressure": READING, "smell": SMELL})


def test_after__bayes_by_hand():
    # .5*.1, .3*.8, .2*.3 over .35
    assert [1 / 7, 24 / 35, 6 / 35] == pytest.approx(ORACLE.after("pressure", 0).belief, abs=1e-12)


def test_after__order_of_answers_does_not_matter():
    one = ORACLE.after("pressure", 0).after("smell", 0).belief
    assert one == pytest.approx(ORACLE.after("smell", 0).after("pressure", 0).belief, abs=1e-12)


def test_persists__failed_repair_moves_the_weight_elsewhere():
    assert [0.0, 0.6, 0.4] == pytest.approx(ORACLE.persists(np.array([0.0, 1.0, 1.0])).belief, abs=1e-12)


def test_persists__cured_for_sure_cannot_persist():
    with pytest.raises(ImpossibleEvidence):
        ORACLE.persists(np.zeros(3))


def test_outcomes__unknown_check():
    with pytest.raises(UnknownId, match="stall"):
        ORACLE.outcomes("stall")


def test_join_outcomes__joint_sums_to_one_and_names_both():
    joint = join_outcomes([READING, SMELL])
    assert ("low; burnt", "low; clean", "normal; burnt", "normal; clean") == joint.labels
    assert [1.0, 1.0, 1.0] == pytest.approx(joint.likelihoods.sum(axis=0), abs=1e-12)


def test_join_outcomes__as_one_after_the_other():
    joint = join_outcomes([READING, SMELL]).likelihoods * ORACLE.belief
    step_by_step = ORACLE.after("pressure", 1).after("smell", 0).belief
    assert step_by_step == pytest.approx(joint[2] / joint[2].sum(), abs=1e-12)


def _draw_outcomes(rng, count=3):
    table = rng.dirichlet(np.ones(count), 3).T
    return Outcomes(tuple(f"o{i}" for i in range(count)), table, tuple({"f": f"g{i}"} for i in range(count)))


@pytest.mark.parametrize("seed", range(10))
def test_join_outcomes__law_each_part_is_found_again_by_summing(seed):
    rng = np.random.default_rng(seed)
    one, two = _draw_outcomes(rng, 2), _draw_outcomes(rng, 4)
    joint = join_outcomes([one, two]).likelihoods.reshape(2, 4, 3)
    assert one.likelihoods == pytest.approx(joint.sum(axis=1), abs=1e-12)
    assert two.likelihoods == pytest.approx(joint.sum(axis=0), abs=1e-12)


def test_join_outcomes__answers_of_both_stand_in_each():
    one = Outcomes(("a", "b"), np.full((2, 3), 0.5), ({"level": "low"}, {"level": "right"}))
    two = Outcomes(("c", "d"), np.full((2, 3), 0.5), ({"smell": "yes"}, {"smell": "no"}))
    assert {"level": "low", "smell": "no"} == join_outcomes([one, two]).answers[1]


def test_join_outcomes__one_alone_stays_as_it_is():
    assert READING is join_outcomes([READING])
