"""What may be wrong, as states of one root."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import compiled_of, shipped, small_case, small_unit

from shiftlore.compiling import NONE, Chances
from shiftlore.compiling.faults import P_BROUGHT_ON, close_sets, list_likeliest, list_pairs, make_faults, weigh_chances

TOTAL, NOTHING = 1.15, 0.04
WEIGHTS = st.lists(st.floats(1e-6, 10), min_size=6, max_size=6)


def chances_of(weights: list[float] | None = None, total: float = TOTAL) -> Chances:
    """Weigh the causes of the small knowledge."""
    expansion = small_unit().expansion
    shares = dict(zip(expansion.causes, weights or [1.0] * len(expansion.causes), strict=True))
    return weigh_chances(expansion, shares, total, NOTHING)


def all_sets(chances: Chances) -> list[tuple[int, ...]]:
    """List every set of two and three causes."""
    return [member for size in (2, 3) for member in combinations(range(len(chances.causes)), size)]


@given(WEIGHTS, st.floats(0.9, 1.4))
def test_weigh_chances__all_sets_together_are_certain(weights: list[float], total: float) -> None:
    chances = chances_of(weights, total)
    n = len(chances.causes)
    parts = [chances.chance_of(()), *(chances.chance_of((i,)) for i in range(n))]
    assert 1 == pytest.approx(sum(parts) + sum(chances.chance_of(member) for member in all_sets(chances)), abs=1e-9)


@given(st.floats(0.96, 1.46))
def test_weigh_chances__expects_as_many_faults_as_the_trade_says(total: float) -> None:
    chances = chances_of(total=total)
    assert total == pytest.approx(chances.p_one + 2 * chances.p_two + 3 * chances.p_three, abs=1e-12)
    assert chances.p_two**2 == pytest.approx(chances.p_three, abs=1e-15)


def test_weigh_chances__without_room_for_two_faults_there_are_none() -> None:
    chances = chances_of(total=1 - NOTHING)
    assert (0.0, 0.0) == pytest.approx((chances.p_two, chances.p_three), abs=1e-15)
    assert 1 - NOTHING == pytest.approx(chances.p_one, abs=1e-12)


def test_weigh_chances__one_that_the_other_brings_on_is_likelier_beside_it() -> None:
    chances = chances_of()
    place = {cause: i for i, cause in enumerate(chances.causes)}
    pump, one, other = place["worn_pump"], place["worn_lining_c0"], place["worn_lining_c1"]
    brought, met = (chances.chance_of(tuple(sorted(pair))) for pair in ((pump, one), (one, other)))
    assert P_BROUGHT_ON == pytest.approx(brought / met * chances.weights[other] / chances.weights[pump], abs=1e-9)
    assert {tuple(sorted((pump, i))) for cause, i in place.items() if cause != "worn_pump"} == set(chances.brought_on)


@given(WEIGHTS)
def test_of_pairs__all_together_have_the_chance_of_two(weights: list[float]) -> None:
    chances = chances_of(weights)
    first, second, _, place = list_pairs(len(chances.causes))
    assert chances.p_two == pytest.approx(chances.of_pairs(first, second).sum(), rel=1e-9)
    assert list(range(len(first))) == place[first, second].tolist()


def test_beyond_chance__is_what_those_that_bring_each_other_on_have_more() -> None:
    chances = chances_of()
    first, second, more = chances.beyond_chance
    assert chances.of_pairs(first, second) * (1 - 1 / P_BROUGHT_ON) == pytest.approx(more, rel=1e-12)


def test_sum_over_groups__a_set_counts_once_for_each_of_its_groups() -> None:
    faults = make_faults(chances_of(), [(0, 1), (0, 2), (1, 2, 3)])
    p = np.arange(1.0, len(faults.prior) + 1) / 1000
    group_of = np.array([0, 0, 1, 2, 2, 2])
    outside = [faults.spread_over_states((group_of != group).astype(float)) for group in range(3)]
    assert [float(p @ (1 - out)) for out in outside] == pytest.approx(faults.sum_over_groups(p, group_of, 3).tolist())


@given(WEIGHTS)
def test_beside__a_third_is_as_likely_whichever_pair_it_joins(weights: list[float]) -> None:
    chances = chances_of(weights)
    for first, second, third in [(0, 1, 2), (1, 3, 5)]:
        expected = chances.beside((first, second))[third]
        assert expected == pytest.approx(chances.beside((third, first))[second], rel=1e-9)
        assert expected == pytest.approx(chances.chance_of((first, second, third)), rel=1e-9)
    assert [0.0, 0.0] == chances.beside((2, 4))[[2, 4]].tolist()


def test_make_faults__nothing_known_comes_first_then_causes_then_sets() -> None:
    chances = chances_of()
    faults = make_faults(chances, [(0, 1), (0, 1, 2)])
    assert (NONE, ()) == (faults.names[0], faults.members[0])
    assert list(chances.causes) == list(faults.names[1:7])
    assert ("+".join(chances.causes[:2]), "+".join(chances.causes[:3])) == faults.names[7:]
    assert ((0, 1), (0, 1, 2)) == faults.sets


@given(WEIGHTS)
def test_make_faults__what_is_not_listed_is_shared_out_in_proportion(weights: list[float]) -> None:
    chances = chances_of(weights)
    faults = make_faults(chances, [(0, 1)])
    assert 1 == pytest.approx(faults.prior.sum(), abs=1e-12)
    assert NOTHING == pytest.approx(faults.prior[0], abs=1e-9)
    assert chances.chance_of((0, 1)) == pytest.approx(faults.prior[7], abs=1e-9)
    assert list(chances.weights) == pytest.approx(faults.prior[1:7] / faults.prior[1:7].sum(), abs=1e-9)


def test_make_faults__all_listed_leaves_singles_their_own_chance() -> None:
    chances = chances_of()
    faults = make_faults(chances, all_sets(chances))
    assert chances.p_one * chances.weights == pytest.approx(faults.prior[1:7], abs=1e-12)


def test_make_faults__absorbs_what_it_is_told() -> None:
    chances = chances_of()
    faults = make_faults(chances, [], np.array([0.5, 0, 0, 0, 0, 0]))
    expected = (chances.p_one * chances.weights[0] + 0.5) / (chances.p_none + chances.p_one + 0.5)
    assert expected == pytest.approx(faults.prior[1], abs=1e-12)


def test_list_likeliest__the_pairs_of_the_highest_chance() -> None:
    chances = chances_of([6.0, 5.0, 4.0, 3.0, 2.0, 1.0])
    listed = list_likeliest(chances, 4)
    ranked = sorted(combinations(range(6), 2), key=lambda pair: -chances.chance_of(pair))
    assert set(ranked[:4]) == set(listed.sets)
    assert 15 == len(list_likeliest(chances).sets), "there are no more"
    assert 1 == pytest.approx(listed.prior.sum(), abs=1e-12)


def test_close_sets__a_repair_of_one_of_three_leaves_a_listed_pair() -> None:
    closed = close_sets([(4, 7), (1, 2, 3), (1, 2)])
    assert [(1, 2), (1, 3), (2, 3), (4, 7), (1, 2, 3)] == closed
    assert closed == close_sets(closed)


def test_survival__of_three_faults_one_put_right() -> None:
    chances = chances_of()
    faults = make_faults(chances, close_sets([(0, 1, 2)]))
    weights = np.zeros(len(faults.members))
    weights[faults.members.index((0, 1, 2))] = 1.0
    missed = np.ones(6)
    missed[1] = 0.0
    left = faults.survival.carry_over(weights, missed)
    assert 1.0 == pytest.approx(left[faults.members.index((0, 2))], abs=1e-12)


def listed_faults():
    """The small knowledge's causes with some sets of two and three."""
    return make_faults(chances_of(), close_sets([(0, 1, 2), (3, 5)]))


