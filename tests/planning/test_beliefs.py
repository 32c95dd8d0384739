"""Hypotheses of one or several causes, what jobs leave of them, and which faults they stand for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.situations import single_causes
from support.trade import slipping

from shiftlore.basics import UsageProblem
from shiftlore.planning import Hypotheses
from shiftlore.planning.beliefs import NOTHING_WRONG, SOMETHING_ELSE, weigh_faults

PAIR = Hypotheses(("a", "b"), ((0,), (1,), (0, 1)))


def test_uncured__a_pair_is_cured_only_when_both_are_put_right():
    assert [0.0, 1.0, 1.0] == pytest.approx(PAIR.uncured(np.array([0.0, 1.0])), abs=1e-12)
    assert [0.0, 0.0, 0.0] == pytest.approx(PAIR.uncured(np.array([0.0, 0.0])), abs=1e-12)


def test_uncured__imperfect_jobs_on_a_pair():
    # 1 - (1 - .1)(1 - .2), by hand
    assert pytest.approx(0.28, abs=1e-12) == PAIR.uncured(np.array([0.1, 0.2]))[2]


def test_persist__half_cured_pair_becomes_the_other_cause():
    assert [0.0, 0.8, 0.0] == pytest.approx(PAIR.persist(np.array([0.2, 0.3, 0.5]), np.array([0.0, 1.0])), abs=1e-12)


@given(st.lists(st.floats(0, 1), min_size=2, max_size=2), st.lists(st.floats(0.01, 1), min_size=3, max_size=3))
def test_persist__law_what_is_lost_is_the_probability_of_a_cure(missed, weights):
    missed, weights = np.array(missed), np.array(weights)
    assert weights @ PAIR.uncured(missed) == pytest.approx(PAIR.persist(weights, missed).sum(), abs=1e-12)


def test_persist__remainder_must_be_a_hypothesis():
    lonely_pair = Hypotheses(("a", "b"), ((0, 1),))
    with pytest.raises(UsageProblem, match="must be a hypothesis"):
        lonely_pair.persist(np.ones(1), np.array([0.0, 1.0]))


def test_cause_probabilities__a_pair_counts_for_both():
    assert [0.7, 0.8] == pytest.approx(PAIR.cause_probabilities(np.array([0.2, 0.3, 0.5])), abs=1e-12)


def test_is_single__only_without_pairs():
    assert single_causes(["a", "b"]).is_single
    assert not PAIR.is_single


@pytest.mark.parametrize("member", [(), (2,), (-1,)])
def test_hypotheses__member_out_of_range(member):
    with pytest.raises(UsageProblem):
        Hypotheses(("a", "b"), (member,))


MEMBERS = ((), (0,), (1,), (2,), (0, 1))
P = np.array([0.1, 0.4, 0.2, 0.05, 0.25])


def test_weigh_faults__keeps_pairs_and_their_single_causes():
    weighing = weigh_faults("abc", MEMBERS, np.array([0.1, 0.6, 0.0, 0.0, 0.3]), most=2)
    assert ("a", "b", NOTHING_WRONG, SOMETHING_ELSE) == weighing.hypotheses.causes
    assert ((0,), (1,), (2,), (0, 1), (3,)) == weighing.hypotheses.members


def test_weigh_faults__keeps_what_is_left_of_three_after_one_was_put_right():
    members = ((), (0,), (1,), (2,), (0, 1), (0, 2), (1, 2), (0, 1, 2))
    weighing = weigh_faults("abc", members, np.array([0.1, 0.2, 0.0, 0.0, 0.0, 0.0, 0.0, 0.7]), most=3)
    assert {(0, 1), (0, 2), (1, 2), (0, 1, 2)} <= set(weighing.hypotheses.members)
    p = np.full(len(members), 1 / len(members))
    left = weighing.hypotheses.persist(weighing.gather(p), np.array([0.0, 1.0, 1.0, 1.0, 1.0]))
    # Source: counted by hand: a is put right; b, c and both of them stay, each alone or with a; so does none.
    assert [2 / 8, 2 / 8, 2 / 8, 1 / 8] == pytest.approx(
        [left[i] for i in map(weighing.hypotheses.members.index, ((1,), (2,), (1, 2), (3,)))]
    )


def test_gather__sums_up_to_hypotheses():
    weighing = weigh_faults("abc", MEMBERS, P, least=0.1)
    # a, b, nothing found, a and b, something else (c)
    assert [0.4, 0.2, 0.1, 0.25, 0.05] == pytest.approx(weighing.gather(P), abs=1e-12)


def test_average__lump_by_probability():
    weighing = weigh_faults("abc", MEMBERS, P, least=0.3)
    # kept: a; lumped: b .2, c .05, pair .25
    values = np.array([9.0, 1.0, 2.0, 4.0, 6.0])
    assert [1.0, 9.0, (0.2 * 2 + 0.05 * 4 + 0.25 * 6) / 0.5] == pytest.approx(weighing.average(values), abs=1e-12)


def test_average__everything_kept_leaves_no_gap():
    weighing = weigh_faults("abc", MEMBERS, P, most=9, least=0.0)
    assert np.isfinite(weighing.average(np.ones(5))).all()


def test_cure__a_lumped_pair_needs_both_cured():
    weighing = weigh_faults("abc", MEMBERS, P, least=0.3)
    # a .9; nothing found 0; lump: b .5, c 0, pair .9 * .5
    lump = (0.2 * 0.5 + 0.25 * 0.45) / 0.5
    assert [0.9, 0.0, lump] == pytest.approx(weighing.cure(np.array([0.9, 0.5, 0.0])), abs=1e-12)


def test_weigh_faults__on_a_case_little_is_lumped():
    compiled = slipping()
    weighing = weigh_faults(compiled.causes, compiled.faults.members, compiled.p_faults)
    assert 0.1 > weighing.gather(compiled.p_faults)[-1]
    assert 120 > len(weighing.hypotheses.members)


@st.composite
def _faults(draw):
    """Faults over four causes with their probabilities, and how they are kept."""
    members = ((), (0,), (1,), (2,), (3,), (0, 1), (1, 3))
    p = np.array(draw(st.lists(st.floats(0.001, 1.0), min_size=7, max_size=7)))
    return members, p / p.sum(), draw(st.integers(1, 7)), draw(st.floats(0.0, 0.3))


@given(_faults())
def test_gather__law_no_probability_is_lost(drawn):
    members, p, most, least = drawn
    weighing = weigh_faults("abcd", members, p, most=most, least=least)
    assert 1.0 == pytest.approx(weighing.gather(p).sum(), abs=1e-12)
    assert len(members) == len(weighing.owner)


@given(_faults())
def test_average__law_the_mean_over_faults_is_the_mean_over_hypotheses(drawn):
    members, p, most, least = drawn
    weighing = weigh_faults("abcd", members, p, most=most, least=least)
    values = np.arange(7.0)
    assert p @ values == pytest.approx(weighing.gather(p) @ weighing.average(values), abs=1e-12)


@given(_faults(), st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4))
def test_cure__law_the_chance_of_a_cure_is_that_over_all_faults(drawn, cures):
    """Kept faults are cured as they are, the lump on average: nothing is lost by keeping few."""
    members, p, most, least = drawn
    weighing = weigh_faults("abcd", members, p, most=most, least=least)
    over_faults = sum(
        weight * np.prod([cures[i] for i in member]) for weight, member in zip(p, members, strict=True) if member
    )
    belief = weighing.gather(p)
    over_hypotheses = 1.0 - belief @ weighing.hypotheses.uncured(1.0 - weighing.cure(np.array(cures)))
    assert over_faults == pytest.approx(over_hypotheses, abs=1e-9)


@given(_faults())
def test_weigh_faults__law_what_is_left_of_a_pair_is_a_hypothesis_too(drawn):
    members, p, most, least = drawn
    weighing = weigh_faults("abcd", members, p, most=most, least=least)
    n = len(weighing.hypotheses.causes)
    left = weighing.hypotheses.persist(weighing.gather(p), np.full(n, 0.5))
    assert np.all(left >= 0.0) and left.sum() < 1.0


@given(_faults())
def test_told_probabilities__law_as_a_ranking_of_all_faults_tells_them(drawn):
    """54 % at the head of a ranking was 51 % in the next steps, for what stands in the lump was left out."""
    members, p, most, least = drawn
    weighing = weigh_faults("abcd", members, p, most=most, least=least)
    told = weighing.hypotheses.told_probabilities(weighing.gather(p))
    ranked = [sum(p[fault] for fault, member in enumerate(members) if cause in member) for cause in weighing.kept]
    assert ranked == pytest.approx(told[: len(ranked)], abs=1e-12)
    assert weighing.hypotheses.cause_probabilities(weighing.gather(p))[-2:] == pytest.approx(told[-2:])
