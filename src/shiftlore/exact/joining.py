"""How much more likely the answers become when another cause stands beside one: bounds for all pairs at once.

Let a be a root state and b another that joins it. What b adds, directly or through hidden variables that it brings
about, is independent of what a does. So

- at least: the answers are as likely as under a alone, times what b is sure to cost in sound answers;
- at most: where b sets gates off, a need not. Given a, telling answers support each other (Harris), so P(all) is at
  least P(the others) times the product of P(each that b takes over); relieving a of a gate f is worth at most
  1 / P(f | a), and relieving it of a whole cluster at most 1 / P(cluster | a).

Both are sums and products over the few parents that b bears on, so every pair costs next to nothing.
Source: Harris 1960, "A lower bound for the critical probability in a certain percolation process", lemma 4.1.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.exact.answers import Doubted, Evidence, multiply_products
from shiftlore.exact.engine import HubEngine, Standing, present_apart
from shiftlore.exact.tables import SAME, FloatArray, HubTables, multiply_groups, reduce_groups

TINY = 1e-300
MOST = 1e260


@dataclass(frozen=True, eq=False)
class JoinBounds:
    """Bounds of ln P(answers | a and b) for every base a and every added b.

    Args:
        log_high: shape (n_base, n_added).
        log_cost: ln of what an added state costs at most, shape (n_added,); with the base's own ln likelihood it
            gives the lower bound.
    """

    log_high: FloatArray
    log_cost: FloatArray


def bound_joins(base: HubEngine, evidence: Evidence, single: HubEngine) -> JoinBounds:
    """Bound the likelihood of the answers when one of the single states joins a base state.

    Args:
        base: engine of the base states, any columns over the same gates and hidden variables.
        evidence: the answers.
        single: engine of the states that may join; state 0 is the one without any cause.
    Raises: ImpossibleEvidence: no base state allows the answers.
    """
    standing = base.stand(evidence)
    joiner = _Joiner(base, standing, single, evidence)
    cost_least, cost_most = _list_costs(base.tables, single.tables, evidence)
    worth = np.log(np.maximum(joiner.outside() * joiner.gains(), TINY)).T
    log_high = standing.log_high[:, None] + cost_least + worth
    dear = np.log(np.maximum(1 - joiner.added * (1 - joiner.weights[joiner.hidden]), TINY))
    log_cost = cost_most + np.bincount(joiner.state, dear, single.tables.n_root)
    return JoinBounds(log_high, log_cost)


def _list_costs(base: HubTables, single: HubTables, evidence: Evidence) -> tuple[FloatArray, FloatArray]:
    """Give ln of what the root's part of each added state costs in the products of the answers.

    A doubted answer's cost depends on the base; it is least beside the base that shows the sign most surely.
    Returns: least (for the upper bound) and most (for the lower bound), shape (n_single,) each.
    """
    said = {key: answer if isinstance(answer, Doubted) else Doubted(int(answer)) for key, answer in evidence.items()}
    said = {key: answer for key, answer in said.items() if answer.grade < single.gates[key].n_states - 1}
    tables = single.stack.cum_root[[single.stack.rows[key].start + answer.grade for key, answer in said.items()]]
    relative = tables / np.maximum(tables[:, :1], TINY)
    seen = 1 - np.array([[answer.overlooked] for answer in said.values()]).reshape(-1, 1)
    most = np.log(np.maximum(1 - seen * (1 - relative), TINY)).sum(axis=0)
    if (seen == 1.0).all():
        return most, most
    smallest = np.array([[base.gates[key].cum_root[answer.grade].min()] for key, answer in said.items()])
    beside = (1 - seen + seen * smallest * relative) / np.maximum(1 - seen + seen * smallest, TINY)
    least = np.where(seen == 1.0, relative, beside)
    return np.log(np.maximum(least, TINY)).sum(axis=0), most


class _Joiner:
    """What the added states bring about, as lists of the entries that are not nothing."""

    def __init__(self, base: HubEngine, standing: Standing, engine: HubEngine, evidence: Evidence):
        single = engine.tables
        self.base, self.standing, self.single = base, standing, single
        gate_of = {gate.finding: gate for gate in engine.split(evidence)[1]}
        self.single_gates = [gate_of[gate.finding] for gate in standing.gates]
        self.state, self.hidden, self.added = single.raised
        self.weights = multiply_products(standing.products, base.tables)[1]
        self.apart = present_apart(base.tables.p_hidden, self.weights)
        self.gates = standing.gates
        self.cluster = np.full(len(single.hidden), -1)
        for h, k in standing.cluster_of.items():
            self.cluster[h] = k
        for gate in standing.replaced:
            self.cluster[list(gate.hidden)] = 0

    def outside(self) -> FloatArray:
        """Give the cost in hidden variables that bear on no telling answer, shape (n_single, n_base)."""
        mine = (self.cluster[self.hidden] < 0) & (self.weights[self.hidden] != 1.0)
        cost = (1 - self.apart) * (self.weights[:, None] - 1)
        kept = 1 + self.added[mine, None] * cost[self.hidden[mine]]
        return multiply_groups(kept, self.state[mine], self.single.n_root)

    def gains(self) -> FloatArray:
        """Give what else joining makes of all clusters of telling answers at most, shape (n_single, n_base).

        In a cluster the added state takes over some gates directly (worth D), brings about hidden variables that were
        absent (worth H), or does neither: that last part, of weight Q, keeps only where the base has all that the added
        state would bring about. Together D H - (1 - V) Q, and never more than what the cluster costs the base.
        """
        relief, base = self._reliefs(), self.base.tables
        worth = np.ones_like(base.p_hidden)
        for gate, gain in zip(self.gates, relief, strict=True):
            worth[list(gate.hidden)] *= gate.misses[:, None] + (1 - gate.misses[:, None]) * gain
        news = self.weights[:, None] * (1 - self.apart) * worth
        exact, n = self.standing.exact, self.single.n_root
        absent = 1 - self.base.p_present(self.standing) if exact else np.zeros_like(base.p_hidden)
        alone = [g for g, gate in enumerate(self.gates) if not (exact and gate.hidden)]
        total = np.ones((n, base.n_root))
        with np.errstate(over="ignore"):
            for k, part in enumerate(self.standing.sums if exact else ()):
                own = self.cluster[self.hidden] == k
                added, hidden_own, state = self.added[own, None], self.hidden[own], self.state[own]
                gained = multiply_groups(1 + added * news[hidden_own], state, n)
                missed = self._take_over(part.cluster.gates, relief, gained)
                spoilt = reduce_groups(np.maximum, added * absent[hidden_own], state, np.zeros_like(gained))
                gained = np.maximum(np.minimum(gained, MOST) - spoilt * missed[:, None], TINY)
                hidden = list(part.cluster.hidden)
                free = (1 - base.p_hidden[hidden] * (1 - self.weights[hidden, None])).prod(axis=0)
                total *= np.minimum(gained, np.maximum(free, TINY) / np.maximum(part.total, TINY))
            mine = self.cluster[self.hidden] >= 0 if not exact else slice(0)
            gained = multiply_groups(1 + self.added[mine, None] * news[self.hidden[mine]], self.state[mine], n)
            self._take_over(alone, relief, gained)
            return np.minimum(total * gained, MOST)

    def _reliefs(self) -> list[FloatArray]:
        """Give 1 / P(gate shows | base, products) of each gate, shape (n_base,)."""
        found = []
        for gate in self.gates:
            missed = (1 - self.apart[list(gate.hidden)] * (1 - gate.misses[:, None])).prod(axis=0)
            found.append(1 / np.maximum(1 - gate.root_misses * missed, TINY))
        return found

    def _take_over(self, gates: Sequence[int], relief: Sequence[FloatArray], gained: FloatArray) -> FloatArray:
        """Multiply by what setting gates off directly is worth at most, shape (n_single, n_base).

        Returns: P that each single state by itself sets none of them off, shape (n_single,).
        """
        none = np.ones(self.single.n_root)
        for g in gates:
            misses = self.single_gates[g].root_misses
            misses = misses / max(float(misses[0]), TINY)
            some = np.flatnonzero(misses < 1 - SAME)
            kept = misses[some, None]
            gained[some] *= kept + (1 - kept) * relief[g]
            none *= misses
        return none
