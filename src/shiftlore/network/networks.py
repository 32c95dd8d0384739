"""Variables, their gates, and a whole network of them, checked when it is made; drawn from, and written as small tables.

A gate with many parents becomes a chain: each auxiliary variable holds the strongest contribution so far.
Source: Olesen, Kjaerulff, Jensen, Jensen, Falck, Andreassen, Andersen 1989, "A MUNIN network for the median nerve"
(parent divorcing).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from graphlib import CycleError, TopologicalSorter

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
StateArray = NDArray[np.int64]

SUM_TOLERANCE = 1e-6
"""How far a row may be from 1 (rounded files of other programs); rows are then divided by their sum."""


def _as_probabilities(values: object, what: str) -> FloatArray:
    """Check that an array holds probabilities whose last axis adds up to 1, and make it read-only."""
    array = np.array(values, dtype=float)
    if not np.all(np.isfinite(array)) or np.any(array < 0):
        raise ValueError(f"{what}: every probability must lie between 0 and 1.")
    sums = array.sum(axis=-1, keepdims=True)
    if np.any(np.abs(sums - 1) > SUM_TOLERANCE):
        raise ValueError(f"{what}: the probabilities of one row must add up to 1, not {sums.ravel()}.")
    array = np.where(sums == 1, array, array / sums)
    array.setflags(write=False)
    return array


@dataclass(frozen=True, slots=True)
class Variable:
    """Anything that can be one way or another; the first state is the sound one.

    Args:
        states: names of the states, at least two; state 0 means sound, absent, not shown.
    """

    id: str
    states: tuple[str, ...] = ("no", "yes")

    def __post_init__(self) -> None:
        """Take the states as a tuple and refuse a variable that cannot vary."""
        object.__setattr__(self, "states", tuple(self.states))
        if len(self.states) < 2:
            raise ValueError(f"{self.id}: a variable needs at least two states.")

    @property
    def n_states(self) -> int:
        """Count the states."""
        return len(self.states)


@dataclass(frozen=True, eq=False)
class NoisyLink:
    """What one parent alone brings about in a child, everything else being sound.

    Args:
        matrix: shape (parent states, child states); row s is the pmf over the child's states when the parent alone
            is in state s and the leak is off. Row 0 is [1, 0, ...]: a sound parent does nothing.
    Source: Diez 1993, "Parameter adjustment in Bayes networks: the generalized noisy OR-gate" (links without leak);
        Henrion 1989 gives links *with* the leak, which must be converted by 1-p_H = (1-p_D)(1-leak).
    """

    parent: str
    matrix: FloatArray

    def __post_init__(self) -> None:
        """Check the shape and that the sound row does nothing."""
        matrix = _as_probabilities(self.matrix, f"link from {self.parent}")
        if matrix.ndim != 2 or matrix.shape[0] < 2 or matrix.shape[1] < 2:
            raise ValueError(f"link from {self.parent}: a row per parent state, a column per child state.")
        if matrix[0, 0] != 1:
            raise ValueError(f"link from {self.parent}: row 0 must be [1, 0, ...]: a sound parent does nothing.")
        object.__setattr__(self, "matrix", matrix)


@dataclass(frozen=True, eq=False)
class NoisyMax:
    """A leaky noisy-OR (two states) or noisy-MAX (graded): the strongest of all contributions shows.

    Args:
        leak: pmf over the child's states when every parent is sound.
        mark: opaque place from which the gate came.
    Source: Henrion 1989, "Some practical issues in constructing belief networks"; Diez 1993 (noisy-MAX).
    """

    child: str
    leak: FloatArray
    links: tuple[NoisyLink, ...] = ()
    mark: object = field(default=None, compare=False)

    def __post_init__(self) -> None:
        """Check that leak and links speak of the same child states and name each parent once."""
        leak = _as_probabilities(self.leak, f"leak of {self.child}")
        object.__setattr__(self, "leak", leak)
        object.__setattr__(self, "links", tuple(self.links))
        if leak.ndim != 1:
            raise ValueError(f"leak of {self.child}: one row of probabilities is needed.")
        if any(link.matrix.shape[1] != leak.size for link in self.links):
            raise ValueError(f"{self.child}: every link needs {leak.size} columns, as many as the leak.")
        if len(set(self.parents)) != len(self.links):
            raise ValueError(f"{self.child}: a parent has two links; join them into one.")

    @property
    def parents(self) -> tuple[str, ...]:
        """Name the parents in the order of the links."""
        return tuple(link.parent for link in self.links)

    @property
    def n_states(self) -> int:
        """Count the child's states."""
        return int(self.leak.size)


