"""Vehicles with two faults at once: whether both are seen."""

from functools import cache

import numpy as np
import pytest
from support.pairs import Cards, Pair
from support.trade import unit_of

SAMPLE = 80


@cache
def sampled() -> tuple[Pair, ...]:
    """Rank a sample of pairs of job cards of the five-speed."""
    cards = Cards(unit_of("long5"))
    pairs = cards.list_pairs()
    chosen = np.random.default_rng(9).choice(len(pairs), SAMPLE, replace=False)
    return tuple(cards.rank(*pairs[i]) for i in chosen.tolist())


def test_rank_causes__both_of_two_faults_are_among_the_first_four() -> None:
    """Of all pairs of forty cards both are among the first four in 97 % and more (`benchmarks/bench_pairs.py`)."""
    missed = [pair for pair in sampled() if max(pair.places) > 4]
    assert 0.9 <= 1 - len(missed) / SAMPLE, missed


def test_rank_causes__one_of_two_faults_leads() -> None:
    """Whoever starts with the first of the list is right nearly always."""
    assert 0.9 <= sum(1 in pair.places for pair in sampled()) / SAMPLE


def test_compile_case__little_is_left_out_where_two_faults_are_at_work() -> None:
    left_out = [pair.left_out for pair in sampled()]
    assert 0.1 > float(np.median(left_out))
    assert 0.25 > float(np.percentile(left_out, 95))


def test_compile_case__no_case_has_more_hypotheses_than_there_is_room_for() -> None:
    assert 160 >= max(pair.n_sets for pair in sampled())


@pytest.mark.parametrize("first", range(3))
def test_rank_causes__a_card_joined_with_another_still_answers_as_both_did(first: int) -> None:
    """The joined case holds every sign that either card shows."""
    cards = Cards(unit_of("long5"), 5)
    one, other = cards.list_pairs()[first]
    joined = cards.join(one, other)
    for card in (one, other):
        for answer in cards.singles[card.id].answers:
            grades = cards.unit.expansion.findings[answer.finding].grades
            if answer.grade != grades[0]:
                assert grades.index(joined.findings[answer.finding].grade) >= grades.index(answer.grade)
