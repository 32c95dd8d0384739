"""What is left of faults after work that did not help, against enumeration of what each job put right."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.basics import UsageProblem
from shiftlore.network import Survival, join_kept, keep_after

SINGLES = Survival(((0,), (1,), (2,)), 3)
PAIR = Survival(((0,), (1,), (0, 1)), 2)
WITH_NONE = Survival(((), (0,), (1,), (0, 1)), 2)
TRIPLE = Survival(((), (0,), (1,), (2,), (0, 1), (0, 2), (1, 2), (0, 1, 2)), 3)
CHANCES = st.lists(st.floats(0.0, 1.0), min_size=3, max_size=3)
WEIGHTS = st.lists(st.floats(0.01, 1.0), min_size=8, max_size=8)


def enumerate_left(survival: Survival, weights: np.ndarray, missed: np.ndarray) -> np.ndarray:
    """Go through every way in which the work can turn out, by the definition."""
    left = np.zeros(len(weights))
    place = {frozenset(item): i for i, item in enumerate(survival.sets)}
    for survives in product((True, False), repeat=survival.n_faults):
        p = np.prod([missed[i] if stays else 1 - missed[i] for i, stays in enumerate(survives)])
        for weight, item in zip(weights, survival.sets, strict=True):
            rest = frozenset(fault for fault in item if survives[fault])
            if rest or not item:
                left[place[rest]] += p * weight
    return left


@given(WEIGHTS, CHANCES)
def test_carry_over__equals_every_way_of_turning_out(weights: list[float], missed: list[float]) -> None:
    expected = enumerate_left(TRIPLE, np.array(weights), np.array(missed))
    assert expected == pytest.approx(TRIPLE.carry_over(np.array(weights), np.array(missed)), abs=1e-12)


@given(WEIGHTS, CHANCES)
def test_carry_over__what_is_lost_is_the_probability_of_a_cure(weights: list[float], missed: list[float]) -> None:
    left = TRIPLE.carry_over(np.array(weights), np.array(missed))
    assert np.array(weights) @ TRIPLE.persists(np.array(missed)) == pytest.approx(left.sum(), abs=1e-12)


@given(WEIGHTS, CHANCES, CHANCES)
def test_carry_over__two_jobs_one_after_the_other_are_both_at_once(
    weights: list[float], first: list[float], second: list[float]
) -> None:
    """Holds because what a job leaves does not depend on the others."""
    one_by_one = TRIPLE.carry_over(TRIPLE.carry_over(np.array(weights), np.array(first)), np.array(second))
    at_once = TRIPLE.carry_over(np.array(weights), np.array(first) * np.array(second))
    assert at_once == pytest.approx(one_by_one, abs=1e-12)


@given(st.lists(st.floats(0.01, 1), min_size=3, max_size=3))
def test_carry_over__what_was_put_right_is_sound_and_the_others_keep_their_odds(weights: list[float]) -> None:
    """Source: Breese and Heckerman 1996, repair and watch."""
    left = SINGLES.carry_over(np.array(weights), np.array([0.0, 1.0, 1.0]))
    assert 0.0 == left[0]
    assert weights[1] / weights[2] == pytest.approx(left[1] / left[2], rel=1e-9)


def test_carry_over__old_evidence_stays_with_the_state_before_the_work() -> None:
    """Weighing the old symptom before the repair, or deleting it with what was repaired, are not the same."""
    prior, p_old, missed = np.array([0.5, 0.3, 0.2]), np.array([0.9, 0.1, 0.6]), np.array([0.0, 1.0, 1.0])
    kept, deleted = SINGLES.carry_over(prior * p_old, missed), SINGLES.carry_over(prior, missed)
    assert [0.0, 0.2, 0.8] == pytest.approx(kept / kept.sum(), abs=1e-12)
    assert [0.0, 0.6, 0.4] == pytest.approx(deleted / deleted.sum(), abs=1e-12)


def test_carry_over__imperfect_work_leaves_some_weight() -> None:
    left = SINGLES.carry_over(np.array([0.5, 0.3, 0.2]), np.array([0.1, 1.0, 1.0]))
    assert [0.05, 0.3, 0.2] == pytest.approx(left, abs=1e-12)


def test_carry_over__one_of_a_pair_put_right_leaves_the_other() -> None:
    assert [0.0, 0.8, 0.0] == pytest.approx(PAIR.carry_over(np.array([0.2, 0.3, 0.5]), np.array([0.0, 1.0])), abs=1e-12)


def test_carry_over__where_nothing_is_wrong_nothing_can_be_put_right() -> None:
    left = WITH_NONE.carry_over(np.array([0.1, 0.4, 0.3, 0.2]), np.array([0.0, 1.0]))
    assert [0.1, 0.0, 0.5, 0.0] == pytest.approx(left, abs=1e-12)


def test_carry_over__rows_as_one_by_one() -> None:
    rows, missed = np.random.default_rng(4).dirichlet(np.ones(8), (3, 2)), np.array([0.3, 0.9, 0.0])
    alone = np.array([[TRIPLE.carry_over(row, missed) for row in block] for block in rows])
    assert alone == pytest.approx(TRIPLE.carry_over(rows, missed), abs=1e-15)


def test_carry_over__remainder_must_be_listed() -> None:
    lonely = Survival(((0, 1),), 2)
    with pytest.raises(UsageProblem, match="must be a hypothesis"):
        lonely.carry_over(np.ones(1), np.array([0.0, 1.0]))
    assert [0.5] == pytest.approx(lonely.carry_over(np.ones(1), np.array([1.0, 1.0])) / 2, abs=1e-12)


def test_persists__all_of_a_set_must_be_put_right() -> None:
    """1 - (1 - .1)(1 - .2), by hand; an empty set persists for sure."""
    assert [1.0, 0.1, 0.2, 0.28] == pytest.approx(WITH_NONE.persists(np.array([0.1, 0.2])), abs=1e-12)


def test_persists__many_rows_at_once() -> None:
    missed = np.random.default_rng(2).random((4, 3))
    assert [TRIPLE.persists(row).tolist() for row in missed] == TRIPLE.persists(missed).tolist()


def test_is_single__only_without_pairs_and_empty_sets() -> None:
    assert [True, False, False] == [item.is_single for item in (SINGLES, PAIR, WITH_NONE)]


def test_join_kept__of_one_kind_the_surest_counts_and_kinds_multiply():
    kept = np.array([[0.5, 1.0], [0.2, 0.9], [0.4, 0.5]])
    assert [0.2 * 0.4, 0.9 * 0.5] == pytest.approx(join_kept(kept, np.array([0, 0, -1])), abs=1e-12)
    assert [0.5 * 0.2 * 0.4, 0.9 * 0.5] == pytest.approx(join_kept(kept, np.array([-1, -1, -1])), abs=1e-12)


@given(st.lists(st.tuples(st.floats(0, 1), st.integers(-1, 1)), min_size=1, max_size=6))
def test_join_kept__law_in_turn_is_that_of_every_beginning(jobs):
    kept, kinds = np.array([[p] for p, _ in jobs]), np.array([kind for _, kind in jobs])
    whole = [join_kept(kept[:m], kinds[:m])[0] for m in range(1, len(jobs) + 1)]
    assert whole == pytest.approx(join_kept(kept, kinds, in_turn=True)[:, 0], abs=1e-12)


@given(st.floats(0.01, 1), st.floats(0, 1))
def test_keep_after__law_failed_once_and_then_again_is_failed_both(failed, kept):
    assert min(failed, kept) == pytest.approx(failed * float(keep_after(np.array(kept), np.array(failed))), abs=1e-12)