@dataclass(frozen=True, eq=False)
class Table:
    """A full table; with no parents it is the prior of a cause.

    Args:
        parents: ids, in the order of the axes.
        array: shape (parent states ..., child states).
    """

    child: str
    parents: tuple[str, ...]
    array: FloatArray

    def __post_init__(self) -> None:
        """Check the number of axes and the rows."""
        object.__setattr__(self, "parents", tuple(self.parents))
        array = _as_probabilities(self.array, f"table of {self.child}")
        if array.ndim != len(self.parents) + 1:
            raise ValueError(f"table of {self.child}: {len(self.parents) + 1} axes are needed, not {array.ndim}.")
        object.__setattr__(self, "array", array)

    @property
    def n_states(self) -> int:
        """Count the child's states."""
        return int(self.array.shape[-1])


Gate = NoisyMax | Table


class Network:
    """Variables and one gate for each; nothing can be changed afterwards.

    Args:
        gates: exactly one per variable, in any order.
    Raises: ValueError: a gate is missing or doubled, a parent is unknown, a shape does not fit, or there is a cycle.
    """

    def __init__(self, variables: Sequence[Variable], gates: Sequence[Gate]) -> None:
        self.variables: Mapping[str, Variable] = {variable.id: variable for variable in variables}
        self.gates: Mapping[str, Gate] = {gate.child: gate for gate in gates}
        self._check_names(variables, gates)
        for gate in gates:
            self._check_shape(gate)
        self.order: tuple[str, ...] = self._sort()

    def _check_names(self, variables: Sequence[Variable], gates: Sequence[Gate]) -> None:
        """Refuse doubled ids and variables without exactly one gate."""
        if len(self.variables) != len(variables):
            raise ValueError("network: two variables carry the same id.")
        if len(self.gates) != len(gates):
            raise ValueError("network: a variable has two gates.")
        missing = self.variables.keys() ^ self.gates.keys()
        if missing:
            raise ValueError(f"network: exactly one gate per variable; look at {sorted(missing)}.")

    def _check_shape(self, gate: Gate) -> None:
        """Refuse unknown parents and tables whose axes do not fit the states."""
        unknown = [parent for parent in gate.parents if parent not in self.variables]
        if unknown:
            raise ValueError(f"{gate.child}: unknown parents {unknown}.")
        if gate.n_states != self.n_states(gate.child):
            raise ValueError(f"{gate.child}: {gate.n_states} states in the gate, {self.n_states(gate.child)} named.")
        wanted = tuple(self.n_states(parent) for parent in gate.parents)
        links = gate.links if isinstance(gate, NoisyMax) else ()
        found = gate.array.shape[:-1] if isinstance(gate, Table) else tuple(link.matrix.shape[0] for link in links)
        if found != wanted:
            raise ValueError(f"{gate.child}: the gate speaks of {found} parent states, the parents have {wanted}.")

    def _sort(self) -> tuple[str, ...]:
        """Put parents before children."""
        graph = {child: gate.parents for child, gate in self.gates.items()}
        try:
            return tuple(TopologicalSorter(graph).static_order())
        except CycleError as error:
            raise ValueError(f"network: the variables {error.args[1]} form a cycle.") from error

    def n_states(self, variable_id: str) -> int:
        """Count the states of one variable."""
        return self.variables[variable_id].n_states

    def is_root(self, variable_id: str) -> bool:
        """Tell whether a variable is a plain prior (a table without parents)."""
        gate = self.gates[variable_id]
        return isinstance(gate, Table) and not gate.parents

    @cached_property
    def roots(self) -> tuple[str, ...]:
        """Name the root variables, in the order of the variables."""
        return tuple(variable_id for variable_id in self.variables if self.is_root(variable_id))


MAX_PARENTS = 3
"""Usual most parents of a table: 16 entries for yes/no variables."""


def expand_gate(gate: Gate) -> FloatArray:
    """Write a gate out as a full table, shape (parent states ..., child states).

    Parent by parent, the strongest contribution is j if it was j before and the new one is at most j, or if it was
    below j and the new one is j; nothing is subtracted, so no digits are lost.
    Source: Diez 1993, the noisy MAX; Pearl 1988, section 4.3.2 (noisy OR).
    """
    if isinstance(gate, Table):
        return gate.array
    n = len(gate.links)
    table = gate.leak.reshape((1,) * n + (-1,))
    for axis, link in enumerate(gate.links):
        shape = [1] * (n + 1)
        shape[axis], shape[-1] = link.matrix.shape
        below = np.concatenate([np.zeros_like(table[..., :1]), np.cumsum(table, axis=-1)[..., :-1]], axis=-1)
        table = table * np.cumsum(link.matrix, axis=1).reshape(shape) + below * link.matrix.reshape(shape)
    return table


def _split_gate(gate: NoisyMax, max_parents: int) -> list[NoisyMax]:
    """Split a gate into a chain of gates with at most `max_parents` parents; the last one keeps the child's id."""
    chain: list[NoisyMax] = []
    waiting = list(gate.links)
    sound = np.eye(gate.n_states)[0]
    carried: list[NoisyLink] = []
    while len(carried) + len(waiting) > max_parents:
        room = max_parents - len(carried)
        name = f"{gate.child}__upto{len(gate.links) - len(waiting) + room}"
        leak = sound if chain else gate.leak
        chain.append(NoisyMax(name, leak, (*carried, *waiting[:room])))
        waiting = waiting[room:]
        carried = [NoisyLink(name, np.eye(gate.n_states))]  # its state is passed on unchanged
    chain.append(NoisyMax(gate.child, sound if chain else gate.leak, (*carried, *waiting)))
    return chain


