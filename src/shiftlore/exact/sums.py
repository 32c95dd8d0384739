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
from functools import cached_property
from itertools import product

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.exact.answers import Gate
from shiftlore.exact.chains import Chain, Cluster
from shiftlore.exact.tables import TINY, FloatArray, find_kinds, multiply_groups
from shiftlore.exact.ways import WayTable, is_small

CELLS_PER_PASS = 1 << 18
"""Entries of a running array in one pass, so that it stays in the processor's cache; columns are cut up (measured)."""
CELLS_KEPT = 1 << 14
"""Entries of a chain's array up to which its arrays are kept."""
State = tuple[FloatArray, tuple[int, ...]]
"""An array before a step, and the gates of its axes."""


class Change(Value, frozen=True):
    """A variant of the answers, as far as it concerns one cluster.

    Args:
        weights: hidden variable -> by what its factor when present is multiplied.
        released: gates (positions) that count as not answered.
    """

    weights: tuple[tuple[int, float], ...] = ()
    released: tuple[int, ...] = ()


class ChainNumbers(Value, frozen=True, eq=False):
    """What a chain is summed with; the last axis holds the columns (ways of the fixed variables x kinds of root states).

    Args:
        absent, present: P(absent) and P(present) times its factor per step, shape (n_steps, n_columns).
        misses: (gate, hidden) -> P(it does not set the gate off), shape () or (n_columns,).
        hits: gate -> P(the root or a fixed variable sets it off), shape (n_columns,).
    """

    absent: FloatArray
    present: FloatArray
    misses: Mapping[tuple[int, int], FloatArray]
    hits: Mapping[int, FloatArray]

    def cut(self, columns: slice) -> "ChainNumbers":
        """Take some of the columns."""
        return ChainNumbers(
            self.absent[:, columns],
            self.present[:, columns],
            {key: value if value.ndim == 0 else value[columns] for key, value in self.misses.items()},
            {key: value[columns] for key, value in self.hits.items()},
        )


class _Tasks:
    """Changes on a chain as arrays, in the order of their first steps.

    Args:
        held: change and step of each that only holds a variable absent; these stand apart.
        number, first, last: of every other its number, and the steps between which it differs, shape (n,).
        factors: by what it multiplies the weight of each step, shape (n, n_steps).
        released: gate -> which changes release it, shape (n,).
        most_active: most changes between their first and last step at a time; at least 1.
    """

    def __init__(self, changes: Sequence[Change], place: Mapping[int, int], closed_at: Mapping[int, int]):
        self.held: list[tuple[int, int]] = []
        rows: list[tuple[int, int, int, dict[int, float], list[int]]] = []
        for number, change in enumerate(changes):
            weights = {place[h]: factor for h, factor in change.weights if h in place}
            released = [g for g in change.released if g in closed_at]
            steps = [*weights, *(closed_at[g] for g in released)]
            if len(steps) == 1 and 0.0 in weights.values():
                self.held.append((number, steps[0]))
            else:
                rows.append((min(steps), max(steps), number, weights, released))
        rows.sort(key=lambda row: row[0])
        self.first, self.last, self.number = np.array([row[:3] for row in rows], dtype=np.intp).reshape(-1, 3).T
        self.factors = np.ones((len(rows), len(place)))
        self.released: dict[int, np.ndarray] = {}
        for k, (_, _, _, weights, released) in enumerate(rows):
            self.factors[k, list(weights)] = list(weights.values())
            for g in released:
                self.released.setdefault(g, np.zeros(len(rows), dtype=bool))[k] = True
        starting, ending = (np.bincount(steps, minlength=len(place) + 1) for steps in (self.first, self.last + 1))
        self.most_active = max(1, int(np.cumsum(starting - ending).max()))


