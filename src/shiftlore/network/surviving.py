"""What is left of several faults after work that did not help: the one formula, for ranking, planning and advice alike."""

from collections.abc import Sequence
from functools import cached_property
from itertools import product

import numpy as np

from shiftlore.basics import UsageProblem
from shiftlore.basics.structs import Value


def join_kept(kept: np.ndarray, kinds: np.ndarray, in_turn: bool = False) -> np.ndarray:
    """P that each cause survives several jobs: of each kind the surest alone, and the kinds by their own chances.

    Args:
        kept: p that each cause survives each job, shape (..., n_jobs, n_causes).
        kinds: number of each job's kind, below 0 for a kind of its own, shape (..., n_jobs).
        in_turn: give it after each job instead of after all.
    Returns: shape (..., n_causes); in turn, that of `kept`.
    """
    way = "accumulate" if in_turn else "reduce"
    missed: np.ndarray = getattr(np.multiply, way)(np.where((kinds < 0)[..., None], kept, 1.0), axis=-2)
    for kind in {*kinds.ravel().tolist()} - {-1}:
        missed = missed * getattr(np.minimum, way)(np.where((kinds == kind)[..., None], kept, 1.0), axis=-2)
    return missed


def number_kinds(kinds: Sequence[str]) -> np.ndarray:
    """Number the kinds of jobs for `join_kept`, "" a kind of its own, shape (n_jobs,).

    Example:
        >>> number_kinds(["seal", "", "seal"]).tolist()
        [0, -1, 0]
    """
    return np.array([kinds.index(kind) if kind else -1 for kind in kinds])


def keep_after(kept: np.ndarray, failed: np.ndarray) -> np.ndarray:
    """P that each cause survives a job where it has survived others of its kind with p `failed`, any shape."""
    return np.divide(np.minimum(kept, failed), failed, out=np.ones(np.broadcast(kept, failed).shape), where=failed > 0)


class _Remainders(Value, frozen=True, eq=False):
    """Every way in which a set of faults may shrink to a smaller one that is not empty.

    Args:
        sources: position of the set before, shape (n_ways,), sorted by what is left.
        factors: positions in (survives, is put right, 1) whose product is the chance of the way, shape (n_ways, widest).
        targets, starts: sets that are left, and where the ways that lead to each begin.
        n_listed: ways that leave a listed smaller set; those behind them leave another.
    """

    sources: np.ndarray
    factors: np.ndarray
    targets: np.ndarray
    starts: np.ndarray
    n_listed: int


class Survival(Value, frozen=True, eq=False, dict=True):
    """Sets of faults that may be at work, and what is left of them when each fault is put right by chance.

    Evidence seen before the work stays with the state before it; afterwards what was put right is sound, everything else
    is as it was, and that the problem persists is new evidence (Breese and Heckerman 1996).

    Args:
        sets: per set the positions of the faults at work; in an empty set nothing can be put right, so it persists.
        n_faults: how many faults there are.
    """

    sets: tuple[tuple[int, ...], ...]
    n_faults: int

    @cached_property
    def padded(self) -> np.ndarray:
        """Faults of each set, padded with `n_faults`, shape (n_sets, widest)."""
        return pad_rows(self.sets, self.n_faults)

    @cached_property
    def _empty(self) -> np.ndarray:
        """Positions of the sets without a fault."""
        return np.array([place for place, item in enumerate(self.sets) if not item], dtype=np.intp)

    @cached_property
    def is_single(self) -> bool:
        """Whether exactly one fault is at work in every set."""
        return all(len(item) == 1 for item in self.sets)

    def persists(self, missed: np.ndarray) -> np.ndarray:
        """Probability that the problem of each set persists: all of its faults must be put right (Srinivas 1995).

        Args:
            missed: p that a fault survives the work, shape (..., n_faults).
        Returns: shape (..., n_sets).
        """
        if self.is_single:
            return missed[..., self.padded[:, 0]]
        cured = np.concatenate([1.0 - missed, np.ones((*missed.shape[:-1], 1))], axis=-1)
        first, *others = self.padded.T
        whole = cured[..., first]
        for column in others:
            whole *= cured[..., column]
        left = 1.0 - whole
        left[..., self._empty] = 1.0
        return left

    def none_right(self, missed: np.ndarray) -> np.ndarray:
        """Probability that none of a set's faults is put right, shape (n_sets,); 1 for an empty set."""
        return np.concatenate([missed, [1.0]])[self.padded].prod(axis=1)

    def all_right(self, missed: np.ndarray, empty: float) -> np.ndarray:
        """Probability that all of a set's faults are put right, shape (n_sets,); `empty` for an empty set."""
        right = np.concatenate([1.0 - missed, [1.0]])[self.padded].prod(axis=1)
        right[self._empty] = empty
        return right

    def carry_over(self, weights: np.ndarray, missed: np.ndarray, changed_only: bool = False) -> np.ndarray:
        """Weights of what is at work now, after work after which the problem persists.

        A pair of which one fault was put right becomes the other alone; the weight of what was cured is dropped, so
        the sum of a row falls by the probability of a cure.

        Args:
            weights: shape (..., n_sets).
            missed: p that a fault survives the work, shape (n_faults,).
            changed_only: leave out those of whom nothing was put right.
        Raises: UsageProblem: what is left of a set is not itself among the sets.
        """
        ways = self._remainders
        p = np.concatenate([missed, 1.0 - missed, [1.0]])[ways.factors].prod(axis=1)
        moved = weights[..., ways.sources] * p
        if np.any(moved[..., ways.n_listed :] > 0.0):
            raise UsageProblem("What is left after a cure must be a hypothesis too.")
        left = np.zeros_like(weights, dtype=float) if changed_only else weights * self.none_right(missed)
        if len(ways.targets):
            left[..., ways.targets] += np.add.reduceat(moved[..., : ways.n_listed], ways.starts, axis=-1)
        return left

    @cached_property
    def _remainders(self) -> _Remainders:
        place = {frozenset(item): i for i, item in enumerate(self.sets)}
        found: list[tuple[int, int, tuple[int, ...]]] = []
        for source, item in enumerate(self.sets):
            for stays in product((True, False), repeat=len(item)):
                left = frozenset(fault for fault, stay in zip(item, stays, strict=True) if stay)
                if left and not all(stays):
                    way = tuple(fault + self.n_faults * (not stay) for fault, stay in zip(item, stays, strict=True))
                    found.append((place.get(left, len(self.sets)), source, way))
        found.sort(key=lambda way: way[:2])
        sources = np.array([way[1] for way in found], dtype=np.intp)
        factors = pad_rows([way[2] for way in found], 2 * self.n_faults)
        listed = [target for target, _, _ in found if target < len(self.sets)]
        targets, starts = np.unique(listed, return_index=True)
        return _Remainders(sources, factors, targets, starts, len(listed))


def pad_rows(rows: Sequence[tuple[int, ...]], filler: int) -> np.ndarray:
    """Make rows of positions equally long, at least 1, shape (n_rows, widest)."""
    widest = max([1, *(len(row) for row in rows)])
    padded = [[*row, *[filler] * (widest - len(row))] for row in rows]
    return np.array(padded, dtype=np.intp).reshape(len(rows), widest)
