"""Access levels: paths, masks and their costs."""

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
