"""Compile states that lead to states into paths of their causes.

Whether line pressure is low and whether a clutch slips for want of it are two conditions, and rules say so. In the
network each cause then acts on each state by its own path, with the product of the strengths on the way: given the
cause at work, states are independent. What is seen of a state still counts for the causes above it, and every
finding keeps all of its states.
"""

from collections.abc import Mapping
from dataclasses import replace
from graphlib import TopologicalSorter

from shiftlore.compiling.expansion import Node, NodeLink, max_of_pmfs

SMALLEST_PATH = 1e-4
"""A path weaker than this is left out: it is below anything that a strength word can tell apart (judgement)."""

Rows = tuple[tuple[float, ...], ...]


def flatten_states(states: Mapping[str, Node]) -> dict[str, Node]:
    """Give every state links from causes only.

    Args:
        states: expanded states; their links may come from causes and states, without cycles.
    """
    graph = {key: [link.parent for link in node.links if link.parent in states] for key, node in states.items()}
    flat: dict[str, Node] = {}
    for key in TopologicalSorter(graph).static_order():
        flat[key] = _flatten(states[key], flat)
    return {key: flat[key] for key in states}


def _flatten(node: Node, flat: Mapping[str, Node]) -> Node:
    """Replace each link from a state by the paths that lead to that state."""
    size = len(node.grades)
    paths: dict[str, list[NodeLink]] = {}
    leak = node.leak
    for link in node.links:
        if link.parent not in flat:
            paths.setdefault(link.parent, []).append(link)
            continue
        above = flat[link.parent]
        leak = max_of_pmfs([leak, _through(above.leak, link.rows)], size)
        for upper in above.links:
            rows = tuple(_through(row, link.rows) for row in upper.rows)
            if max(1 - row[0] for row in rows) >= SMALLEST_PATH:
                weight = min(upper.weight, link.weight)
                paths.setdefault(upper.parent, []).append(NodeLink(upper.parent, rows, weight, link.mark))
    return replace(node, leak=leak, links=tuple(_join(links, size) for links in paths.values()))


def _through(pmf: tuple[float, ...], rows: Rows) -> tuple[float, ...]:
    """Pass a pmf over a parent's grades on through a link."""
    return tuple(sum(p * row[grade] for p, row in zip(pmf, rows, strict=True)) for grade in range(len(rows[0])))


def _join(links: list[NodeLink], size: int) -> NodeLink:
    """Join several paths from one cause: the strongest contribution shows."""
    if len(links) == 1:
        return links[0]
    rows = tuple(
        max_of_pmfs([link.rows[grade] for link in links], size) for grade in range(len(links[0].rows))
    )
    return NodeLink(links[0].parent, rows, min(link.weight for link in links), links[0].mark)
