"""What has to come apart to reach a part, and what opening and closing it costs."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.basics import UnknownId, UsageProblem

MAX_NODES = 16
"""Costs are tabled for every set of open levels, 2**16 rows at most; a unit has fewer than ten levels."""


@dataclass(frozen=True, slots=True)
class AccessNode:
    """One level of disassembly; opening starts from its parent, closing goes back to it.

    Args:
        open_cost, close_cost: labour, fluid lost and consumables of this step alone, in the shop's currency.
        open_minutes, close_minutes: hands-on labour of this step alone.
    """

    id: str
    parent: str | None = None
    open_cost: float = 0.0
    close_cost: float = 0.0
    open_minutes: float = 0.0
    close_minutes: float = 0.0


@dataclass(frozen=True)
class AccessTree:
    """All levels of disassembly of a unit; a set of open levels is kept as a bit mask.

    Args:
        nodes: parents before their children; a node without a parent is a root and always open.
    Raises: UsageProblem: a parent is missing or stands after its child, or there are too many levels.
    """

    nodes: tuple[AccessNode, ...]

    def __post_init__(self) -> None:
        if len(self.nodes) > MAX_NODES:
            raise UsageProblem(f"At most {MAX_NODES} access levels can be planned with.")
        seen: set[str] = set()
        for node in self.nodes:
            if node.parent is not None and node.parent not in seen:
                raise UsageProblem(f"Access level {node.id} stands before its parent {node.parent}.")
            seen.add(node.id)

    @cached_property
    def index(self) -> dict[str, int]:
        """Position of each level by id."""
        return {node.id: i for i, node in enumerate(self.nodes)}

    @cached_property
    def parents(self) -> tuple[int, ...]:
        """Position of each level's parent, -1 for a root."""
        return tuple(-1 if node.parent is None else self.index[node.parent] for node in self.nodes)

    @cached_property
    def path_masks(self) -> tuple[int, ...]:
        """For each level the bit mask of every level on the way to it, roots left out."""
        masks: list[int] = []
        for i, parent in enumerate(self.parents):
            masks.append(0 if parent < 0 else masks[parent] | 1 << i)
        return tuple(masks)

    @cached_property
    def open_costs(self) -> np.ndarray:
        """Cost of opening each set of levels, shape (2**n_nodes,)."""
        return self._sum_table([node.open_cost for node in self.nodes])

    @cached_property
    def close_costs(self) -> np.ndarray:
        """Cost of closing each set of levels, shape (2**n_nodes,)."""
        return self._sum_table([node.close_cost for node in self.nodes])

    @cached_property
    def open_minutes(self) -> np.ndarray:
        """Labour minutes of opening each set of levels, shape (2**n_nodes,)."""
        return self._sum_table([node.open_minutes for node in self.nodes])

    @cached_property
    def close_minutes(self) -> np.ndarray:
        """Labour minutes of closing each set of levels, shape (2**n_nodes,)."""
        return self._sum_table([node.close_minutes for node in self.nodes])

    def path_mask(self, node_id: str) -> int:
        """Bit mask of the levels that must be open to work at `node_id`."""
        if node_id not in self.index:
            raise UnknownId(f"No access level is called {node_id}.")
        return self.path_masks[self.index[node_id]]

    def mask_of(self, opened: Iterable[str]) -> int:
        """Bit mask of everything that is open when the levels `opened` are."""
        mask = 0
        for node_id in opened:
            mask |= self.path_mask(node_id)
        return mask

    def round_trip(self, masks: np.ndarray | int, opened: np.ndarray | int = 0) -> np.ndarray:
        """Cost of opening what is missing of each set of levels and closing everything afterwards, shape of `masks`."""
        result: np.ndarray = self.open_costs[masks & ~opened] + self.close_costs[masks | opened]
        return result

    @staticmethod
    def _sum_table(values: list[float]) -> np.ndarray:
        table = np.zeros(1)
        for value in values:
            table = np.concatenate([table, table + value])
        return table