class ChainSum:
    """One chain and its numbers."""

    def __init__(self, chain: Chain, numbers: ChainNumbers):
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
        small = self.numbers.absent.shape[1] << self.chain.width <= CELLS_KEPT
        return self._forward(self.numbers) if small else None

    def ask(self, changes: Sequence[Change]) -> FloatArray:
        """Sum the chain under changes that concern it, shape (n_changes, n_columns)."""
        n = next(iter(self.numbers.hits.values())).shape[0]
        result = np.empty((len(changes), n))
        if not self.chain.steps:
            result[:] = 1.0
            return result
        tasks = _Tasks(changes, self.place, self.closed_at)
        width = max(1, (CELLS_PER_PASS >> self.chain.width) // tasks.most_active)
        for at in range(0, n, width):
            columns = slice(at, at + width)
            kept = [(array[..., columns], axes) for array, axes in self._kept] if self._kept else None
            self._ask_some(tasks, self.numbers.cut(columns), result[:, columns], kept)
        return result

    def _forward(self, numbers: ChainNumbers) -> list[State]:
        """Give the array before each step and at the end, with the gates of its axes; shape (1, 2, ..., n_columns)."""
        states: list[State] = [(np.ones((1, numbers.absent.shape[1])), ())]
        for i in range(len(self.chain.steps)):
            states.append(self._advance(*states[-1], i, numbers))
        return states

    def _advance(
        self,
        array: FloatArray,
        axes: tuple[int, ...],
        i: int,
        numbers: ChainNumbers,
        *,
        tasks: _Tasks | None = None,
        active: np.ndarray | None = None,
    ) -> State:
        """Take one step.

        Args:
            array: shape (n_rows, 2, ..., 2, n_columns).
            tasks, active: changes, and which of them each row stands for; nothing is changed if there are none.
        """
        step, absent, present = self.chain.steps[i], numbers.absent[i], numbers.present[i]
        if tasks and (tasks.factors[active, i] != 1.0).any():
            present = tasks.factors[active, i, None] * present
        coming = array * _lift(present, array.ndim)
        for g in step.bears_on:
            miss = numbers.misses[g, step.hidden]
            if g in axes:
                view = _split_axis(coming, axes.index(g))
                view[:, :, 1] += view[:, :, 0] * (1 - miss)
                view[:, :, 0] *= miss
            else:
                opened = np.empty((len(coming), 2, *coming.shape[1:]))
                np.multiply(coming, miss, out=opened[:, 0])
                np.multiply(coming, 1 - miss, out=opened[:, 1])
                coming, axes = opened, (g, *axes)
        coming[(slice(None), *(0,) * len(step.opens))] += array * absent
        for g in step.closes:
            hit, view = numbers.hits[g], _split_axis(coming, axes.index(g))
            if tasks and g in tasks.released:
                hit = _lift(np.where(tasks.released[g][active, None], 1.0, hit), 4)
            closed = view[:, :, 0] * hit
            closed += view[:, :, 1]
            axes = tuple(other for other in axes if other != g)
            coming = closed.reshape(len(coming), *(2,) * len(axes), -1)
        return coming, axes

    def _backward(self, numbers: ChainNumbers, states: Sequence[State]) -> tuple[list[FloatArray], FloatArray]:
        """Give what is still to come after each step, and the sum with the variable of each step absent.

        Returns: in the axes that stand open there, shape (2, ..., n_columns); shape (n_steps, n_columns).
        """
        rest, sums = np.ones(numbers.absent.shape[1]), np.empty_like(numbers.absent)
        after = [rest]
        for i in range(len(self.chain.steps) - 1, -1, -1):
            array, axes = states[i]
            without, rest = self._retreat(rest, states[i + 1][1], axes, i, numbers)
            sums[i] = (array[0] * without).reshape(-1, sums.shape[1]).sum(axis=0)
            after.append(rest)
        return after[-2::-1], sums

    def _retreat(
        self, rest: FloatArray, axes: tuple[int, ...], before: tuple[int, ...], i: int, numbers: ChainNumbers
    ) -> tuple[FloatArray, FloatArray]:
        """Take one step backwards: with the variable absent, and in all."""
        step = self.chain.steps[i]
        for g in reversed(step.closes):
            hit = rest * numbers.hits[g]
            rest = np.concatenate([hit[None], rest[None]])
            axes = (g, *axes)
        opened = tuple(g for g in axes if g not in before)
        if axes != (*opened, *before):
            rest = rest.transpose(*(axes.index(g) for g in (*opened, *before)), rest.ndim - 1)
            axes = (*opened, *before)
        coming = np.multiply(rest, numbers.present[i], order="C")
        for g in step.bears_on:
            miss = numbers.misses[g, step.hidden]
            view = _split_axis(coming[None], axes.index(g))
            view[:, :, 0] *= miss
            view[:, :, 0] += view[:, :, 1] * (1 - miss)
        unopened = (0,) * len(opened)
        without = rest[unopened] * numbers.absent[i]
        return without, without + coming[unopened]

    def _ask_some(self, tasks: _Tasks, numbers: ChainNumbers, result: FloatArray, kept: list[State] | None) -> None:
        """Work all changes out for some columns, each only between the first and the last step that it concerns."""
        states = kept or self._forward(numbers)
        after, absent = self._backward(numbers, states)
        for number, i in tasks.held:
            result[number] = absent[i]
        active, array = np.zeros(0, dtype=np.intp), np.empty((0,))
        for i, (before, axes) in enumerate(states[:-1]):
            starting = np.flatnonzero(tasks.first == i)
            if len(starting):
                fresh = np.repeat(before, len(starting), axis=0)
                array = np.concatenate([array, fresh]) if len(active) else fresh
                active = np.concatenate([active, starting])
            if not len(active):
                continue
            array, _ = self._advance(array, axes, i, numbers, tasks=tasks, active=active)
            ending = tasks.last[active] == i
            if ending.any():
                done = array[ending] * after[i]
                result[tasks.number[active[ending]]] = done.reshape(len(done), -1, done.shape[-1]).sum(axis=1)
                array, active = array[~ending], active[~ending]


def _lift(values: FloatArray, n_axes: int) -> FloatArray:
    """Give values for each column, or for each row and column, n axes: rows first, columns last."""
    return values.reshape(-1, *(1,) * (n_axes - 2), values.shape[-1])


def _split_axis(array: FloatArray, axis: int) -> FloatArray:
    """View an array of shape (n_rows, 2, ..., 2, n_columns) as (n_rows, left, 2, right, n_columns)."""
    n_axes = array.ndim - 2
    return array.reshape(array.shape[0], 1 << axis, 2, 1 << (n_axes - 1 - axis), array.shape[-1])


class ClusterSum(Value, frozen=True, eq=False, dict=True):
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
    def table(self) -> WayTable | None:
        """The table of all ways, where the cluster is small."""
        if not is_small(self.cluster, self.p_hidden.shape[1]):
            return None
        return WayTable(self.cluster, self.gates, self.p_hidden, self.weights, self.n_draws)

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
        p = np.tile(self.p_hidden[hidden][:, first], (1, len(ways)))
        weights = self.weights[hidden]
        present = p * (weights[:, None] if weights.ndim == 1 else np.tile(weights[:, first], (1, len(ways))))
        return ChainSum(chain, ChainNumbers(1 - p, present, misses, hits)), inverse

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
        return self.table.total[self.table.kind] if self.table else self.joint.sum(axis=0)

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
            result *= value[self._own_ways[k]]
        return result

    @cached_property
    def _own_ways(self) -> list[np.ndarray]:
        """Give, of each chain, the number that each way has among those of its own fixed variables, shape (n_ways,)."""
        chains = [list(chain.fixed) for chain in self.cluster.chains]
        return [self._on[:, fixed] @ (1 << np.arange(len(fixed))[::-1]) for fixed in chains]

    def ask(self, changes: Sequence[Change]) -> FloatArray:
        """Give the sum under each change over the sum as it is, shape (n_changes, n_root)."""
        if self.table:
            return self._ask_table(self.table, changes)
        if not self.cluster.fixed and len(self.parts) == 1:
            part, inverse = self.parts[0]
            return (part.ask(changes) / np.maximum(part.total(), TINY))[:, inverse]
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
        for i, change in enumerate(changes):
            ways = self._ways_prior
            for h, factor in change.weights:
                if h in self.cluster.fixed:
                    ways = ways * np.where(self._on[:, self.cluster.fixed.index(h), None], factor, 1.0)
            own = {k: changed[i].get(k, value) for k, value in enumerate(self.values)}
            result[i] = (ways * self._multiply(own)).sum(axis=0)
        return result / base

    @staticmethod
    def _ask_table(table: WayTable, changes: Sequence[Change]) -> FloatArray:
        """Ask the table: changes that release the same gates together."""
        own = np.array([i for i, change in enumerate(changes) for _ in change.weights], dtype=np.intp)
        weights = [weight for change in changes for weight in change.weights]
        factors = table.lay_factors(len(changes), own, [h for h, _ in weights], [factor for _, factor in weights])
        alike: dict[tuple[int, ...], list[int]] = {}
        for i, change in enumerate(changes):
            alike.setdefault(change.released, []).append(i)
        result = np.empty((len(changes), len(table.kind)))
        for released, rows in alike.items():
            result[rows] = table.ask(factors[rows], released)
        return result

    def change(
        self,
        result: FloatArray,
        own: np.ndarray,
        hidden: np.ndarray,
        *,
        factor: FloatArray,
        released: Sequence[tuple[int, int]],
        apart: bool,
    ) -> None:
        """Multiply each change's row by what it makes of the sum.

        Args:
            result: shape (n_changes, n_root).
            own, hidden, factor: of each weight that is changed its change, its variable, and by what; shape (n,).
            released: change and gate that it releases.
            apart: take changes of several weights as though these were independent.
        """
        if self.table and not released:
            changed, place = np.unique(own, return_inverse=True)
            result[changed] *= self.table.ask(self.table.lay_factors(len(changed), place, hidden.tolist(), factor))
            return
        count = np.bincount(own, minlength=len(result))
        count[[row for row, _ in released]] += 2
        joined = np.zeros(len(own), dtype=bool) if apart else count[own] > 1
        rows: dict[int, tuple[list[tuple[int, float]], list[int]]] = {}
        for row, h, by in zip(own[joined].tolist(), hidden[joined].tolist(), factor[joined].tolist(), strict=True):
            rows.setdefault(row, ([], []))[0].append((h, by))
        for row, g in released:
            rows.setdefault(row, ([], []))[1].append(g)
        several: dict[Change, list[int]] = {}
        for row, (weights, loose) in rows.items():
            several.setdefault(Change(tuple(weights), tuple(loose)), []).append(row)
        held, places = np.unique(hidden[~joined], return_inverse=True)
        asked = self.ask([*several, *(Change(((h, 0.0),)) for h in held.tolist())])
        for ratio, same in zip(asked, several.values(), strict=False):
            result[same] *= ratio
        absent = asked[len(several) :]
        lift = factor[~joined, None] * np.maximum(1 - absent, 0.0)[places]
        lift += absent[places]
        result *= multiply_groups(lift, own[~joined], len(result))


def _spread(values: FloatArray, n_fixed: int, inverse: np.ndarray) -> FloatArray:
    """Turn columns into ways x root states: shape (n, n_ways, n_root) from (n, n_ways x n_kinds)."""
    return values.reshape(len(values), 1 << n_fixed, -1)[:, :, inverse]
