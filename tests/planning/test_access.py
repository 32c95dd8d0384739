"""Access levels: paths, masks and their costs."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.situations import SHOP_TREE

from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.planning import AccessNode, AccessTree


def test_path_mask__deep_level_needs_every_level_on_the_way():
    assert 0b0110 == SHOP_TREE.path_mask("valve_body_out")


def test_path_mask__root_needs_nothing():
    assert 0 == SHOP_TREE.path_mask("standing")


def test_path_mask__unknown_level():
    with pytest.raises(UnknownId, match="sump"):
        SHOP_TREE.path_mask("sump")


def test_mask_of__two_branches_open():
    assert 0b1010 == SHOP_TREE.mask_of(["pan_off", "unit_out"])


def test_open_costs__adds_up_the_path():
    mask = SHOP_TREE.path_mask("valve_body_out")
    assert 2.0 == pytest.approx(SHOP_TREE.open_costs[mask], abs=1e-12)
    assert 2.0 == pytest.approx(SHOP_TREE.close_costs[mask], abs=1e-12)


@given(st.integers(0, 15), st.integers(0, 15))
def test_open_costs__law_disjoint_levels_add(left, right):
    tables = SHOP_TREE.open_costs
    assert tables[left | right] + tables[left & right] == pytest.approx(tables[left] + tables[right], abs=1e-9)


def test_minutes__tabled_beside_the_costs():
    tree = AccessTree((AccessNode("standing"), AccessNode("pan", "standing", 9.0, 8.0, 20.0, 30.0)))
    assert (20.0, 30.0) == (tree.open_minutes[2], tree.close_minutes[2])


def test_access_tree__parent_after_child_is_refused():
    with pytest.raises(UsageProblem, match="stands before its parent"):
        AccessTree((AccessNode("valve_body_out", "pan_off"), AccessNode("pan_off")))


def test_access_tree__too_many_levels_are_refused():
    with pytest.raises(UsageProblem, match="At most 16"):
        AccessTree(tuple(AccessNode(f"level{i}") for i in range(17)))


MASKS = st.integers(0, 15)


@given(MASKS, MASKS)
def test_round_trip__law_two_errands_in_one_go_never_cost_more(one, other):
    together = SHOP_TREE.round_trip(one | other)
    assert together <= SHOP_TREE.round_trip(one) + SHOP_TREE.round_trip(other) + 1e-12


@given(MASKS, MASKS)
def test_round_trip__law_what_is_open_saves_its_opening_and_is_closed_anyway(mask, opened):
    saved = SHOP_TREE.open_costs[mask & opened]
    added = SHOP_TREE.close_costs[opened & ~mask]
    assert SHOP_TREE.round_trip(mask) - saved + added == pytest.approx(SHOP_TREE.round_trip(mask, opened), abs=1e-12)


def test_round_trip__many_sets_as_one_by_one():
    masks = np.arange(16)
    assert [SHOP_TREE.round_trip(mask, 2) for mask in masks] == SHOP_TREE.round_trip(masks, 2).tolist()


@pytest.mark.parametrize("level", [node.id for node in SHOP_TREE.nodes])
def test_path_mask__holds_the_path_of_its_parent(level):
    parent = SHOP_TREE.nodes[SHOP_TREE.index[level]].parent
    own = SHOP_TREE.path_mask(level)
    assert parent is None or SHOP_TREE.path_mask(parent) == own & ~(1 << SHOP_TREE.index[level])
