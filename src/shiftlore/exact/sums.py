"""Sums over the hidden variables of one cluster, for all root states at once.

Along a chain an array carries one axis of two places for each gate that stands open: nothing has set it off yet, or
something has. Summing a hidden variable adds what happens when it is absent (nothing) and when it is present (it sets
off what it bears on); closing a gate that nothing more can set off leaves the part in which it has shown, by a hidden
variable or by the root. A pass in the other direction gives what is still to come; with both, a change that concerns
a few variables only has to be worked out between the first and the last of them. All numbers stay non-negative, so no
digits are lost however improbable the answers are.
Source: forward-backward recursion; Darwiche 2003, "A differential approach to inference in Bayesian networks".
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np

from shiftlore.exact.answers import Gate
from shiftlore.exact.chains import Chain, Cluster
from shiftlore.exact.tables import FloatArray

CELLS_PER_PASS = 1 << 18
"""Entries of a running array in one pass, so that it stays in the processor's cache; columns are cut up (measured)."""
CELLS_KEPT = 1 << 14
"""Entries of a chain's array up to which its arrays are kept."""
TINY = 1e-300
State = tuple[FloatArray, tuple[int, ...]]
"""An array before a step, and the gates of its axes."""


@dataclass(frozen=True, slots=True)
class Change:
    """A variant of the answers, as far as it concerns one cluster.

    Args:
        weights: hidden variable -> by what its factor when present is multiplied.
        released: gates (positions) that count as not answered.
    """

    weights: tuple[tuple[int, float], ...] = ()
    released: tuple[int, ...] = ()


@dataclass(frozen=True, eq=False)
class Numbers:
    """What a chain is summed with; the last axis holds the columns (ways of the fixed variables x kinds of root states).

    Args:
        p: P(present) per step, shape (n_steps, n_columns).
        weights: factor when present per step, shape (n_steps, 1) or (n_steps, n_columns).
        misses: (gate, hidden) -> P(it does not set the gate off), shape () or (n_columns,).
        hits: gate -> P(the root or a fixed variable sets it off), shape (n_columns,).
    """

    p: FloatArray
    weights: FloatArray
    misses: Mapping[tuple[int, int], FloatArray]
    hits: Mapping[int, FloatArray]

    def cut(self, columns: slice) -> "Numbers":
        """Take some of the columns."""
        return Numbers(
            self.p[:, columns],
            self.weights if self.weights.shape[1] == 1 else self.weights[:, columns],
            {key: value if value.ndim == 0 else value[columns] for key, value in self.misses.items()},
            {key: value[columns] for key, value in self.hits.items()},
        )


@dataclass(frozen=True, slots=True)
class _Task:
    """A change on a chain: the steps between which it differs, its weights by step, and its released gates."""

    number: int
    first: int
    last: int
    weights: Mapping[int, float]
    released: frozenset[int]


