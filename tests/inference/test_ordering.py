"""Elimination orders: every node once, and no needless fill (Kjaerulff 1990)."""

from shiftlore.inference.ordering import choose_order


def width(sizes: list[int], scopes: list[tuple[int, ...]], order: list[int]) -> int:
    """Count the nodes of the largest array that an order makes."""
    factors = [set(scope) for scope in scopes]
    widest = 0
    for node in order:
        touching = [factor for factor in factors if node in factor]
        union = set().union(*touching) | {node}
        widest = max(widest, len(union))
        factors = [factor for factor in factors if node not in factor] + [union - {node}]
    return widest


def test_choose_order__names_every_node_once():
    assert list(range(5)) == sorted(choose_order([2] * 5, [(0, 1), (1, 2)]))


def test_choose_order__chain_needs_no_fill():
    scopes = [(node, node + 1) for node in range(9)]
    assert width([2] * 10, scopes, choose_order([2] * 10, scopes)) == 2


def test_choose_order__star_is_eaten_from_the_outside():
    scopes = [(0, node) for node in range(1, 12)]
    assert width([2] * 12, scopes, choose_order([2] * 12, scopes)) == 2


def test_choose_order__cycle_needs_three():
    scopes = [(node, (node + 1) % 8) for node in range(8)]
    assert width([2] * 8, scopes, choose_order([2] * 8, scopes)) == 3


def test_choose_order__small_tables_first_where_the_fill_is_equal():
    assert choose_order([50, 2, 2], [(0, 1), (0, 2)])[0] in {1, 2}
