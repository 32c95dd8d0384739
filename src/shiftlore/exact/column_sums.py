"""Likelihoods of one case's answers for single root states and for any sets of them, columns that are alike worked out once.

Telling answers that share hidden states are summed together. Where there are few of them the sum over all hidden states is
taken in a few array operations, in the shorter of two ways: over the hidden states' ways, each with the chance that all gates
show; or over sets of gates that stay silent (inclusion and exclusion), each a product over the hidden states. The second takes
differences, which lose digits where the answers are hardly ever all there: then, and where there are many of them, they are
summed along chains (`exact.sums`), if that can be done at all.
"""

from collections.abc import Sequence
from functools import cached_property, lru_cache, reduce
from operator import or_

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.exact.answers import Evidence, Gate
from shiftlore.exact.chains import Cluster, list_bits, list_masks, plan_within, split_groups
from shiftlore.exact.engine import HubEngine
from shiftlore.exact.sums import Change, ClusterSum
from shiftlore.exact.tables import TINY, FloatArray, find_kinds, gather_sets, join_states, take_sets

FEW_TERMS = 4000
"""Terms of a group, times what each is a product of, up to which it is summed in a few operations; more along chains."""
SHARP = 1e-6
"""Where differences are taken, the likeliest column must hold this part at least of what any column would without the gates."""
LOWEST = -1e6
EASY_CELLS = 1 << 20
"""Sets times work up to which they are weighed exactly: some hundredths of a second; beyond, by bounds."""


