"""A plan: the elimination of a structure, written down once as a list of array operations, run forwards and backwards.

The forward sweep gives the probability of the answers, row by row; the backward sweep gives the derivative of its
logarithm by every unary factor, and thereby every posterior at once. The plan depends on the structure alone; the
numbers are bound when it runs.
Source: junction-tree propagation without division, Shafer and Shenoy 1990; the two sweeps as derivatives, Darwiche
2003.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from shiftlore.inference.kernels import GRADIENT_FIRST, GRADIENT_SECOND, GateAxes, join, join_gradient
from shiftlore.inference.ordering import choose_order
from shiftlore.network import FloatArray


@dataclass(frozen=True, slots=True)
class Factor:
    """A constant of a structure: which nodes it joins, and on which of its axes it is of kind R.

    Args:
        scope: nodes, one per axis.
        required: gate nodes on which the factor holds "required" values (see kernels); F on its other gates.
    """

    scope: tuple[int, ...]
    required: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Structure:
    """What must be summed over, without its numbers; two sets of answers of the same form share it.

    Args:
        sizes: states per node.
        n_variables: nodes below this number are variables with a unary factor, the others are gates.
        factors: the constants.
    """

    sizes: tuple[int, ...]
    n_variables: int
    factors: tuple[Factor, ...]


class Tape:
    """The arrays of one run of a plan.

    Args:
        unary: per variable node, shape (states, rows).
        constants: per factor of the structure, axes in the order of its scope plus rows (or 1).
        n_rows: number of rows.
        n_slots: number of arrays.
        tables: what does not depend on the rows and may be kept from one run to the next.
    """

    def __init__(
        self,
        unary: Sequence[FloatArray],
        constants: Sequence[FloatArray],
        n_rows: int,
        n_slots: int,
        tables: dict[int, FloatArray],
    ):
        self.unary = unary
        self.tables = tables
        self.constants = constants
        self.values: list[FloatArray | None] = [None] * n_slots
        self.gradients: list[FloatArray | None] = [None] * n_slots
        self.unary_gradients: list[FloatArray | None] = [None] * len(unary)
        self.kept: dict[int, list[FloatArray]] = {}
        self.log_scale = np.zeros(n_rows)
        self.n_rows = n_rows

    def value(self, slot: int) -> FloatArray:
        """Read an array of the forward sweep."""
        array = self.values[slot]
        assert array is not None, "an operation ran before its inputs"
        return array

    def gradient(self, slot: int) -> FloatArray:
        """Read an array of the backward sweep."""
        array = self.gradients[slot]
        assert array is not None, "an operation ran backwards before its consumer"
        return array


@dataclass(frozen=True, slots=True)
class Message:
    """A slot, the nodes of its axes (soonest eliminated first), its R axes, and whether it is a constant."""

    slot: int
    axes: tuple[int, ...]
    required: frozenset[int]
    constant: bool = False


@dataclass(frozen=True, slots=True)
class LoadConstants:
    """Put the constants into their slots, axes in elimination order."""

    moves: tuple[tuple[int, int, tuple[int, ...]], ...]

    def forward(self, tape: Tape) -> None:
        """Turn each constant's axes and store it."""
        for slot, factor, turn in self.moves:
            tape.values[slot] = tape.constants[factor].transpose(*turn, len(turn))

    def backward(self, tape: Tape) -> None:
        """Constants have no derivative."""


