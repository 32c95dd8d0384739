"""Write the plan of a structure: which node is summed out when, and which arrays are joined for it."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from shiftlore.inference.kernels import GateAxes
from shiftlore.inference.operations import (
    Join,
    JoinSum,
    LoadConstants,
    Operation,
    SumLeaves,
    SumOut,
    TimesUnary,
)
from shiftlore.inference.ordering import choose_order
from shiftlore.inference.plans import Plan, Structure


@dataclass(frozen=True, slots=True)
class Message:
    """A slot, the nodes of its axes (soonest eliminated first), its R axes, and whether it is a constant."""

    slot: int
    axes: tuple[int, ...]
    required: frozenset[int]
    constant: bool = False


def make_plan(structure: Structure) -> Plan:
    """Choose an elimination order for a structure and write down its operations."""
    order = choose_order(structure.sizes, [factor.scope for factor in structure.factors])
    return _Planner(structure, order).plan()


class _Planner:
    """Write the operations of one elimination order."""

    def __init__(self, structure: Structure, order: Sequence[int]) -> None:
        self.structure = structure
        self.order = order
        self.rank = {node: rank for rank, node in enumerate(order)}
        self.operations: list[Operation] = []
        self.ends: list[int] = []
        self.n_slots = 0
        self.n_cells = 0
        self.largest = 1
        self.n_products = 0
        self.touched: set[int] = set()
        self.open: dict[int, list[Message]] = {node: [] for node in order}

    def plan(self) -> Plan:
        """Plan the constants, then the leaves, then every other node in order."""
        self._load_constants()
        leaves = self._sum_leaves()
        for node in self.order:
            if node not in leaves and self.open[node]:
                self._eliminate(node)
        return Plan(
            tuple(self.operations),
            tuple(self.ends),
            self.n_slots,
            self.n_cells,
            self.largest,
            self.n_products,
            frozenset(self.touched),
        )

    def _new_slot(self, axes: Sequence[int]) -> int:
        """Number a new array and count its entries."""
        cells = math.prod(self._shape(axes))
        self.n_cells += cells
        self.largest = max(self.largest, cells)
        self.n_slots += 1
        return self.n_slots - 1

    def _shape(self, axes: Sequence[int]) -> tuple[int, ...]:
        """Look up the states of each axis."""
        return tuple(self.structure.sizes[node] for node in axes)

    def _is_gate(self, node: int) -> bool:
        """Tell gates from variables."""
        return node >= self.structure.n_variables

    def _publish(self, message: Message) -> None:
        """Hand a message to the nodes that are still to be eliminated, or note that it is an end."""
        if not message.axes:
            self.ends.append(message.slot)
        for node in message.axes:
            self.open[node].append(message)

    def _load_constants(self) -> None:
        """Turn the axes of every constant into elimination order."""
        moves = []
        for index, factor in enumerate(self.structure.factors):
            ranks = [self.rank[node] for node in factor.scope]
            turn = tuple(sorted(range(len(ranks)), key=ranks.__getitem__))
            axes = tuple(factor.scope[axis] for axis in turn)
            slot = self._new_slot(axes)
            moves.append((slot, index, turn))
            self._publish(Message(slot, axes, factor.required, constant=True))
        self.operations.append(LoadConstants(tuple(moves)))

    def _is_leaf(self, node: int) -> bool:
        """Tell whether a variable touches only constants, each with one other node, when its turn comes."""
        messages = self.open[node]
        others = {message.axes[-1] for message in messages}
        return (
            not self._is_gate(node)
            and 0 < len(messages) == len(others)
            and all(message.constant and message.axes[0] == node and len(message.axes) == 2 for message in messages)
        )

    def _sum_leaves(self) -> set[int]:
        """Plan all leaves, stacked by shape."""
        leaves = [node for node in self.order if self._is_leaf(node)]
        groups: dict[tuple[tuple[int, ...], frozenset[int]], list[int]] = {}
        links: dict[int, list[Message]] = {}
        for node in leaves:
            links[node] = sorted(self.open[node], key=lambda message: self.rank[message.axes[1]])
            axes = tuple(message.axes[1] for message in links[node])
            required = frozenset().union(*(message.required for message in links[node]))
            # at most one message of a gate is of kind R, so such leaves stand alone
            groups.setdefault((axes, required if not required else required | {-1 - node}), []).append(node)
            for message in links[node]:
                self.open[message.axes[1]].remove(message)
        stacks: dict[tuple[int, ...], list[tuple[tuple[int, ...], frozenset[int], list[int]]]] = {}
        for (axes, required), nodes in groups.items():
            by_size: dict[int, list[int]] = {}
            for node in nodes:
                by_size.setdefault(self.structure.sizes[node], []).append(node)
            for size, members in by_size.items():
                key = (size, *self._shape(axes))
                stacks.setdefault(key, []).append((axes, frozenset(n for n in required if n >= 0), members))
        for stack in stacks.values():
            self._stack_leaves(stack, links)
        return set(leaves)

    def _stack_leaves(
        self, stack: list[tuple[tuple[int, ...], frozenset[int], list[int]]], links: Mapping[int, list[Message]]
    ) -> None:
        """Plan one stack of leaves of equal shape."""
        variables: list[int] = []
        spans, messages = [], []
        for axes, required, members in stack:
            slot = self._new_slot(axes)
            kinds = tuple((position + 1, "FF") for position, axis in enumerate(axes) if self._is_gate(axis))
            self._count_products(axes, tuple((position - 1, kind) for position, kind in kinds), len(members))
            start, stop = len(variables), len(variables) + len(members)
            spans.append((start, stop, self._shape(axes), slot, kinds))
            variables.extend(members)
            messages.append(Message(slot, axes, required))
        self.touched.update(variables)
        n_links = len(stack[0][0])
        slots = tuple(tuple(links[node][position].slot for node in variables) for position in range(n_links))
        self.operations.append(SumLeaves(-1 - len(self.operations), tuple(variables), slots, tuple(spans)))
        for message in messages:
            self._publish(message)

    def _eliminate(self, node: int) -> None:
        """Join all messages of a node and sum it out."""
        messages = self.open[node]
        for message in messages:
            for other in message.axes[1:]:
                self.open[other].remove(message)
        if self._is_gate(node):
            final = self._join_gate(node, messages)
        else:
            smallest = self._smallest(messages)
            messages[smallest] = self._times_unary(messages[smallest], node)
            final = self._join_but_two(messages)
        if len(final) == 1:
            self._sum_one(node, final[0])
        else:
            self._sum_two(node, *final)

    def _sum_one(self, node: int, message: Message) -> None:
        """Plan the sum of a single message over its first axis."""
        slot = self._new_slot(message.axes[1:])
        self.operations.append(SumOut(message.slot, slot, unfired=node in message.required))
        self._publish(Message(slot, message.axes[1:], message.required - {node}))

    def _sum_two(self, node: int, first: Message, second: Message) -> None:
        """Plan the join of the last two messages together with the sum over their first axis."""
        axes, required, kinds = self._unite(first, second, plain=node)
        slot = self._new_slot(axes[1:])
        self._count_products(axes, kinds)
        views = self._views(axes, first), self._views(axes, second)
        kinds = tuple((position - 1, kind) for position, kind in kinds)
        live = (not first.constant, not second.constant)
        self.operations.append(JoinSum(first.slot, second.slot, slot, *views, kinds, live))
        self._publish(Message(slot, axes[1:], required - {node}))

    def _smallest(self, messages: Sequence[Message]) -> int:
        """Find the message with the fewest entries."""
        return min(range(len(messages)), key=lambda index: math.prod(self._shape(messages[index].axes)))

    def _times_unary(self, message: Message, node: int) -> Message:
        """Plan the product with the unary factor of a variable."""
        slot = self._new_slot(message.axes)
        self.touched.add(node)
        self.operations.append(TimesUnary(message.slot, node, slot, not message.constant))
        return Message(slot, message.axes, message.required)

    def _join_gate(self, node: int, messages: Sequence[Message]) -> list[Message]:
        """Join what the parents contribute; it is then weighed by what is required, a product on the gate's axis."""
        required = [message for message in messages if node in message.required]
        fired = [message for message in messages if node not in message.required]
        assert len(required) == 1, "a gate needs exactly one terminal"
        if not fired:
            return required
        last = self._join_but_two(fired)
        return [self._join_pair(*last) if len(last) == 2 else last[0], *required]

    def _join_but_two(self, messages: Sequence[Message]) -> list[Message]:
        """Join messages two at a time, always the pair whose union is smallest, until two are left."""
        waiting = list(messages)
        while len(waiting) > 2:
            pairs = [(i, j) for i in range(len(waiting)) for j in range(i + 1, len(waiting))]
            i, j = min(pairs, key=lambda pair: self._union_cells(waiting[pair[0]], waiting[pair[1]]))
            joined = self._join_pair(waiting[i], waiting[j])
            waiting = [message for index, message in enumerate(waiting) if index not in (i, j)] + [joined]
        return waiting

    def _count_products(self, axes: Sequence[int], kinds: GateAxes, times: int = 1) -> None:
        """Count the products of a join: a gate axis of K entries takes 2K - 1."""
        cells = math.prod(self._shape(axes))
        for position, _ in kinds:
            size = self.structure.sizes[axes[position]]
            cells = cells * (2 * size - 1) // size
        self.n_products += times * cells

    def _union_cells(self, first: Message, second: Message) -> int:
        """Count the entries of a joined array."""
        return math.prod(self._shape(tuple({*first.axes, *second.axes})))

    def _unite(
        self, first: Message, second: Message, plain: int | None = None
    ) -> tuple[tuple[int, ...], frozenset[int], GateAxes]:
        """Name the axes of a join, those of kind R among them, and how the gates that both carry are joined."""
        axes = tuple(sorted({*first.axes, *second.axes}, key=self.rank.__getitem__))
        kinds = tuple(
            (position, f"{'FR'[node in first.required]}{'FR'[node in second.required]}")
            for position, node in enumerate(axes)
            if node in first.axes and node in second.axes and self._is_gate(node) and node != plain
        )
        return axes, first.required | second.required, kinds

    def _views(self, axes: Sequence[int], message: Message) -> tuple[int, ...]:
        """Give the shape of a message with 1 where it lacks an axis."""
        return tuple(self.structure.sizes[node] if node in message.axes else 1 for node in axes)

    def _join_pair(self, first: Message, second: Message) -> Message:
        """Plan the join of two messages."""
        axes, required, kinds = self._unite(first, second)
        slot = self._new_slot(axes)
        self._count_products(axes, kinds)
        views = self._views(axes, first), self._views(axes, second)
        live = (not first.constant, not second.constant)
        self.operations.append(Join(first.slot, second.slot, slot, *views, kinds, live))
        return Message(slot, axes, required)
