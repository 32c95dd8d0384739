"""Likelihoods of one case for single causes and for any sets of them, with the columns that are alike worked out once."""

from collections.abc import Sequence
from functools import cached_property

import numpy as np

from shiftlore.exact import FloatArray
from shiftlore.exact.sums import find_kinds
from shiftlore.fleet.grounds import Ground, Piece
from shiftlore.fleet.groups import GateGroup, gather_sets, join

MOST_WORK = 4000
"""Terms of all groups, times what each is a product of; more is left to the engine."""
SHARP = 1e-6
"""Part of a product that must be left of it in a column that matters."""
LOWEST = -1e6


class TooHard(Exception):
    """The case is left to the engine."""


class CaseSums:
    """The answers of one case, by kinds of columns.

    Args:
        ground: the tables.
        pieces: the answers, split.
    Raises: TooHard: they hang together too much.
    """

    def __init__(self, ground: Ground, pieces: Sequence[Piece]):
        self.pieces = pieces
        self.gates = [piece for piece in pieces if piece.root_misses is not None]
        weights = np.ones(len(ground.p_hidden))
        for piece in pieces:
            weights[piece.hidden] *= piece.factors
        used = weights != 1.0
        for gate in self.gates:
            used[gate.gate_hidden] = True
        self.hidden = np.flatnonzero(used)
        self.place = np.full(len(weights), -1)
        self.place[self.hidden] = np.arange(len(self.hidden))
        self.weights = weights[self.hidden]
        self._find_kinds(ground)
        self.none = int(self.kind[0])
        if not np.isfinite(self.log_root[self.none]):
            raise TooHard
        self.bare = self.root_misses[[g for g, gate in enumerate(self.gates) if not len(gate.gate_hidden)]]
        self.groups = self._group()
        self.work = sum(group.work for group in self.groups)
        if self.work > MOST_WORK:
            raise TooHard
        inside = np.zeros(len(self.hidden), dtype=bool)
        for group in self.groups:
            inside[group.rows] = True
        self.outside = np.flatnonzero(~inside)

    def _find_kinds(self, ground: Ground) -> None:
        """Find the columns that differ in anything that these answers see."""
        n = ground.p_hidden.shape[1]
        logs = np.zeros((3, n))
        for piece in self.pieces:
            logs += piece.logs
        p = ground.p_hidden[self.hidden]
        misses = np.array([gate.root_misses for gate in self.gates]).reshape(-1, n)
        tops = np.array([piece.doubted[0] for piece in self.pieces if piece.doubted]).reshape(-1, n)
        self.first, self.kind = find_kinds(np.concatenate([p, misses, np.maximum(logs, LOWEST), tops]))
        self.p, self.root_misses = p[:, self.first], misses[:, self.first]
        self.q = 1 - self.p
        self.log_root, self.most, self.least = logs[:, self.first]

    def _group(self) -> list[GateGroup]:
        """GateGroup gates that share hidden states, directly or through others; those that have none stand in no group."""
        groups: list[tuple[set[int], list[int]]] = []
        for g, gate in enumerate(self.gates):
            hidden, members, rest = set(gate.gate_hidden.tolist()), [g], []
            if not hidden:
                continue
            for own, others in groups:
                if hidden & own:
                    hidden |= own
                    members += others
                else:
                    rest.append((own, others))
            groups = [*rest, (hidden, members)]
        return [self._close_group(sorted(members), sorted(hidden)) for hidden, members in groups]

    def _close_group(self, members: list[int], hidden: list[int]) -> GateGroup:
        place = {h: i for i, h in enumerate(hidden)}
        misses = np.ones((len(members), len(hidden)))
        for row, g in zip(misses, members, strict=True):
            row[[place[h] for h in self.gates[g].gate_hidden.tolist()]] = self.gates[g].misses
        rows = self.place[hidden]
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

    @cached_property
    def single(self) -> tuple[FloatArray, FloatArray]:
        """ln P(answers | one cause), and how much of each group's products is left at least, shape (n_kinds,) each."""
        weights = self.weights[self.outside, None]
        with np.errstate(divide="ignore"):
            p = (weights + (1 - weights) * self.q[self.outside]).prod(axis=0) * (1 - self.bare).prod(axis=0)
            log_p = self.log_root + np.log(p)
            left = np.ones(len(self.first))
            for group in self.groups:
                log_p += np.log(group.total)[group.kind]
                left = np.minimum(left, group.left[group.kind])
        return log_p, left

    def weigh(self, members: np.ndarray) -> FloatArray:
        """Give ln P(answers | set) for sets of columns that stand together, shape (n_sets,).

        Args:
            members: root states of each set, filled up with 0, shape (largest, n_sets).
        """
        kinds, back = gather_sets(self.kind[members], len(self.first))
        more = len(kinds) - 1
        log_p = self.log_root[kinds].sum(axis=0) - more * self.log_root[self.none]
        with np.errstate(divide="ignore", invalid="ignore"):
            for piece in self.pieces:
                if piece.doubted:
                    top, seen = piece.doubted
                    joined = join(top[self.first][None], kinds, self.none)[0]
                    apart = np.log(1 - seen * (1 - top[self.first]))
                    log_p += np.log(1 - seen * (1 - joined)) - apart[kinds].sum(axis=0) + more * apart[self.none]
            weights = self.weights[self.outside, None]
            factors = join(self.q[self.outside], kinds, self.none, 1 - weights)
            factors += weights
            p = factors.prod(axis=0)
            p *= (1 - join(self.bare, kinds, self.none)).prod(axis=0)
            log_p += np.log(p)
            for group in self.groups:
                log_p += np.log(group.sum_sets(kinds))
        return np.where(np.isnan(log_p), -np.inf, log_p)[back]
