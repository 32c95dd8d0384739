"""Likelihoods of one case's answers for single root states and for any sets of them, columns that are alike worked out once."""

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np

from shiftlore.exact.answers import Evidence, Gate
from shiftlore.exact.chains import plan_within
from shiftlore.exact.engine import HubEngine
from shiftlore.exact.groups import GateGroup, count_work, join_groups
from shiftlore.exact.kinds import find_kinds, gather_sets
from shiftlore.exact.tables import FloatArray, join_states

FEW_TERMS = 4000
"""Terms of a group, times what each is a product of, up to which it is summed in a few operations; more along chains."""
SHARP = 1e-6
"""Where differences are taken, the likeliest column must hold this part at least of what any column would without the gates."""
LOWEST, TINY = -1e6, 1e-300
EASY_CELLS = 1 << 20
"""Sets times work up to which they are weighed exactly: some hundredths of a second; beyond, by bounds."""


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
        return None if left_out else replace(group, cluster=clusters[0])

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
            return self.engine.weigh_sets(self.evidence, members, EASY_CELLS)
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