@dataclass(frozen=True, slots=True)
class SumLeaves:
    """Sum out many variables of equal shape at once: each touches only its unary factor and its links to gates.

    Args:
        variables: the n variable nodes, those with the same gates next to each other.
        links: per link position, the n factor slots, each of shape (states, gate states, 1 or rows).
        spans: per group of variables with the same gates: (start, stop, shape, slot, kinds of all its axes).
    """

    key: int
    variables: tuple[int, ...]
    links: tuple[tuple[int, ...], ...]
    spans: tuple[tuple[int, int, tuple[int, ...], int, GateAxes], ...]

    def _table(self, tape: Tape) -> FloatArray:
        """Give the products of the links, from the last run if they do not depend on the rows."""
        table = tape.tables.get(self.key)
        if table is None:
            table = self._multiply_links(tape)
            if table.shape[-1] == 1:
                tape.tables[self.key] = table
        return table

    def _multiply_links(self, tape: Tape) -> FloatArray:
        """Multiply the links of each variable, shape (n, states, product of gate states, rows or 1)."""
        table: FloatArray | None = None
        for position in self.links:
            link = np.stack(np.broadcast_arrays(*(tape.value(slot) for slot in position)))
            if table is None:
                table = link
                continue
            table = table[:, :, :, None] * link[:, :, None]
            table = table.reshape(*table.shape[:2], -1, table.shape[-1])
        assert table is not None
        return table

    def forward(self, tape: Tape) -> None:
        """Sum out all variables, then join the messages of those that have the same gates."""
        table = self._table(tape)
        unary = np.stack([tape.unary[variable] for variable in self.variables])
        if table.shape[-1] == 1:
            messages = np.matmul(table[..., 0].swapaxes(1, 2), unary)
        else:
            messages = (table * unary[:, :, None]).sum(axis=1)
        tape.kept[self.key] = [table]
        for start, stop, shape, slot, kinds in self.spans:
            levels = _join_pairs(messages[start:stop].reshape(stop - start, *shape, -1), kinds)
            tape.kept[slot] = levels
            tape.values[slot] = levels[-1][0]

    def backward(self, tape: Tape) -> None:
        """Spread the derivative to the single messages, then to the unary factors."""
        (table,) = tape.kept[self.key]
        gradients = []
        for start, stop, _shape, slot, kinds in self.spans:
            spread = _spread_pairs(tape.gradient(slot)[None], tape.kept[slot], kinds)
            gradients.append(spread.reshape(stop - start, table.shape[2], -1))
        gradient = np.concatenate(gradients)
        if table.shape[-1] == 1:
            by_unary = np.matmul(table[..., 0], gradient)
        else:
            by_unary = (table * gradient[:, None]).sum(axis=2)
        for variable, array in zip(self.variables, by_unary, strict=True):
            tape.unary_gradients[variable] = array


def _join_pairs(stack: FloatArray, kinds: GateAxes) -> list[FloatArray]:
    """Join a stack of messages of the same gates pairwise until one is left; keep every level."""
    levels = [stack]
    while len(stack) > 1:
        half = len(stack) // 2
        joined = join(stack[:half], stack[half : 2 * half], kinds)
        stack = np.concatenate([joined, stack[2 * half :]]) if len(stack) % 2 else joined
        levels.append(stack)
    return levels


def _spread_pairs(gradient: FloatArray, levels: list[FloatArray], kinds: GateAxes) -> FloatArray:
    """Undo `_join_pairs` for derivatives: from the one joined message back to every single one."""
    for stack in reversed(levels[:-1]):
        half = len(stack) // 2
        top = gradient[:half]
        first = join_gradient(top, stack[half : 2 * half], kinds, GRADIENT_FIRST, ())
        second = join_gradient(top, stack[:half], kinds, GRADIENT_SECOND, ())
        gradient = np.concatenate([first, second, gradient[half:]])
    return gradient


@dataclass(frozen=True, slots=True)
class Join:
    """Join two messages into one.

    Args:
        first_view, second_view: shapes with 1 where the array lacks an axis of the union.
        axes: gate axes that both carry.
        first_summed, second_summed: axes of the union that the array lacks.
        live: whether the first / the second needs a derivative.
    """

    first: int
    second: int
    out: int
    first_view: tuple[int, ...]
    second_view: tuple[int, ...]
    axes: GateAxes
    live: tuple[bool, bool]

    def _views(self, tape: Tape) -> tuple[FloatArray, FloatArray]:
        """Give both arrays the axes of the union."""
        first, second = tape.value(self.first), tape.value(self.second)
        return (
            first.reshape(*self.first_view, first.shape[-1]),
            second.reshape(*self.second_view, second.shape[-1]),
        )

    def forward(self, tape: Tape) -> None:
        """Join."""
        tape.values[self.out] = join(*self._views(tape), self.axes)

    def backward(self, tape: Tape) -> None:
        """Spread the derivative to both inputs."""
        first, second = self._views(tape)
        gradient = tape.gradient(self.out)
        if self.live[0]:
            summed = _lacking(self.first_view, self.second_view)
            spread = join_gradient(gradient, second, self.axes, GRADIENT_FIRST, summed)
            tape.gradients[self.first] = spread.reshape(*tape.value(self.first).shape[:-1], -1)
        if self.live[1]:
            summed = _lacking(self.second_view, self.first_view)
            spread = join_gradient(gradient, first, self.axes, GRADIENT_SECOND, summed)
            tape.gradients[self.second] = spread.reshape(*tape.value(self.second).shape[:-1], -1)


