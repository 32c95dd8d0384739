"""Choose in which order the nodes of a structure are summed out; the order decides how large the arrays grow.

Source: Kjaerulff 1990, "Triangulation of graphs - algorithms giving small total state space" (minimum fill with the
table size as tie-break).
"""

import heapq
import math
from collections.abc import Iterable, Sequence


class _Graph:
    """An undirected graph held as bit sets, with the cost of eliminating each node."""

    def __init__(self, sizes: Sequence[int], scopes: Iterable[Sequence[int]]) -> None:
        self.adjacent = [0] * len(sizes)
        self.log_size = [math.log2(size) for size in sizes]
        for scope in scopes:
            mask = 0
            for node in scope:
                mask |= 1 << node
            for node in scope:
                self.adjacent[node] |= mask & ~(1 << node)

    def cost(self, node: int) -> tuple[float, float]:
        """Count the edges that eliminating a node would add, then the size of its array."""
        mask = self.adjacent[node]
        missing, weight = 0, self.log_size[node]
        for other in _bits(mask):
            missing += (mask & ~self.adjacent[other]).bit_count() - 1
            weight += self.log_size[other]
        return missing / 2, weight

    def eliminate(self, node: int) -> int:
        """Join all neighbours of a node, take it out, and return the bit set of nodes whose cost may have changed."""
        mask = self.adjacent[node]
        changed = mask
        for other in _bits(mask):
            fresh = mask & ~self.adjacent[other] & ~(1 << other)
            self.adjacent[other] = (self.adjacent[other] | mask) & ~(1 << other) & ~(1 << node)
            if fresh:
                changed |= self.adjacent[other]
        return changed


def _bits(mask: int) -> list[int]:
    """List the positions of the set bits."""
    found = []
    while mask:
        low = mask & -mask
        found.append(low.bit_length() - 1)
        mask ^= low
    return found


def choose_order(sizes: Sequence[int], scopes: Iterable[Sequence[int]]) -> list[int]:
    """Order the nodes for elimination, greedily by minimum fill and then by the size of the array.

    Args:
        sizes: number of states of each node.
        scopes: the nodes of every factor.
    """
    graph = _Graph(sizes, scopes)
    costs = {node: (*graph.cost(node), node) for node in range(len(sizes))}
    heap = list(costs.values())
    heapq.heapify(heap)
    order: list[int] = []
    while costs:
        cheapest = heapq.heappop(heap)
        node = cheapest[-1]
        if costs.get(node) != cheapest:
            continue
        del costs[node]
        order.append(node)
        for other in _bits(graph.eliminate(node)):
            if other in costs:
                fresh = (*graph.cost(other), other)
                if fresh != costs[other]:
                    costs[other] = fresh
                    heapq.heappush(heap, fresh)
    return order
