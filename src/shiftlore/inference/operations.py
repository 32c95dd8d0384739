"""The array operations of a plan: each runs forwards to a message, and backwards to the derivatives of its inputs.

The backward sweep is the second half of Shafer-Shenoy propagation: what a message is multiplied with elsewhere is the
derivative of the whole by it, and comes without a division.
Source: Shafer and Shenoy 1990, "Probability propagation"; Darwiche 2003 for the view as derivatives.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.inference.kernels import GRADIENT_FIRST, GRADIENT_SECOND, GateAxes, join, join_gradient
from shiftlore.network import FloatArray


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
    ) -> None:
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
        fixed = table.shape[-1] == 1
        by_unary = np.matmul(table[..., 0], gradient) if fixed else (table * gradient[:, None]).sum(axis=2)
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
class _TwoMessages:
    """Two messages that become one.

    Args:
        first_view, second_view: shapes with 1 where the array lacks an axis of the union.
        axes: gate axes that both carry.
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


@dataclass(frozen=True, slots=True)
class Join(_TwoMessages):
    """Join two messages into one."""

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
            spread = np.zeros(shape)
            spread[0] = gradient
            tape.gradients[self.message] = spread
        else:
            tape.gradients[self.message] = np.broadcast_to(gradient, shape)


@dataclass(frozen=True, slots=True)
class JoinSum(_TwoMessages):
    """Join two messages and sum out their first axis in one go, so that the largest array is never written.

    Args:
        axes: gate axes that both carry, counted without the first axis.
    """

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