def _lacking(view: tuple[int, ...], other: tuple[int, ...]) -> tuple[int, ...]:
    """Name the axes that a view lacks and the other one has."""
    return tuple(axis for axis, (mine, its) in enumerate(zip(view, other, strict=True)) if mine == 1 and its > 1)


@dataclass(frozen=True, slots=True)
class TimesUnary:
    """Multiply a message by the unary factor of its first axis."""

    message: int
    variable: int
    out: int
    live: bool

    def _unary(self, tape: Tape) -> FloatArray:
        """Give the unary factor the axes of the message."""
        unary = tape.unary[self.variable]
        return unary.reshape(len(unary), *(1,) * (tape.value(self.message).ndim - 2), -1)

    def forward(self, tape: Tape) -> None:
        """Multiply."""
        tape.values[self.out] = tape.value(self.message) * self._unary(tape)

    def backward(self, tape: Tape) -> None:
        """Spread the derivative to the message and to the unary factor."""
        gradient, message = tape.gradient(self.out), tape.value(self.message)
        by_unary = gradient * message
        tape.unary_gradients[self.variable] = by_unary.reshape(len(by_unary), -1, by_unary.shape[-1]).sum(axis=1)
        if self.live:
            tape.gradients[self.message] = gradient * self._unary(tape)


@dataclass(frozen=True, slots=True)
class SumOut:
    """Sum out the first axis of a message, and scale every row so that its largest entry is 1.

    Args:
        unfired: the axis is a gate whose parents have all been joined into what it requires: nothing more will fire,
            so entry 0 is the sum.
    """

    message: int
    out: int
    unfired: bool = False

    def forward(self, tape: Tape) -> None:
        """Sum, scale, and remember the logarithm of the scale."""
        message = tape.value(self.message)
        summed = message[0] if self.unfired else message.sum(axis=0)
        tape.values[self.out] = _scale_rows(tape, self.out, summed)

    def backward(self, tape: Tape) -> None:
        """The derivative is the same for every entry of the axis."""
        (scale,) = tape.kept[self.out]
        gradient = tape.gradient(self.out) / scale
        shape = (*tape.value(self.message).shape[:-1], gradient.shape[-1])
        if self.unfired:
            tape.gradients[self.message] = np.zeros(shape)
            tape.gradients[self.message][0] = gradient
        else:
            tape.gradients[self.message] = np.broadcast_to(gradient, shape)


@dataclass(frozen=True, slots=True)
class JoinSum:
    """Join two messages and sum out their first axis in one go, so that the largest array is never written.

    Args:
        axes: gate axes that both carry, counted without the first axis.
        others as in Join and SumOut.
    """

    first: int
    second: int
    out: int
    first_view: tuple[int, ...]
    second_view: tuple[int, ...]
    axes: GateAxes
    live: tuple[bool, bool]

    def _views(self, tape: Tape) -> tuple[FloatArray, FloatArray]:
        """Give both arrays the axes of the union."""
        first, second = tape.value(self.first), tape.value(self.second)
        return (
            first.reshape(*self.first_view, first.shape[-1]),
            second.reshape(*self.second_view, second.shape[-1]),
        )

    def forward(self, tape: Tape) -> None:
        """Join state by state, add up, scale."""
        first, second = self._views(tape)
        summed = join(first[0], second[0], self.axes)
        for state in range(1, len(first)):
            summed += join(first[state], second[state], self.axes)
        tape.values[self.out] = _scale_rows(tape, self.out, summed)

    def backward(self, tape: Tape) -> None:
        """Spread the derivative to both inputs, state by state."""
        first, second = self._views(tape)
        gradient = tape.gradient(self.out) / tape.kept[self.out][0]
        if self.live[0]:
            tape.gradients[self.first] = self._spread(tape, self.first, gradient, second, GRADIENT_FIRST)
        if self.live[1]:
            tape.gradients[self.second] = self._spread(tape, self.second, gradient, first, GRADIENT_SECOND)

    def _spread(
        self, tape: Tape, slot: int, gradient: FloatArray, other: FloatArray, kinds: Mapping[str, str]
    ) -> FloatArray:
        """Work out the derivative by one input."""
        view, partner = self.first_view, self.second_view
        if slot == self.second:
            view, partner = partner, view
        summed = _lacking(view[1:], partner[1:])
        parts = [join_gradient(gradient, other[state], self.axes, kinds, summed) for state in range(view[0])]
        return np.stack(parts).reshape(*tape.value(slot).shape[:-1], -1)