class ChainSum:
    """One chain and its numbers."""

    def __init__(self, chain: Chain, numbers: Numbers):
        self.chain, self.numbers = chain, numbers
        self.place = {step.hidden: i for i, step in enumerate(chain.steps)}
        self.closed_at = {g: i for i, step in enumerate(chain.steps) for g in step.closes}

    def total(self) -> FloatArray:
        """Sum the chain, shape (n_columns,)."""
        n = next(iter(self.numbers.hits.values())).shape[0]
        if not self.chain.steps:
            return self.numbers.hits[self.chain.gates[0]]
        if self._kept:
            return self._kept[-1][0].reshape(-1)
        width = max(1, CELLS_PER_PASS >> self.chain.width)
        cuts = [self.numbers.cut(slice(at, at + width)) for at in range(0, n, width)]
        return np.concatenate([self._forward(numbers)[-1][0].reshape(-1) for numbers in cuts])

    @cached_property
    def _kept(self) -> list[State] | None:
        """The arrays before each step, kept where they are small: whoever sums a chain mostly asks it as well."""
        small = self.numbers.p.shape[1] << self.chain.width <= CELLS_KEPT
        return self._forward(self.numbers) if small else None

    def ask(self, changes: Sequence[Change]) -> FloatArray:
        """Sum the chain under changes that concern it, shape (n_changes, n_columns)."""
        n = next(iter(self.numbers.hits.values())).shape[0]
        result = np.empty((len(changes), n))
        if not self.chain.steps:
            result[:] = 1.0
            return result
        tasks = sorted((self._place(number, change) for number, change in enumerate(changes)), key=lambda t: t.first)
        width = max(1, (CELLS_PER_PASS >> self.chain.width) // max(1, self._most_active(tasks)))
        for at in range(0, n, width):
            columns = slice(at, at + width)
            kept = [(array[..., columns], axes) for array, axes in self._kept] if self._kept else None
            self._ask_some(tasks, self.numbers.cut(columns), result[:, columns], kept)
        return result

    def _place(self, number: int, change: Change) -> _Task:
        weights = {self.place[h]: w for h, w in change.weights if h in self.place}
        released = frozenset(g for g in change.released if g in self.closed_at)
        steps = [*weights, *(self.closed_at[g] for g in released)]
        return _Task(number, min(steps), max(steps), weights, released)

    def _most_active(self, tasks: Sequence[_Task]) -> int:
        return max(sum(task.first <= i <= task.last for task in tasks) for i in range(len(self.chain.steps)))

    def _forward(self, numbers: Numbers) -> list[State]:
        """Give the array before each step and at the end, with the gates of its axes; shape (1, 2, ..., n_columns)."""
        array: FloatArray = np.ones((1, numbers.p.shape[1]))
        axes: tuple[int, ...] = ()
        states = [(array, axes)]
        for i in range(len(self.chain.steps)):
            array, axes = self._advance(array, axes, i, numbers, numbers.weights[i], numbers.hits)
            states.append((array, axes))
        return states

    def _advance(
        self,
        array: FloatArray,
        axes: tuple[int, ...],
        i: int,
        numbers: Numbers,
        weight: FloatArray,
        hits: Mapping[int, FloatArray],
    ) -> tuple[FloatArray, tuple[int, ...]]:
        """Take one step.

        Args:
            array: shape (n_rows, 2, ..., 2, n_columns).
            weight: shape (n_columns,), (1,), or (n_rows, 1, ..., 1).
            hits: gate -> shape (n_columns,) or (n_rows, 1, n_columns).
        """
        step, p = self.chain.steps[i], numbers.p[i]
        if weight.ndim == 2:
            weight = weight.reshape(-1, *(1,) * (array.ndim - 2), weight.shape[-1])
        present = array * (p * weight)
        for g in step.bears_on:
            miss = numbers.misses[g, step.hidden]
            if g in axes:
                view = _split_axis(present, axes.index(g))
                view[:, :, 1] += view[:, :, 0] * (1 - miss)
                view[:, :, 0] *= miss
            else:
                present = np.stack([present * miss, present * (1 - miss)], axis=1)
                axes = (g, *axes)
        present[(slice(None), *(0,) * len(step.opens))] += array * (1 - p)
        for g in step.closes:
            view, hit = _split_axis(present, axes.index(g)), hits[g]
            hit = hit.reshape(-1, 1, 1, hit.shape[-1]) if hit.ndim == 3 else hit
            closed = view[:, :, 0] * hit + view[:, :, 1]
            axes = tuple(other for other in axes if other != g)
            present = closed.reshape(present.shape[0], *(2,) * len(axes), -1)
        return present, axes

    def _backward(self, numbers: Numbers, axes_at: Sequence[tuple[int, ...]]) -> list[FloatArray]:
        """Give what is still to come after each step, in the axes that stand open there: shape (2, ..., n_columns)."""
        rest = np.ones(numbers.p.shape[1])
        after = [rest]
        for i in range(len(self.chain.steps) - 1, 0, -1):
            rest = self._retreat(rest, axes_at[i + 1], axes_at[i], i, numbers)
            after.append(rest)
        return after[::-1]

    def _retreat(
        self, rest: FloatArray, axes: tuple[int, ...], before: tuple[int, ...], i: int, numbers: Numbers
    ) -> FloatArray:
        """Take one step backwards."""
        step, p = self.chain.steps[i], numbers.p[i]
        for g in reversed(step.closes):
            rest = np.stack([rest * numbers.hits[g], rest])
            axes = (g, *axes)
        opened = tuple(g for g in axes if g not in before)
        order = [axes.index(g) for g in (*opened, *before)]
        rest = rest.transpose(*order, rest.ndim - 1)
        axes = (*opened, *before)
        coming = rest.copy()
        for g in step.bears_on:
            miss = numbers.misses[g, step.hidden]
            view = _split_axis(coming[None], axes.index(g))
            view[:, :, 0] *= miss
            view[:, :, 0] += view[:, :, 1] * (1 - miss)
        unopened = (0,) * len(opened)
        return rest[unopened] * (1 - p) + coming[unopened] * (p * numbers.weights[i])

    def _ask_some(self, tasks: Sequence[_Task], numbers: Numbers, result: FloatArray, kept: list[State] | None) -> None:
        """Work all changes out for some columns, each only between the first and the last step that it concerns."""
        states = kept or self._forward(numbers)
        after = self._backward(numbers, [axes for _, axes in states])
        active: list[_Task] = []
        array, waiting = np.empty((0,)), list(tasks)
        for i, step in enumerate(self.chain.steps):
            before, axes = states[i]
            starting = [task for task in waiting if task.first == i]
            waiting = waiting[len(starting) :]
            if starting:
                fresh = np.repeat(before, len(starting), axis=0)
                array = np.concatenate([array, fresh]) if active else fresh
                active += starting
            if not active:
                continue
            own = numbers.weights[i]
            weight = np.array([task.weights.get(i, 1.0) for task in active])[:, None] * own
            hits = {}
            for g in step.closes:
                released = np.ones_like(numbers.hits[g])
                hits[g] = np.stack([released if g in task.released else numbers.hits[g] for task in active])[:, None]
            array, _ = self._advance(array, axes, i, numbers, weight, hits)
            ending = [k for k, task in enumerate(active) if task.last == i]
            if ending:
                done = array[ending] * after[i]
                sums = done.reshape(len(ending), -1, done.shape[-1]).sum(axis=1)
                for k, row in zip(ending, sums, strict=True):
                    result[active[k].number] = row
                staying = [k for k, task in enumerate(active) if task.last != i]
                array, active = array[staying], [active[k] for k in staying]


def _split_axis(array: FloatArray, axis: int) -> FloatArray:
    """View an array of shape (n_rows, 2, ..., 2, n_columns) as (n_rows, left, 2, right, n_columns)."""
    n_axes = array.ndim - 2
    return array.reshape(array.shape[0], 1 << axis, 2, 1 << (n_axes - 1 - axis), array.shape[-1])


@dataclass(frozen=True, eq=False)
class ClusterSum:
    """One cluster summed.

    Args:
        cluster: its gates and plan.
        gates: all telling answers.
        p_hidden: shape (n_hidden, n_root).
        weights: factor of each hidden variable when present, shape (n_hidden,) or (n_hidden, n_root).
        n_draws: draws of the numbers that stand side by side.
    """

    cluster: Cluster
    gates: Sequence[Gate]
    p_hidden: FloatArray
    weights: FloatArray
    n_draws: int = 1

    @cached_property
    def _ways(self) -> list[tuple[int, ...]]:
        """List the ways of the fixed variables."""
        return list(product((0, 1), repeat=len(self.cluster.fixed)))

    @cached_property
    def parts(self) -> list[tuple[ChainSum, np.ndarray]]:
        """The chains with their numbers, and the kind of each root state in them."""
        return [self._prepare(chain) for chain in self.cluster.chains]

    def _prepare(self, chain: Chain) -> tuple[ChainSum, np.ndarray]:
        hidden = [step.hidden for step in chain.steps]
        rows = [self.p_hidden[hidden], *(self.gates[g].root_misses[None] for g in chain.gates)]
        if self.weights.ndim == 2:
            rows.append(self.weights[hidden])
        first, inverse = find_kinds(np.concatenate(rows), self.n_draws)
        ways = list(product((0, 1), repeat=len(chain.fixed)))
        misses = {
            (g, h): miss if miss.ndim == 0 else np.tile(miss[first], len(ways))
            for g in chain.gates
            for h, miss in zip(self.gates[g].hidden, self.gates[g].misses, strict=True)
        }
        hits = {}
        for g in chain.gates:
            fixed = [self.cluster.fixed[f] for f in chain.fixed]
            missed = [self.gates[g].root_misses[first]] * len(ways)
            for i, way in enumerate(ways):
                for on, h in zip(way, fixed, strict=True):
                    if on and (g, h) in misses:
                        miss = misses[g, h]
                        missed[i] = missed[i] * (miss if miss.ndim == 0 else miss[: len(first)])
            hits[g] = 1 - np.concatenate(missed)
        weights = self.weights[hidden]
        tiled = weights[:, None] if weights.ndim == 1 else np.tile(weights[:, first], (1, len(ways)))
        numbers = Numbers(np.tile(self.p_hidden[hidden][:, first], (1, len(ways))), tiled, misses, hits)
        return ChainSum(chain, numbers), inverse

    @cached_property
    def values(self) -> list[FloatArray]:
        """Sum of each chain, shape (n_ways of its fixed variables, n_root)."""
        return [_spread(part.total()[None], len(part.chain.fixed), inverse)[0] for part, inverse in self.parts]

    @cached_property
    def joint(self) -> FloatArray:
        """Weight of each way of the fixed variables, chains included, shape (n_ways, n_root)."""
        return self._ways_prior * self._multiply(dict(enumerate(self.values)))

    @cached_property
    def total(self) -> FloatArray:
        """The sum, shape (n_root,)."""
        return self.joint.sum(axis=0)

    @cached_property
    def _on(self) -> np.ndarray:
        """Tell which fixed variable is present in which way, shape (n_ways, n_fixed)."""
        return np.array(self._ways, dtype=bool).reshape(len(self._ways), len(self.cluster.fixed))

    @cached_property
    def _ways_prior(self) -> FloatArray:
        """Prior times factors of each way of the fixed variables, shape (n_ways, n_root)."""
        result = np.ones((len(self._ways), self.p_hidden.shape[1]))
        for f, h in enumerate(self.cluster.fixed):
            result *= np.where(self._on[:, f, None], self.p_hidden[h] * self.weights[h], 1 - self.p_hidden[h])
        return result

    def _multiply(self, values: Mapping[int, FloatArray]) -> FloatArray:
        """Multiply chains, each over its own fixed variables, shape (n_ways, n_root)."""
        result = np.ones((len(self._ways), self.p_hidden.shape[1]))
        for k, value in values.items():
            fixed = self.cluster.chains[k].fixed
            result *= value[[_number([way[f] for f in fixed]) for way in self._ways]]
        return result

    def ask(self, changes: Sequence[Change]) -> FloatArray:
        """Give the sum under each change over the sum as it is, shape (n_changes, n_root)."""
        result = np.empty((len(changes), self.p_hidden.shape[1]))
        base = np.maximum(self.total, TINY)
        changed: list[dict[int, FloatArray]] = [{} for _ in changes]
        for k, (part, inverse) in enumerate(self.parts):
            steps, gates = part.place.keys(), set(part.chain.gates)
            mine = [
                i
                for i, change in enumerate(changes)
                if not gates.isdisjoint(change.released) or any(h in steps for h, _ in change.weights)
            ]
            if mine:
                values = part.ask([changes[i] for i in mine])
                for i, value in zip(mine, values, strict=True):
                    changed[i][k] = _spread(value[None], len(part.chain.fixed), inverse)[0]
        alone = len(self._ways) == 1 and len(self.values) == 1
        for i, change in enumerate(changes):
            if alone:
                result[i] = changed[i].get(0, self.values[0])[0]
                continue
            ways = self._ways_prior
            for h, factor in change.weights:
                if h in self.cluster.fixed:
                    ways = ways * np.where(self._on[:, self.cluster.fixed.index(h), None], factor, 1.0)
            own = {k: changed[i].get(k, value) for k, value in enumerate(self.values)}
            result[i] = (ways * self._multiply(own)).sum(axis=0)
        return result / base


def _number(way: Sequence[int]) -> int:
    """Number a way of some fixed variables as `itertools.product` does."""
    number = 0
    for on in way:
        number = 2 * number + on
    return number


def _spread(values: FloatArray, n_fixed: int, inverse: np.ndarray) -> FloatArray:
    """Turn columns into ways x root states: shape (n, n_ways, n_root) from (n, n_ways x n_kinds)."""
    return values.reshape(len(values), 1 << n_fixed, -1)[:, :, inverse]


def find_kinds(rows: FloatArray, n_draws: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Find the columns that differ: the first of each kind, and each column's kind.

    Args:
        n_draws: draws that stand side by side; columns that are equal in the first three are equal in all of them.
    """
    n = rows.shape[1] // n_draws
    columns = np.ascontiguousarray(np.concatenate([rows[:, i * n : i * n + n] for i in range(min(n_draws, 3))]).T)
    if not columns.shape[1]:
        first, inverse = np.zeros(1, dtype=np.intp), np.zeros(n, dtype=np.intp)
    else:
        keys = columns.view(np.dtype((np.void, columns.dtype.itemsize * columns.shape[1]))).ravel()
        _, first, inverse = np.unique(keys, return_index=True, return_inverse=True)
    draws = np.arange(n_draws)[:, None]
    return (draws * n + first).ravel(), (draws * len(first) + inverse.ravel()).ravel()
