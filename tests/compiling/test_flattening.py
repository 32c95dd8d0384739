"""States that lead to states become paths of their causes."""

import pytest

from shiftlore.basics import Mark
from shiftlore.compiling.expansion import Node, NodeLink
from shiftlore.compiling.flattening import SMALLEST_PATH, flatten_states

HERE = Mark("a.yaml", 3, 5)
OTHER = Mark("b.yaml", 7, 9)


def state(name: str, leak: float = 0.0, **strengths: float) -> Node:
    """Make a yes/no state from its parents' strengths."""
    links = tuple(NodeLink(key, ((1.0, 0.0), (1 - p, p)), 20.0, HERE) for key, p in strengths.items())
    return Node(name, name, name, ("no", "yes"), (1 - leak, leak), 50.0, links, OTHER)


def flat(*nodes: Node) -> dict[str, Node]:
    """Flatten some states."""
    return flatten_states({node.id: node for node in nodes})


def strength(node: Node, cause: str) -> float:
    """Give the strength of one path."""
    return next(link.rows[1][1] for link in node.links if link.parent == cause)


def test_flatten_states__strengths_on_the_way_multiply() -> None:
    found = flat(state("low", worn=0.8), state("slips", low=0.5), state("burnt", slips=0.9))
    assert 0.8 * 0.5 == pytest.approx(strength(found["slips"], "worn"), abs=1e-15)
    assert 0.8 * 0.5 * 0.9 == pytest.approx(strength(found["burnt"], "worn"), abs=1e-15)


def test_flatten_states__two_ways_join_as_noisy_or() -> None:
    """By hand: 1 - (1 - .3)(1 - .8 x .5) = .58."""
    found = flat(state("low", worn=0.8), state("slips", worn=0.3, low=0.5))
    assert 0.58 == pytest.approx(strength(found["slips"], "worn"), abs=1e-15)


def test_flatten_states__a_leak_above_leaks_through() -> None:
    """By hand: 1 - (1 - .02)(1 - .1 x .5) = .069."""
    found = flat(state("low", 0.1), state("slips", 0.02, low=0.5))
    assert 0.069 == pytest.approx(found["slips"].leak[1], abs=1e-15)


def test_flatten_states__only_causes_are_left_above() -> None:
    found = flat(state("slips", low=0.5, worn=0.2), state("low", leaking=0.6))
    assert {"worn", "leaking"} == {link.parent for link in found["slips"].links}
    assert ["slips", "low"] == list(found)


def test_flatten_states__a_path_too_weak_to_tell_is_left_out() -> None:
    weak = SMALLEST_PATH / 2
    assert () == flat(state("low", worn=weak), state("slips", low=0.9))["slips"].links


def test_flatten_states__the_least_sure_line_says_how_sure_the_path_is() -> None:
    low = state("low", worn=0.8)
    slips = Node("slips", "slips", "slips", ("no", "yes"), (1.0, 0.0), 1.0,
                 (NodeLink("low", ((1.0, 0.0), (0.5, 0.5)), 6.0, OTHER),), OTHER)
    link = flat(low, slips)["slips"].links[0]
    assert (6.0, OTHER) == (link.weight, link.mark)


def test_flatten_states__graded_states_keep_their_grades() -> None:
    """By hand: low .2 and very low .6 pass on .5 and 1."""
    links = (NodeLink("worn", ((1.0, 0.0, 0.0), (0.2, 0.2, 0.6)), 9.0, HERE),)
    level = Node("level", "level", "level", ("right", "low", "very_low"), (1.0, 0.0, 0.0), 1.0, links, HERE)
    rows = ((1.0, 0.0), (0.5, 0.5), (0.0, 1.0))
    slips = Node("slips", "slips", "slips", ("no", "yes"), (1.0, 0.0), 1.0, (NodeLink("level", rows, 9.0, HERE),), HERE)
    assert 0.2 * 0.5 + 0.6 == pytest.approx(strength(flat(level, slips)["slips"], "worn"), abs=1e-15)