def _scale_rows(tape: Tape, slot: int, summed: FloatArray) -> FloatArray:
    """Scale every row so that its largest entry is 1, and remember the logarithm of the scale."""
    flat = summed.reshape(-1, summed.shape[-1])
    scale = np.maximum(flat.max(axis=0), -flat.min(axis=0))
    scale = np.where(scale > 0, scale, 1.0)
    tape.kept[slot] = [scale]
    tape.log_scale = tape.log_scale + np.log(scale)
    return summed / scale


Operation = LoadConstants | SumLeaves | Join | TimesUnary | SumOut | JoinSum


@dataclass(frozen=True, slots=True)
class Plan:
    """The operations of a structure.

    Args:
        operations: in the order of the forward sweep.
        ends: slots of the scalars that are left, one per connected part.
        n_slots: number of arrays.
        n_cells: number of entries of all arrays together, per row: the price of a row.
        largest: entries of the largest array, per row.
        touched: variable nodes whose unary factor the operations use.
    """

    operations: tuple[Operation, ...]
    ends: tuple[int, ...]
    n_slots: int
    n_cells: int
    largest: int
    touched: frozenset[int] = field(default_factory=frozenset)


def run_plan(
    plan: Plan,
    unary: Sequence[FloatArray],
    constants: Sequence[FloatArray],
    n_rows: int,
    backwards: bool,
    tables: dict[int, FloatArray],
) -> tuple[FloatArray, Mapping[int, FloatArray]]:
    """Run a plan over many rows at once.

    Args:
        plan: from `make_plan`.
        unary: per variable node, shape (states, rows).
        constants: per factor, axes of its scope plus rows or 1.
        n_rows: number of rows.
        backwards: whether derivatives are wanted.
        tables: products of constants, kept by the caller from one run to the next.
    Returns: natural logarithm of the sum over all nodes, shape (rows,), minus infinity where it is 0; and per touched
        variable the derivative of that logarithm by its unary factor, shape (states, rows), 0 in rows that sum to 0.
    """
    tape = Tape(unary, constants, n_rows, plan.n_slots, tables)
    for operation in plan.operations:
        operation.forward(tape)
    log_total = tape.log_scale.copy()
    with np.errstate(divide="ignore"):
        for slot in plan.ends:
            log_total = log_total + np.log(np.maximum(tape.value(slot), 0.0))
    if not backwards:
        return log_total, {}
    possible = np.isfinite(log_total)
    for slot in plan.ends:
        end = tape.value(slot)
        tape.gradients[slot] = np.where(possible, 1.0, 0.0) / np.where(end > 0, end, 1.0)
    for operation in reversed(plan.operations):
        operation.backward(tape)
    return log_total, {variable: array for variable, array in enumerate(tape.unary_gradients) if array is not None}


def make_plan(structure: Structure) -> Plan:
    """Choose an elimination order for a structure and write down its operations."""
    order = choose_order(structure.sizes, [factor.scope for factor in structure.factors])
    return _Planner(structure, order).plan()


class _Planner:
    """Write the operations of one elimination order."""

    def __init__(self, structure: Structure, order: Sequence[int]):
        self.structure = structure
        self.order = order
        self.rank = {node: rank for rank, node in enumerate(order)}
        self.operations: list[Operation] = []
        self.ends: list[int] = []
        self.n_slots = 0
        self.n_cells = 0
        self.largest = 1
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
            turn = tuple(sorted(range(len(factor.scope)), key=lambda axis, scope=factor.scope: self.rank[scope[axis]]))
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
        views = self._views(axes, first), self._views(axes, second)
        live = (not first.constant, not second.constant)
        self.operations.append(Join(first.slot, second.slot, slot, *views, kinds, live))
        return Message(slot, axes, required)
