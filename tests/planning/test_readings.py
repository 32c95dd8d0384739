"""What checks show, alone and together."""

import numpy as np
import pytest
from support.situations import single_causes
from support.table_oracle import TableOracle

from shiftlore.basics import ImpossibleEvidence, UnknownId
from shiftlore.planning import Outcomes, join_outcomes
from shiftlore.planning.readings import (
    MOST_OUTCOMES,
    lay_out,
    normalise,
    tabulate_check,
    tabulate_grades,
    weigh_outcomes,
)

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


BELIEF = np.array([0.5, 0.5])


def _finding(name, p_yes, grades=("no", "yes")):
    rows = np.array([1 - np.array(p_yes), p_yes])
    return tabulate_grades({name: grades}, rows, BELIEF)[name]


def _outcomes(*findings):
    layout = lay_out(findings)
    return tabulate_check(layout)


def test_tabulate_grades__nats_of_a_telling_reading():
    # mutual information of a symmetric channel with error .1: ln 2 - h(.1), by hand
    expected = np.log(2) + 0.1 * np.log(0.1) + 0.9 * np.log(0.9)
    assert pytest.approx(expected, abs=1e-9) == _finding("f", [0.1, 0.9]).nats


def test_lay_out__what_tells_nothing_is_left_out():
    assert lay_out([_finding("f", [0.3, 0.3])]) is None


def test_tabulate_check__one_finding_is_its_grades():
    outcomes = _outcomes(_finding("f", [0.1, 0.9]))
    assert (("f=no", "f=yes"), ({"f": "no"}, {"f": "yes"})) == (outcomes.labels, outcomes.answers)
    assert [[0.9, 0.1], [0.1, 0.9]] == pytest.approx(outcomes.likelihoods, abs=1e-9)


def test_tabulate_check__two_findings_in_every_combination():
    outcomes = _outcomes(_finding("f", [0.1, 0.9]), _finding("g", [0.2, 0.6]))
    place = outcomes.answers.index({"f": "yes", "g": "no"})
    assert [0.1 * 0.8, 0.9 * 0.4] == pytest.approx(outcomes.likelihoods[place], abs=1e-9)


def test_tabulate_check__many_findings_stay_few_outcomes():
    findings = [_finding(f"f{i}", [0.02, 0.1 + 0.05 * i]) for i in range(12)]
    outcomes = _outcomes(*findings)
    assert MOST_OUTCOMES >= len(outcomes.labels)
    assert [1.0, 1.0] == pytest.approx(outcomes.likelihoods.sum(axis=0), abs=1e-9)


def test_tabulate_check__first_unsound_one_is_told_apart():
    findings = [_finding(f"f{i}", [0.01, 0.9 - 0.1 * i]) for i in range(4)]
    outcomes = _outcomes(*findings)
    assert 12 == len(outcomes.labels)
    last = [said for said in outcomes.answers if said["f0"] == said["f1"] == "no"]
    expected = [
        {"f0": "no", "f1": "no", "f2": "yes"},
        {"f0": "no", "f1": "no", "f2": "no", "f3": "yes"},
        {"f0": "no", "f1": "no", "f2": "no", "f3": "no"},
    ]
    assert expected == last


def test_tabulate_check__lumping_never_tells_more_than_the_whole():
    findings = [_finding(f"f{i}", [0.05, 0.5]) for i in range(6)]
    outcomes = _outcomes(*findings)
    joint = outcomes.likelihoods * BELIEF
    nats = float((joint * np.log(outcomes.likelihoods / (outcomes.likelihoods @ BELIEF)[:, None])).sum())
    assert nats <= sum(finding.nats for finding in findings) + 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_tabulate_check__law_outcomes_share_out_all_probability(seed):
    rng = np.random.default_rng(seed)
    findings = [_finding(f"f{i}", rng.uniform(0.01, 0.99, 2)) for i in range(int(rng.integers(1, 9)))]
    layout = lay_out(findings)
    if layout is None:
        return
    outcomes = tabulate_check(layout)
    assert [1.0, 1.0] == pytest.approx(outcomes.likelihoods.sum(axis=0), abs=1e-9)
    assert len(set(outcomes.labels)) == len(outcomes.labels) == len(outcomes.answers)


@pytest.mark.parametrize("seed", range(20))
def test_lay_out__law_the_most_telling_finding_is_always_told_apart(seed):
    rng = np.random.default_rng([1, seed])
    findings = [_finding(f"f{i}", rng.uniform(0.01, 0.99, 2)) for i in range(6)]
    best = max(findings, key=lambda table: table.nats)
    assert best.finding == lay_out(findings).combined[0].finding


@pytest.mark.parametrize("seed", range(10))
def test_tabulate_grades__law_knowing_less_than_the_cause_itself(seed):
    rng = np.random.default_rng([2, seed])
    table = _finding("f", rng.uniform(0.0, 1.0, 2))
    entropy = -float(BELIEF @ np.log(BELIEF))
    assert -1e-12 <= table.nats <= entropy + 1e-12


def test_normalise__nothing_is_quite_impossible():
    table = normalise(np.array([[0.0, 2.0], [1.0, 2.0]]))
    assert table[0, 0] > 0.0
    assert [1.0, 1.0] == pytest.approx(table.sum(axis=0), abs=1e-15)


def test_weigh_outcomes__are_those_of_the_named_ones():
    layout = lay_out([_finding("f", [0.1, 0.9]), _finding("g", [0.4, 0.5]), _finding("h", [0.2, 0.6])])
    assert np.array_equal(tabulate_check(layout).likelihoods, weigh_outcomes(layout))


def test_tabulate_grades__several_findings_as_one_by_one():
    rows = np.array([[0.9, 0.1], [0.1, 0.9], [0.5, 0.2], [0.3, 0.3], [0.2, 0.5]])
    grades = {"f": ("no", "yes"), "level": ("right", "low", "high")}
    both = tabulate_grades(grades, rows, BELIEF)
    alone = [
        tabulate_grades({"f": grades["f"]}, rows[:2], BELIEF),
        tabulate_grades({"level": grades["level"]}, rows[2:], BELIEF),
    ]
    for one in (alone[0]["f"], alone[1]["level"]):
        assert one.likelihoods == pytest.approx(both[one.finding].likelihoods, abs=1e-12)
        assert one.nats == pytest.approx(both[one.finding].nats, abs=1e-12)
