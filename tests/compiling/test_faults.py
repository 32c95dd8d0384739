"""What may be wrong, as states of one root."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import compiled_of, shipped, small_case, small_unit

from shiftlore.compiling import list_faults
from shiftlore.compiling.faults import MOST_PAIRS, NONE, P_BROUGHT_ON

TOTAL, NOTHING = 1.15, 0.04


def test_list_faults__nothing_known_comes_first() -> None:
    faults = small_case().faults
    assert (NONE, ()) == (faults.names[0], faults.members[0])
    assert small_unit().knowledge.words.nothing_found == pytest.approx(faults.prior[0], abs=1e-12)


def test_list_faults__a_single_cause_stands_at_its_own_place() -> None:
    faults = small_case().faults
    assert list(faults.causes) == list(faults.names[1 : len(faults.causes) + 1])
    assert "worn_lining_c0+worn_pump" in faults.names


@given(st.lists(st.floats(1e-6, 10), min_size=6, max_size=6))
def test_list_faults__priors_add_up_and_causes_to_what_two_faults_allow(weights: list[float]) -> None:
    expansion = small_unit().expansion
    faults = list_faults(expansion, dict(zip(expansion.causes, weights, strict=True)), TOTAL, NOTHING)
    assert 1 == pytest.approx(faults.prior.sum(), abs=1e-12)
    assert (faults.prior >= 0).all()
    per_vehicle = faults.sum_over_causes(faults.prior).sum()
    assert 1 - NOTHING - 1e-9 <= per_vehicle <= TOTAL + 1e-9


def test_list_faults__one_that_the_other_brings_on_is_likelier_beside_it() -> None:
    expansion = small_unit().expansion
    faults = list_faults(expansion, dict.fromkeys(expansion.causes, 1.0), TOTAL, NOTHING)
    p = dict(zip(faults.names, faults.prior, strict=True))
    assert P_BROUGHT_ON == pytest.approx(p["worn_lining_c0+worn_pump"] / p["worn_lining_c0+worn_lining_c1"], abs=1e-9)


def test_list_faults__a_common_cause_keeps_its_share() -> None:
    """Single shares stand in the proportion of the weights."""
    faults = small_case().faults
    singles = faults.prior[1 : len(faults.causes) + 1]
    weights = [small_unit().expansion.causes[cause].share for cause in faults.causes]
    assert list(np.array(weights) / sum(weights)) == pytest.approx(singles / singles.sum(), abs=1e-12)


def test_list_faults__without_room_for_two_faults_there_are_no_pairs() -> None:
    expansion = small_unit().expansion
    faults = list_faults(expansion, dict.fromkeys(expansion.causes, 1.0), 1 - NOTHING, NOTHING)
    assert 0 == pytest.approx(faults.prior[len(faults.causes) + 1 :].sum(), abs=1e-15)


def test_list_faults__pairs_are_limited_and_differ() -> None:
    faults = compiled_of().faults
    assert len(faults.pairs) <= MOST_PAIRS
    assert len(faults.pairs) == len({tuple(pair) for pair in faults.pairs.tolist()})
    assert (faults.pairs[:, 0] < faults.pairs[:, 1]).all()


def test_sum_over_causes__equals_adding_up_by_hand() -> None:
    faults = small_case().faults
    p = np.random.default_rng(1).dirichlet(np.ones(len(faults.members)))
    by_hand = [sum(p[k] for k, member in enumerate(faults.members) if i in member) for i in range(len(faults.causes))]
    assert by_hand == pytest.approx(faults.sum_over_causes(p), abs=1e-15)


def test_spread_over_states__multiplies_over_the_members() -> None:
    faults = small_case().faults
    factors = np.random.default_rng(2).uniform(0.5, 2, (3, len(faults.causes)))
    by_hand = np.array([[np.prod(row[list(member)]) for member in faults.members] for row in factors])
    assert by_hand == pytest.approx(faults.spread_over_states(factors), abs=1e-14)


@pytest.mark.parametrize("unit", sorted(shipped().sheets))
def test_list_faults__every_shipped_unit_has_a_proper_prior(unit: str) -> None:
    faults = compiled_of(unit=unit).faults
    assert 1 == pytest.approx(faults.prior.sum(), abs=1e-12)
    assert len(faults.names) == len(set(faults.names))
