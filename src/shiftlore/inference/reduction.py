"""Boil a network and its answers down to what must really be summed over.

What is dropped or folded, none of it an approximation:

- variables that are neither answered nor watched nor above one that is (barren; Shachter 1986);
- a noisy finding seen to be sound: P(child <= 0) is a product over the parents, so it only multiplies their unary
  factors (Heckerman 1989, "A tractable inference algorithm for diagnosing multiple diseases");
- a variable seen in a known state: its links fold into the leaks of its children, its tables are sliced;
- a noisy finding seen in state j: contributions above j are impossible and those below j look alike, so two states
  per gate are enough, whatever the number of grades.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from enum import Enum

import numpy as np

from shiftlore.inference.numbers import Numbers
from shiftlore.inference.plans import Factor, Structure
from shiftlore.network import FloatArray, Network, NoisyMax


class Way(Enum):
    """Which gates are held cumulated: entry j stands for "at most j", so that joining is a plain product, and a single
    state is a difference. See worlds for when that is safe.
    """

    CAREFUL = "none"
    QUICK = "hidden variables"
    QUICKER = "hidden variables and every other telling finding"
    QUICKEST = "hidden variables and all telling findings"


@dataclass(frozen=True, eq=False)
class Answers:
    """The answers, sorted by kind.

    Args:
        hard: variable -> state index.
        soft: variable -> likelihood of each state, scaled so that the largest is 1.
    """

    hard: Mapping[str, int]
    soft: Mapping[str, FloatArray]

    @property
    def names(self) -> tuple[str, ...]:
        """Name the answered variables."""
        return (*self.hard, *self.soft)


def sort_answers(network: Network, evidence: Mapping[str, int | FloatArray]) -> Answers:
    """Sort evidence into certain answers and likelihoods.

    Raises: ValueError: an unknown variable, a state that does not exist, a likelihood of the wrong length.
    """
    hard: dict[str, int] = {}
    soft: dict[str, FloatArray] = {}
    for name, answer in evidence.items():
        if name not in network.variables:
            raise ValueError(f"evidence: unknown variable {name}.")
        if isinstance(answer, int | np.integer):
            if not 0 <= answer < network.n_states(name):
                raise ValueError(f"evidence: {name} has no state {answer}.")
            hard[name] = int(answer)
            continue
        likelihood = np.asarray(answer, dtype=float)
        if likelihood.shape != (network.n_states(name),) or np.any(likelihood < 0) or not np.any(likelihood > 0):
            raise ValueError(f"evidence: {name} needs {network.n_states(name)} likelihoods, not all of them 0.")
        soft[name] = likelihood
    return Answers(hard, soft)


def find_relevant(network: Network, targets: Collection[str]) -> set[str]:
    """Name the targets and everything above them."""
    relevant: set[str] = set()
    waiting = list(targets)
    while waiting:
        name = waiting.pop()
        if name not in relevant:
            relevant.add(name)
            waiting.extend(network.gates[name].parents)
    return relevant


class Reduction:
    """The structure of a set of answers, with its numbers.

    Its attribute `releasable` names the telling findings whose answer can be taken back in single rows: finding ->
    index of the factor that must then hold ones. `unexplained` holds those without a parent left: finding -> its
    probability, shape (rows,), which is not in the constant; `differences` those that are held cumulated: finding ->
    node, which must then hold 1 and 0.

    Args:
        network: the network.
        numbers: means or draws.
        answers: what was seen.
        needed: variables that must keep a place although nothing was seen below them.
        clamped: roots held at state 0 (for the world in which nothing is present).
        way: which gates are held cumulated.
    """

    def __init__(
        self,
        network: Network,
        numbers: Numbers,
        answers: Answers,
        needed: Collection[str] = (),
        clamped: Collection[str] = (),
        way: Way = Way.CAREFUL,
    ) -> None:
        self.network = network
        self._cumulated: dict[str, int] = {}
        self.numbers = numbers
        self.known: dict[str, int] = {**answers.hard, **dict.fromkeys(clamped, 0)}
        self.constant = np.ones(numbers.n_rows)
        self._possible = all(answers.hard.get(name, 0) == 0 for name in clamped)
        relevant = find_relevant(network, {*answers.names, *needed}) | set(network.roots)
        names = [name for name in network.order if name in relevant and name not in self.known]
        self.node = {name: node for node, name in enumerate(names)}
        self.unary = [np.ones((network.n_states(name), numbers.n_rows)) for name in names]
        self.careful = True
        hidden = names if way is not Way.CAREFUL else ()
        telling = [name for name in network.order if self.known.get(name, 0)]
        shares = {Way.QUICKER: telling[::2], Way.QUICKEST: telling}
        self._add_cumulated_nodes((*hidden, *shares.get(way, ())))
        self._gate_sizes: list[int] = []
        self._factors: list[Factor] = []
        self.releasable: dict[str, int] = {}
        self.unexplained: dict[str, FloatArray] = {}
        self.differences: dict[str, int] = {}
        self.constants: list[FloatArray] = []
        for name, likelihood in answers.soft.items():
            self._times_answer(name, likelihood)
        for name in network.order:
            if name in relevant:
                self._add_gate(name)
        sizes = (*(len(unary) for unary in self.unary), *self._gate_sizes)
        self.structure = Structure(sizes, len(self.unary), tuple(self._factors))
        if not self._possible:
            self.constant = np.zeros(numbers.n_rows)

    def _add_cumulated_nodes(self, names: Collection[str]) -> None:
        """Number the gates that are held cumulated; they behave like variables."""
        for name in names:
            gate = self.network.gates[name]
            if isinstance(gate, NoisyMax) and any(parent not in self.known for parent in gate.parents):
                self.careful = False
                self._cumulated[name] = len(self.unary)
                size = 2 if name in self.known else gate.n_states
                self.unary.append(np.ones((size, self.numbers.n_rows)))

    def _times_answer(self, name: str, likelihood: FloatArray) -> None:
        """Weigh a variable by a likelihood."""
        if name in self.known:
            self.constant = self.constant * likelihood[self.known[name]]
        else:
            self.unary[self.node[name]] *= likelihood[:, None]

    def _add_gate(self, name: str) -> None:
        """Add what the gate of one variable contributes."""
        gate = self.network.gates[name]
        if not isinstance(gate, NoisyMax):
            self._add_table(name)
            return
        leak = self._fold_leak(name)
        parents = [parent for parent in gate.parents if parent not in self.known]
        if name not in self.known:
            self._add_free(name, leak, parents)
        elif self.known[name] == 0:
            self.constant = self.constant * leak[0]
            for parent in parents:
                self.unary[self.node[parent]] *= self.numbers.below(name, parent)[:, 0]
        else:
            self._add_telling(name, leak, parents)

    def _add_table(self, name: str) -> None:
        """Add a full table, sliced at what is known."""
        parents = self.network.gates[name].parents
        axes = (*parents, name)
        table = self.numbers.table(name)[tuple(self.known.get(axis, slice(None)) for axis in axes)]
        self._add_factor(tuple(self.node[axis] for axis in axes if axis not in self.known), table)

    def _add_factor(self, scope: tuple[int, ...], array: FloatArray, required: frozenset[int] = frozenset()) -> None:
        """Keep a factor; one of a single variable goes into its unary factor, one of none into the constant."""
        if not scope:
            self.constant = self.constant * array
        elif len(scope) == 1 and not required:
            self.unary[scope[0]] *= array
        else:
            self._factors.append(Factor(scope, required))
            self.constants.append(array)

    def _fold_leak(self, name: str) -> FloatArray:
        """Join the leak with the contributions of parents whose state is known."""
        leak = self.numbers.leak(name)
        for parent in self.network.gates[name].parents:
            if self.known.get(parent, 0):
                link = self.numbers.link(name, parent)[self.known[parent]]
                below_leak = np.cumsum(leak, axis=0)
                shifted = np.concatenate([np.zeros_like(below_leak[:1]), below_leak[:-1]])
                leak = leak * np.cumsum(link, axis=0) + shifted * link
        return leak

    def _add_gate_node(self, size: int) -> int:
        """Number a new gate; gates stand after all variables."""
        self._gate_sizes.append(size)
        return len(self.unary) + len(self._gate_sizes) - 1

    def _add_telling(self, name: str, leak: FloatArray, parents: list[str]) -> None:
        """Add a noisy finding seen in state j > 0: the strongest contribution is exactly j."""
        state = self.known[name]
        required = np.stack([leak[state], leak[: state + 1].sum(axis=0)])
        last = state == len(leak) - 1
        if not parents:
            self.unexplained[name] = leak[state]
            return
        links = [
            np.stack(
                [self.numbers.below(name, parent)[:, state - 1], self.numbers.link(name, parent)[:, state]], axis=1
            )
            for parent in parents
        ]
        if len(parents) == 1 and not last:
            self.unary[self.node[parents[0]]] *= (links[0] * required).sum(axis=1)
            return
        if name in self._cumulated:
            self._add_difference(name, leak, parents, state)
            return
        gate = self._add_gate_node(2)
        if last:
            # nothing lies above the last state, so a terminal of ones says nothing about the finding
            self.releasable[name] = len(self._factors)
        self._add_factor((gate,), required, frozenset({gate}))
        for parent, link in zip(parents, links, strict=True):
            self._add_factor((self.node[parent], gate), link)

    def _add_difference(self, name: str, leak: FloatArray, parents: list[str], state: int) -> None:
        """Add a noisy finding seen in state j > 0 as P(at most j) minus P(at most j - 1)."""
        node, below = self._cumulated[name], np.cumsum(leak, axis=0)
        self.differences[name] = node
        self.unary[node] *= np.stack([below[state], -below[state - 1]])
        for parent in parents:
            link = self.numbers.below(name, parent)
            self._add_factor((self.node[parent], node), np.stack([link[:, state], link[:, state - 1]], axis=1))

    def _add_free(self, name: str, leak: FloatArray, parents: list[str]) -> None:
        """Add a noisy variable whose state is not known: the gate's strongest contribution becomes its state."""
        node = self.node[name]
        if not parents:
            self.unary[node] *= leak
            return
        size = len(leak)
        if name in self._cumulated:
            below = self._cumulated[name]
            self.unary[below] *= np.cumsum(leak, axis=0)
            self._add_factor((node, below), (np.eye(size) - np.eye(size, k=-1))[:, :, None])
            for parent in parents:
                self._add_factor((self.node[parent], below), self.numbers.below(name, parent))
            return
        gate = self._add_gate_node(size)
        required = np.zeros((size, size, leak.shape[-1]))
        for state in range(size):
            required[:state, state] = leak[state]
            required[state, state] = leak[: state + 1].sum(axis=0)
        self._add_factor((gate, node), required, frozenset({gate}))
        for parent in parents:
            self._add_factor((self.node[parent], gate), self.numbers.link(name, parent))
