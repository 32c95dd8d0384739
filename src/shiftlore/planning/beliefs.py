"""What may be wrong with the vehicle now, as weights over hypotheses, and what jobs do to them.

The engine knows some four hundred faults: none, single causes, and pairs that go together. Those that matter are kept;
the many that hardly do are lumped as something else, averaged by their probability.
"""

from collections.abc import Sequence
from functools import cached_property
from itertools import combinations

import numpy as np

from shiftlore.basics import UsageProblem
from shiftlore.basics.structs import Value
from shiftlore.network import Survival


class Hypotheses(Value, frozen=True, dict=True):
    """The ways in which the vehicle may be faulty: one cause, several together, or something unknown.

    "Something unknown" is a cause like the rest, which no job (or only the exchange) cures.

    Args:
        causes: ids of the causes.
        members: per hypothesis the positions of the causes that are at work in it, at least one.
        lumped: how often the first of these causes are at work in the last hypothesis, a lump; empty where it is none.
    Raises: UsageProblem: a hypothesis without a cause, or one cause's position out of range.
    """

    causes: tuple[str, ...]
    members: tuple[tuple[int, ...], ...]
    lumped: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        for member in self.members:
            if not member or min(member) < 0 or max(member) >= len(self.causes):
                raise UsageProblem("Each hypothesis names at least one known cause.")

    @cached_property
    def survival(self) -> Survival:
        """What work leaves of each hypothesis."""
        return Survival(self.members, len(self.causes))

    @property
    def is_single(self) -> bool:
        """Whether exactly one cause is at work in every hypothesis."""
        return self.survival.is_single

    @cached_property
    def incidence(self) -> np.ndarray:
        """1 where a cause is at work in a hypothesis, shape (n_hypotheses, n_causes)."""
        table = np.zeros((len(self.members), len(self.causes)))
        for row, member in enumerate(self.members):
            table[row, list(member)] = 1.0
        return table

    def cause_probabilities(self, belief: np.ndarray) -> np.ndarray:
        """Probability that each cause is at work, shape (..., n_causes)."""
        return belief @ self.incidence

    def told_probabilities(self, belief: np.ndarray) -> np.ndarray:
        """Probability that each cause is at work, in the lump too, as a ranking tells it, shape (..., n_causes)."""
        p = self.cause_probabilities(belief)
        p[..., : len(self.lumped)] += belief[..., -1:] * np.array(self.lumped)
        return p

    def uncured(self, missed: np.ndarray) -> np.ndarray:
        """Probability that the problem persists, when each cause escapes with `missed` (see `Survival`).

        Args:
            missed: p that a cause survives the jobs, shape (..., n_causes).
        Returns: shape (..., n_hypotheses).
        """
        return self.survival.persists(missed)

    def persist(self, weights: np.ndarray, missed: np.ndarray) -> np.ndarray:
        """Weights of what is wrong *now*, after jobs after which the problem persists (see `Survival`).

        Args:
            weights: shape (..., n_hypotheses); the sum of a row falls by the probability of a cure.
            missed: p that a cause survives the jobs, shape (n_causes,).
        Raises: UsageProblem: what is left of a hypothesis is not itself among the hypotheses.
        """
        return self.survival.carry_over(weights, missed)


NOTHING_WRONG = "nothing_found"
"""Id of the hypothesis that no known cause is at work; no job cures it."""

SOMETHING_ELSE = "something_else"
"""Id of the lump of unlikely faults."""

MOST_FAULTS = 100
"""Faults kept by themselves; the hundredth is rarer than one in a thousand in nearly every case (measured)."""

LEAST_FAULT = 2e-4
"""Probability below which a fault is lumped."""