def test_sum_over_causes__equals_adding_up_by_hand() -> None:
    faults = listed_faults()
    p = np.random.default_rng(1).dirichlet(np.ones(len(faults.members)), 3)
    by_hand = [[sum(row[k] for k, member in enumerate(faults.members) if i in member) for i in range(6)] for row in p]
    assert np.array(by_hand) == pytest.approx(faults.sum_over_causes(p), abs=1e-15)


def test_spread_over_states__multiplies_over_the_members() -> None:
    faults = listed_faults()
    factors = np.random.default_rng(2).uniform(0.5, 2, (3, len(faults.causes)))
    by_hand = np.array([[np.prod(row[list(member)]) for member in faults.members] for row in factors])
    assert by_hand == pytest.approx(faults.spread_over_states(factors), abs=1e-14)


def test_spread_over_states__without_sets() -> None:
    faults = make_faults(chances_of(), [])
    assert [1.0, *range(6)] == faults.spread_over_states(np.arange(6.0)).tolist()


@pytest.mark.parametrize("unit", sorted(shipped().sheets))
def test_make_faults__every_shipped_unit_has_a_proper_prior(unit: str) -> None:
    compiled = compiled_of(unit=unit)
    assert 1 == pytest.approx(compiled.faults.prior.sum(), abs=1e-12)
    listed = list_likeliest(compiled.prepared.chances)
    assert 1 == pytest.approx(listed.prior.sum(), abs=1e-12)
    assert len(listed.names) == len(set(listed.names))


def test_weigh_chances__a_common_cause_keeps_its_share() -> None:
    """Single shares stand in the proportion of the weights."""
    compiled = small_case()
    weights = [small_unit().expansion.causes[cause].share for cause in compiled.causes]
    assert list(np.array(weights) / sum(weights)) == pytest.approx(compiled.prepared.chances.weights, abs=1e-12)
