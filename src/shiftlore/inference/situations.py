"""A situation: the answers so far, ready to be asked; it puts the tie on top of two worlds.

The tie multiplies the configurations in which every member is sound by weight_none. So every sum is
S(all) - (1 - weight_none) S(none): the plain network, and the much smaller one in which all members are held sound.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from shiftlore.inference.numbers import Numbers
from shiftlore.inference.plans import Plan, Structure
from shiftlore.inference.reduction import Answers
from shiftlore.inference.rows import UNCHANGED, Rows, Term
from shiftlore.inference.sweeps import SweepRun
from shiftlore.inference.worlds import World, WorldParts
from shiftlore.network import FloatArray, Network, Table


@dataclass(frozen=True, eq=False)
class Evaluation:
    """What a situation says, row by row.

    Args:
        log_p: natural logarithm of the tied sum (not yet normalised), shape (rows,).
        p_present: shape (rows, n_watch); empty if not asked for.
    """

    log_p: FloatArray
    p_present: FloatArray


class Situation:
    """The answers so far on one network.

    Args:
        network: the network.
        numbers: means or draws.
        answers: what was seen.
        needed: variables that must keep a place in the structure.
        find_plan: gives the plan of a structure.
    """

    def __init__(
        self,
        network: Network,
        numbers: Numbers,
        answers: Answers,
        needed: Collection[str],
        find_plan: Callable[[Structure], Plan],
    ) -> None:
        self.network = network
        self.numbers = numbers
        self.answers = answers
        self._parts = WorldParts(network, numbers, answers, needed, find_plan)
        self.world = World(self._parts)

    @cached_property
    def none_world(self) -> World | None:
        """Build the world in which all members of the tie are sound; None without a tie."""
        tie = self.network.tie
        if tie is None or tie.weight_none == 1:
            return None
        return World(self._parts, tie.members)

    @cached_property
    def log_norm(self) -> FloatArray:
        """Work out the logarithm of the tied sum without any answer, shape (rows,)."""
        tie = self.network.tie
        if tie is None:
            return np.zeros(self.numbers.n_rows)
        sound = [self.numbers.table(member)[0] for member in tie.members]
        return np.log1p(-(1 - tie.weight_none) * np.prod(sound, axis=0))

    def holds(self, name: str) -> bool:
        """Tell whether a variable has a place in the structure or a known state."""
        return name in self.world.spans or name in self.world.known

    def run(self, rows: Rows, watch: Sequence[str] | None = None) -> Evaluation:
        """Run rows through both worlds.

        Args:
            rows: changes of unary factors.
            watch: variables whose p_present is wanted; None runs forwards only.
        """
        plain = self.world.run(rows, watch is not None)
        outside = watch is not None and any(name not in self._members for name in watch)
        share, none = self._tie_share(plain.log_p, rows, outside)
        log_p = plain.log_p + np.log(share)
        if watch is None:
            return Evaluation(log_p, np.empty((0, 0)))
        picked = self._pick(self.world, plain.p_states, watch)
        if outside and none is not None:
            assert self.none_world is not None
            picked = picked - (1 - share) * self._pick(self.none_world, none.p_states, watch)
        return Evaluation(log_p, (picked / share).T)

    @cached_property
    def _members(self) -> frozenset[str]:
        """Name the members of the tie."""
        return frozenset(self.network.tie.members) if self.network.tie else frozenset()

    def _pick(self, world: World, p_states: FloatArray, watch: Sequence[str]) -> FloatArray:
        """Add up the states above 0 of the watched variables, shape (n_watch, rows)."""
        picked = np.zeros((len(watch), p_states.shape[1]))
        states: list[int] = []
        starts: list[int] = []
        places: list[int] = []
        for index, name in enumerate(watch):
            if name in world.spans:
                starts.append(len(states))
                places.append(index)
                span = world.spans[name]
                states.extend(range(span.start + 1, span.stop))
            else:
                picked[index] = float(world.known[name] > 0)
        if places:
            picked[places] = np.add.reduceat(p_states[states], starts, axis=0)
        return picked

    def read_states(self, watch: Sequence[str]) -> tuple[dict[str, FloatArray], float]:
        """Work out the posterior of every state of the watched variables, and the logarithm of P(answers | brought in).

        The states above 0 of a member of the tie need no correction; state 0 takes what is left.
        """
        plain = self.world.run(UNCHANGED)
        share, none = self._tie_share(plain.log_p, UNCHANGED, True)
        p_states = {}
        for name in watch:
            p = self._states_of(self.world, name, plain.p_states)
            if none is not None:
                assert self.none_world is not None
                p = p - (1 - share) * self._states_of(self.none_world, name, none.p_states)
            p = np.maximum(p, 0.0)
            p_states[name] = p / p.sum()
        return p_states, float((plain.log_p + np.log(share) - self.log_norm)[0])

    def _states_of(self, world: World, name: str, p_states: FloatArray) -> FloatArray:
        """Read the states of one variable in row 0 of a world."""
        if name in world.spans:
            return p_states[world.spans[name], 0]
        return np.eye(self.network.n_states(name))[world.known[name]]

    def _tie_share(self, log_p: FloatArray, rows: Rows, backwards: bool) -> tuple[FloatArray, SweepRun | None]:
        """Work out which share of the plain sum the tie leaves, shape (rows,), and the run of the world of none."""
        tie = self.network.tie
        if tie is None or self.none_world is None:
            return np.ones_like(log_p), None
        none = self.none_world.run(rows, backwards)
        possible = np.isfinite(log_p)
        ratio = np.exp(none.log_p - np.where(possible, log_p, 0.0))
        taken = (1 - tie.weight_none) * np.minimum(ratio, 1.0)
        return np.where(possible, 1 - taken, 1.0), none

    def expand(self, term: Term) -> list[Term]:
        """Sum hidden variables that have no place in the structure out of a product of unary factors.

        A barren noisy variable with factors w is a weighted sum of its cumulated states,
        w[last] + sum over j of (w[j] - w[j+1]) P(state <= j), and each of those is again a product over its parents.
        """
        barren = [name for name in term.vectors if not self.holds(name)]
        if not barren:
            return [term]
        position = self._position
        name = max(barren, key=position.__getitem__)
        factors = term.vectors[name]
        rest = {other: vector for other, vector in term.vectors.items() if other != name}
        expanded = [Term(term.weight * float(factors[-1]), rest)] if factors[-1] else []
        for state in range(len(factors) - 1):
            step = float(factors[state] - factors[state + 1])
            if step:
                expanded.append(self.cumulate(name, state, Term(term.weight * step, rest)))
        return [final for part in expanded for final in self.expand(part)]

    @cached_property
    def _position(self) -> dict[str, int]:
        """Number the variables, parents first."""
        return {name: position for position, name in enumerate(self.network.order)}

    def cumulate(self, name: str, state: int, term: Term) -> Term:
        """Multiply a term by P(name <= state | its parents), which is a product over them."""
        gate = self.network.gates[name]
        assert not isinstance(gate, Table), f"{name}: a table must be kept in the structure"
        vectors = dict(term.vectors)
        for parent in gate.parents:
            factor = self.numbers.below(name, parent)[:, state, 0]
            vectors[parent] = vectors[parent] * factor if parent in vectors else factor
        return Term(term.weight * float(self.numbers.leak(name)[: state + 1, 0].sum()), vectors)

    def split_open(self, name: str, state: int, term: Term) -> Term:
        """Multiply a term by "the open finding `name` is at most in `state`"."""
        if self.holds(name):
            mask = (np.arange(self.network.n_states(name)) <= state).astype(float)
            vectors = dict(term.vectors)
            vectors[name] = vectors[name] * mask if name in vectors else mask
            return Term(term.weight, vectors)
        return self.cumulate(name, state, term)