class Weighing(Value, frozen=True, eq=False, dict=True):
    """Hypotheses, and how the engine's faults map to them.

    Args:
        hypotheses: kept causes, then `NOTHING_WRONG`, then `SOMETHING_ELSE`.
        kept: positions of the kept causes among all causes.
        owner: per fault its hypothesis, shape (n_faults,).
        shares: per fault its part in its hypothesis, shape (n_faults,).
        padded: per fault the positions of its causes, padded with the number of causes, shape (n_faults, widest).
    """

    hypotheses: Hypotheses
    kept: np.ndarray
    owner: np.ndarray
    shares: np.ndarray
    padded: np.ndarray

    def gather(self, p_faults: np.ndarray) -> np.ndarray:
        """Sum fault probabilities up to hypotheses, shape (n_hypotheses,), sum 1."""
        weights = np.bincount(self.owner, p_faults, minlength=len(self.hypotheses.members))
        return weights / weights.sum()

    def average(self, per_fault: np.ndarray) -> np.ndarray:
        """Average values per fault over each hypothesis, shape (..., n_faults) to (..., n_hypotheses)."""
        padded = np.concatenate([per_fault, np.zeros((*per_fault.shape[:-1], 1))], axis=-1)
        averaged: np.ndarray = padded[..., self._alone]
        averaged[..., -1] = per_fault[..., self._inside] @ self.shares[self._inside]
        return averaged

    @cached_property
    def _inside(self) -> np.ndarray:
        """Positions of the faults that are lumped."""
        return np.flatnonzero(self.owner == len(self.hypotheses.members) - 1)

    @cached_property
    def _alone(self) -> np.ndarray:
        """Per hypothesis the one fault that it is, or the number of faults where there is none; the lump is many."""
        faults = np.full(len(self.hypotheses.members), len(self.owner))
        faults[self.owner] = np.arange(len(self.owner))
        return faults

    def cure(self, cures: np.ndarray) -> np.ndarray:
        """Turn p of curing each cause into p per cause of the hypotheses.

        Args:
            cures: shape (..., n_causes).
        Returns: shape (..., n_kept + 2); nothing cures where nothing is wrong.
        """
        ones = np.ones((*cures.shape[:-1], 1))
        inside = self._inside
        whole = np.concatenate([cures, ones], axis=-1)[..., self.padded[inside]].prod(axis=-1)
        averaged = (whole @ self.shares[inside])[..., None]
        return np.concatenate([cures[..., self.kept], 0.0 * ones, averaged], axis=-1)


def weigh_faults(
    causes: Sequence[str],
    members: Sequence[tuple[int, ...]],
    p_faults: np.ndarray,
    most: int = MOST_FAULTS,
    least: float = LEAST_FAULT,
) -> Weighing:
    """Choose the hypotheses to plan with.

    Args:
        causes: ids.
        members: per fault the positions of its causes; one fault has none.
        p_faults: shape (n_faults,), sum 1.
        most, least: how many faults are kept, and how probable they must be.
    """
    ranked = np.argsort(-p_faults, kind="stable")[:most]
    chosen = [int(fault) for fault in ranked if p_faults[fault] >= least and members[fault]]
    kept = sorted({cause for fault in chosen for cause in members[fault]})
    place = {cause: i for i, cause in enumerate(kept)}
    # What is left of three after one was put right is a pair: it must be there too.
    lengths = {fault: range(2, len(members[fault]) + 1) for fault in chosen}
    pairs = sorted({part for fault in chosen for size in lengths[fault] for part in combinations(members[fault], size)})
    alone = [(i,) for i in range(len(kept) + 1)]
    mapped = [*alone, *(tuple(place[cause] for cause in pair) for pair in pairs), (len(kept) + 1,)]
    row = {tuple(kept[i] for i in member): n for n, member in enumerate(mapped) if max(member) < len(kept)}
    row[()] = len(kept)
    owner = np.array([row.get(tuple(member), len(mapped) - 1) for member in members], dtype=np.intp)
    totals, sizes = np.bincount(owner, p_faults)[owner], np.bincount(owner)[owner]
    # Even parts where a hypothesis has no probability at all.
    shares = np.where(totals <= 0, 1.0 / sizes, p_faults / np.where(totals <= 0, 1.0, totals))
    padded = Survival(tuple(members), len(causes)).padded
    lumped = np.zeros(len(causes) + 1)
    inside = np.flatnonzero(owner == len(mapped) - 1)
    np.add.at(lumped, padded[inside], shares[inside, None])
    named = (*(causes[i] for i in kept), NOTHING_WRONG, SOMETHING_ELSE)
    hypotheses = Hypotheses(named, tuple(mapped), tuple(lumped[kept].tolist()))
    return Weighing(hypotheses, np.array(kept, dtype=np.intp), owner, shares, padded)