class GateGroup(Value, frozen=True, eq=False, dict=True):
    """Gates that share hidden states.

    Args:
        gates: positions of its gates among those of the case.
        rows: positions of its hidden states among those of the case.
        weights: factor of each hidden state when present, shape (n_rows,).
        misses: P(a hidden state does not set off a gate), shape (n_gates, n_rows).
        absent: P(hidden absent | kind of column), shape (n_rows, n_kinds); root_misses: shape (n_gates, n_kinds).
        first: a column of the case of each kind; kind: the kind of each column; none: the kind of the one without any cause.
        cluster: in which order it is summed along chains; None where it is summed in a few operations.
    """

    gates: tuple[int, ...]
    rows: np.ndarray
    weights: FloatArray
    misses: FloatArray
    absent: FloatArray
    root_misses: FloatArray
    first: np.ndarray
    kind: np.ndarray
    none: int
    cluster: Cluster | None = None

    @property
    def work(self) -> int:
        """Count the terms of the sum, times what each is a product of."""
        return count_work(len(self.gates), len(self.rows)) if self.cluster is None else self.cluster.work

    @property
    def _over_hidden(self) -> bool:
        return len(self.gates) << len(self.rows) <= len(self.rows) << len(self.gates)

    @cached_property
    def _ways(self) -> tuple[list[np.ndarray], FloatArray]:
        """Where each hidden state is present among all of their ways, and P(its gates are missed), shape (n_gates, n_ways)."""
        present, _ = list_subsets(len(self.rows))
        missed = np.ones((len(self.gates), 1 << len(self.rows)))
        for on, misses in zip(present, self.misses.T, strict=True):
            missed[:, on] *= misses[:, None]
        return present, missed

    @cached_property
    def _silent(self) -> tuple[list[np.ndarray], FloatArray, FloatArray]:
        """Which sets of gates hold each gate, the sign of each set, and what is left of each hidden state when present."""
        inside, sign = list_subsets(len(self.gates))
        kept = np.repeat(self.weights[None], len(sign), axis=0)
        for own, misses in zip(inside, self.misses, strict=True):
            kept[own] *= misses
        return inside, sign, kept

    def _terms(self, absent: FloatArray, root_misses: FloatArray) -> FloatArray:
        """Give the terms of the sum, signs left out, shape (n_terms, n_columns)."""
        if self._over_hidden:
            present, missed = self._ways
            terms = np.ones((missed.shape[1], absent.shape[1]))
            for on, weight, row in zip(present, self.weights.tolist(), absent, strict=True):
                off = np.ones(len(terms), dtype=bool)
                off[on] = False
                terms[on] *= weight * (1 - row)
                terms[off] *= row
            for own, root in zip(missed, root_misses, strict=True):
                terms *= 1 - own[:, None] * root
            return terms
        inside, _, kept = self._silent
        if len(self.gates) == 1:
            terms = np.empty((2, absent.shape[1]))
            for term, own in zip(terms, kept, strict=True):
                factors = absent * (1 - own)[:, None]
                factors += own[:, None]
                factors.prod(axis=0, out=term)
        else:
            terms = np.ones((len(kept), absent.shape[1]))
            for column, row in zip(kept.T, absent, strict=True):
                terms *= column[:, None] + (1 - column)[:, None] * row
        for own, root in zip(inside, root_misses, strict=True):
            terms[own] *= root
        return terms

    def _add(self, terms: FloatArray) -> FloatArray:
        total: FloatArray = terms.sum(axis=0) if self._over_hidden else self._silent[1] @ terms
        return total

    def _chain(self, absent: FloatArray, root_misses: FloatArray) -> ClusterSum:
        """Sum along chains: its gates and hidden states by their places in the group."""
        assert self.cluster is not None
        gates = [
            Gate("", tuple(np.flatnonzero(own < 1.0).tolist()), own[own < 1.0], root)
            for own, root in zip(self.misses, root_misses, strict=True)
        ]
        return ClusterSum(self.cluster, gates, 1 - absent, self.weights)

    @cached_property
    def _chains(self) -> ClusterSum:
        return self._chain(self.absent, self.root_misses)

    @cached_property
    def _own(self) -> FloatArray:
        return self._terms(self.absent, self.root_misses)

    @cached_property
    def total(self) -> FloatArray:
        """P(all gates show, products | kind of column), shape (n_kinds,)."""
        return self._chains.total if self.cluster else np.maximum(self._add(self._own), 0.0)

    @cached_property
    def free(self) -> FloatArray:
        """P(products alone | kind of column), shape (n_kinds,)."""
        weights = self.weights[:, None]
        free: FloatArray = (weights + (1 - weights) * self.absent).prod(axis=0)
        return free

    @property
    def left(self) -> FloatArray:
        """Tell how much of the products is left where differences are taken, shape (n_kinds,)."""
        if self.cluster or self._over_hidden:
            return np.ones_like(self.total)
        return self.total / np.maximum(self.free, TINY)

    def p_absent(self) -> FloatArray:
        """Give P(each hidden state absent | kind of column, answers), shape (n_rows, n_kinds)."""
        if self.cluster:
            return np.minimum(self._chains.ask([Change(((h, 0.0),)) for h in range(len(self.rows))]), 1.0)
        without = np.zeros_like(self.absent)
        if self._over_hidden:
            for row, on in zip(without, self._ways[0], strict=True):
                row += self.total - self._own[on].sum(axis=0)
        else:
            for sign, kept, term in zip(*self._silent[1:], self._own, strict=True):
                without += sign * term / np.maximum(kept[:, None] + (1 - kept)[:, None] * self.absent, TINY)
            without *= self.absent
        without /= np.maximum(self.total, TINY)
        return np.minimum(np.maximum(without, 0.0, out=without), 1.0, out=without)

    def sum_sets(self, kinds: np.ndarray) -> FloatArray:
        """Sum for sets of columns that stand together, shape (n_sets,).

        Args:
            kinds: columns of the case, shape (largest, n_sets).
        """
        own, back = gather_sets(self.kind[kinds], self.absent.shape[1])
        absent = join_states(self.absent, own, self.none)
        root_misses = join_states(self.root_misses, own, self.none)
        if self.cluster:
            return self._chain(absent, root_misses).total[back]
        return np.maximum(self._add(self._terms(absent, root_misses)), 0.0)[back]


def count_work(n_gates: int, n_rows: int) -> int:
    """Count the terms of the shorter way, times what each is a product of."""
    return min(n_gates << n_rows, n_rows << n_gates)


def join_groups(parents: Sequence[Sequence[int]]) -> list[tuple[list[int], list[int]]]:
    """Put gates together that share hidden states, directly or through others; those that have none stand in no group.

    Args:
        parents: hidden states of each gate.
    Returns: positions of the gates, and the hidden states, of each group.
    """
    masks = list_masks(parents)
    groups = [(list_bits(reduce(or_, (masks[h] for h in own))), sorted(own)) for own in split_groups(masks)]
    return sorted(groups, key=lambda group: group[0][-1])