def divorce(network: Network, max_parents: int = MAX_PARENTS) -> Network:
    """Write a network as small tables, all non-negative.

    Args:
        max_parents: most parents of a noisy gate's table, at least 2; full tables are kept as they are.
    """
    assert max_parents >= 2, "a chain needs room for the carried variable and one parent"
    variables = list(network.variables.values())
    tables: list[Table] = []
    for gate in (network.gates[child] for child in network.order):
        if isinstance(gate, Table):
            tables.append(gate)
            continue
        for part in _split_gate(gate, max_parents):
            tables.append(Table(part.child, part.parents, np.clip(expand_gate(part), 0, 1)))
            if part.child not in network.variables:
                variables.append(Variable(part.child, network.variables[gate.child].states))
    return Network(variables, tables)


def _pick_states(p_states: FloatArray, rng: np.random.Generator) -> StateArray:
    """Pick a state per row of an array of shape (n, states)."""
    chance = rng.random((p_states.shape[0], 1))
    return np.minimum((chance >= np.cumsum(p_states, axis=1)).sum(axis=1), p_states.shape[1] - 1)


def _sample_roots(
    network: Network, rng: np.random.Generator, n: int, given: Mapping[str, FloatArray]
) -> dict[str, StateArray]:
    """Draw every root on its own."""
    roots = {}
    for name in network.roots:
        gate = network.gates[name]
        assert isinstance(gate, Table)
        roots[name] = _pick_states(np.broadcast_to(given.get(name, gate.array), (n, gate.n_states)), rng)
    return roots


def _cumulate_noisy(gate: NoisyMax, states: Mapping[str, StateArray], n: int) -> FloatArray:
    """Cumulate the child's states, the last left out, shape (n, states - 1): only parents that are not sound need work."""
    cumulative = np.repeat(np.cumsum(gate.leak)[None, :-1], n, axis=0)
    for link in gate.links:
        present = np.flatnonzero(states[link.parent])
        if present.size:
            cumulative[present] *= np.cumsum(link.matrix, axis=1)[states[link.parent][present], :-1]
    return cumulative


def sample_network(
    network: Network, rng: np.random.Generator, n: int, given: Mapping[str, FloatArray] | None = None
) -> dict[str, StateArray]:
    """Draw `n` vehicles: a state for every variable.

    Args:
        given: root -> a prior that stands for its own, shape (n_states,).
    Returns: variable -> state index, shape (n,).
    Source: Henrion 1988, "Propagating uncertainty by logic sampling", parents before children.
    """
    states = _sample_roots(network, rng, n, given or {})
    for name in network.order:
        gate = network.gates[name]
        if name in states:
            continue
        if isinstance(gate, NoisyMax):
            states[name] = (rng.random((n, 1)) >= _cumulate_noisy(gate, states, n)).sum(axis=1)
        else:
            states[name] = _pick_states(gate.array[tuple(states[parent] for parent in gate.parents)], rng)
    return states


TINY_WEIGHT = 1e-12
"""What a draw counts that could not show what was seen; only where none could it matters."""


def sample_seen(
    network: Network,
    rng: np.random.Generator,
    n: int,
    given: Mapping[str, FloatArray],
    seen: Mapping[str, int],
) -> dict[str, int]:
    """Draw one vehicle that shows what was seen: of `n` draws one, as often as it makes what was seen likely.

    Args:
        given: root -> a prior that stands for its own.
        seen: variable -> its state; no variable with children among them for a good draw.
        n: with more draws the vehicle follows the exact distribution more closely.
    Source: Fung and Chang 1990, Shachter and Peot 1990: likelihood weighting.
    """
    states = _sample_roots(network, rng, n, given)
    log_weights = np.zeros(n)
    for name in network.order:
        if name in states:
            continue
        gate = network.gates[name]
        if isinstance(gate, NoisyMax):
            upto = np.concatenate([_cumulate_noisy(gate, states, n), np.ones((n, 1))], axis=1)
            p = np.diff(upto, axis=1, prepend=0.0)
        else:
            p = gate.array[tuple(states[parent] for parent in gate.parents)]
        if name in seen:
            states[name] = np.full(n, seen[name])
            log_weights += np.log(np.maximum(p[:, seen[name]], TINY_WEIGHT))
        else:
            states[name] = _pick_states(p, rng)
    weights = np.exp(log_weights - log_weights.max())
    row = int(rng.choice(n, p=weights / weights.sum()))
    return {name: int(column[row]) for name, column in states.items()}