@lru_cache(32)
def list_subsets(n: int) -> tuple[list[np.ndarray], FloatArray]:
    """List all sets of n: which sets hold each member, and the sign of each set."""
    inside = (np.arange(1 << n)[:, None] >> np.arange(n)) & 1
    return [np.flatnonzero(column) for column in inside.T], 1.0 - 2.0 * (inside.sum(axis=1) % 2)


class ColumnSums:
    """The answers of one case, by kinds of columns.

    Args:
        engine: of the single root states, of one draw; state 0 is the one without any cause.
        evidence: the answers.
    Raises: ImpossibleEvidence: no root state allows all of the answers; names a smallest clash.
    """

    def __init__(self, engine: HubEngine, evidence: Evidence):
        self.engine, self.evidence, tables = engine, evidence, engine.tables
        self.pieces = engine.lay_out(evidence)
        self.gates: list[Gate] = [piece.gate for piece in self.pieces if piece.gate]
        weights = np.ones(len(tables.hidden))
        for piece in self.pieces:
            weights[piece.hidden] *= piece.factors
        used = weights != 1.0
        for gate in self.gates:
            used[list(gate.hidden)] = True
        self.hidden = np.flatnonzero(used)
        self._place = np.full(len(weights), -1)
        self._place[self.hidden] = np.arange(len(self.hidden))
        self.weights = weights[self.hidden]
        self._find_kinds(tables.p_hidden)
        self.none = int(self.kind[0])
        groups = self._group()
        self.is_hard = groups is None or not np.isfinite(self.log_root[self.none])
        self.groups: list[GateGroup] = [] if self.is_hard or groups is None else groups
        inside = np.zeros(len(self.hidden), dtype=bool)
        for gate in self.gates:
            inside[self._place[list(gate.hidden)]] = True
        self.outside = np.flatnonzero(~inside)

    def _find_kinds(self, p_hidden: FloatArray) -> None:
        """Find the columns that differ in anything that these answers see."""
        n = p_hidden.shape[1]
        logs = np.zeros((3, n))
        for piece in self.pieces:
            logs += piece.logs
        p = p_hidden[self.hidden]
        misses = np.array([gate.root_misses for gate in self.gates]).reshape(-1, n)
        tops = np.array([piece.doubted[0] for piece in self.pieces if piece.doubted]).reshape(-1, n)
        self.first, self.kind = find_kinds(np.concatenate([p, misses, np.maximum(logs, LOWEST), tops]))
        self.p, self.root_misses = p[:, self.first], misses[:, self.first]
        self.q = 1 - self.p
        self.log_root, self.most, self.least = logs[:, self.first]

    def _group(self) -> list[GateGroup] | None:
        """Group gates that share hidden states; None where that is too much to be summed exactly."""
        groups = []
        for members, hidden in join_groups([gate.hidden for gate in self.gates]):
            group = self._close_group(members, hidden)
            if count_work(len(members), len(hidden)) > FEW_TERMS:
                laid = self._lay_in_chains(group)
                if laid is None:
                    return None
                group = laid
            groups.append(group)
        return groups

    def _close_group(self, members: list[int], hidden: list[int]) -> GateGroup:
        place = {h: i for i, h in enumerate(hidden)}
        misses = np.ones((len(members), len(hidden)))
        for row, g in zip(misses, members, strict=True):
            row[[place[h] for h in self.gates[g].hidden]] = self.gates[g].misses
        rows = self._place[hidden]
        absent, roots = self.q[rows], self.root_misses[members]
        first, kind = find_kinds(np.concatenate([absent, roots]))
        return GateGroup(
            gates=tuple(members),
            rows=rows,
            weights=self.weights[rows],
            misses=misses,
            absent=absent[:, first],
            root_misses=roots[:, first],
            first=first,
            kind=kind,
            none=int(kind[self.none]),
        )

    def _lay_in_chains(self, group: GateGroup) -> GateGroup | None:
        """Give a group that is summed along chains; None where that is too much."""
        parents = [tuple(np.flatnonzero(own < 1.0).tolist()) for own in group.misses]
        clusters, left_out = plan_within(parents, self.engine.easy_cells // len(group.first))
        return None if left_out else group.vary(cluster=clusters[0])

    def place(self, hidden: Sequence[int]) -> np.ndarray:
        """Give where hidden states stand among those of the case."""
        return self._place[list(hidden)]

    @property
    def work(self) -> int:
        """Count the work of all groups."""
        return sum(group.work for group in self.groups) + 1

    @cached_property
    def bare(self) -> FloatArray:
        """P(the root does not set off a gate that no hidden state bears on), shape (n_gates of these, n_kinds)."""
        return self.root_misses[[g for g, gate in enumerate(self.gates) if not gate.hidden]]

    @cached_property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Bounds of ln P(answers | one state), shape (n_kinds,) each; equal where it is exact."""
        if self.is_hard:
            standing, n = self.engine.stand(self.evidence), len(self.first)
            low, high = np.full(n, -np.inf), np.full(n, np.inf)
            np.maximum.at(low, self.kind, standing.log_low)
            np.minimum.at(high, self.kind, standing.log_high)
            return low, high
        weights = self.weights[self.outside, None]
        with np.errstate(divide="ignore"):
            p = (weights + (1 - weights) * self.q[self.outside]).prod(axis=0) * (1 - self.bare).prod(axis=0)
            apart = self.log_root + np.log(p)
            log_p = apart + self._weigh_groups(apart)
        if not np.isfinite(log_p).any():
            self.engine.stand(self.evidence)  # names the clash
        return log_p, log_p

    def _weigh_groups(self, apart: FloatArray) -> FloatArray:
        """Give ln P(all gates of groups | one state), shape (n_kinds,); groups that lose digits are laid in chains first.

        Args:
            apart: ln of all else that the answers say, shape (n_kinds,).
        """
        shown = [np.log(np.maximum(group.total, TINY))[group.kind] for group in self.groups]
        whole = sum(shown, np.zeros(len(apart)))
        best = float((apart + whole).max())
        for k, group in enumerate(self.groups):
            if not group.cluster and np.isfinite(best):
                most = apart + whole - shown[k] + np.log(np.maximum(group.free, TINY))[group.kind]
                laid = self._lay_in_chains(group) if best < float(most.max()) + np.log(SHARP) else None
                if laid is not None:
                    self.groups[k], shown[k] = laid, np.log(laid.total)[group.kind]
        return sum(shown, np.zeros(len(apart)))

    def weigh_sets(self, members: np.ndarray) -> FloatArray:
        """Give ln P(answers | set) for sets of states that stand together, shape (n_sets,); by bounds where it is hard.

        Args:
            members: root states of each set, filled up with 0, shape (largest, n_sets).
        """
        if self.is_hard:
            sets = HubEngine(take_sets(self.engine.tables, members, self.evidence), EASY_CELLS, 0)
            return sets.weigh(self.evidence)
        kinds, back = gather_sets(self.kind[members], len(self.first))
        more = len(kinds) - 1
        log_p = self.log_root[kinds].sum(axis=0) - more * self.log_root[self.none]
        with np.errstate(divide="ignore", invalid="ignore"):
            for piece in self.pieces:
                if piece.doubted:
                    top, seen = piece.doubted
                    joined = join_states(top[self.first][None], kinds, self.none)[0]
                    apart = np.log(1 - seen * (1 - top[self.first]))
                    log_p += np.log(1 - seen * (1 - joined)) - apart[kinds].sum(axis=0) + more * apart[self.none]
            weights = self.weights[self.outside, None]
            if len(weights):
                factors = join_states(self.q[self.outside], kinds, self.none, 1 - weights)
                factors += weights
                log_p += np.log(factors.prod(axis=0))
            if len(self.bare):
                log_p += np.log((1 - join_states(self.bare, kinds, self.none)).prod(axis=0))
            for group in self.groups:
                log_p += np.log(group.sum_sets(kinds))
        return np.where(np.isnan(log_p), -np.inf, log_p)[back]
