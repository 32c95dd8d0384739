"""Jobs, checks, levels of disassembly and the situation at the bench, as plain numbers for the planner.

How costs are counted. Whoever works at a level pays for opening what is still closed on the way to it.
A batch of jobs is closed up and road-tested (`test_cost`, relearning included); everything open is
closed for it, once. If the problem persists, `comeback_cost` is added: what a failed attempt costs on
average over work that the test finds at once and work with which the owner comes back. An exchange of the
whole is done alone; after it what lies outside can still be put right. A vehicle that leaves uncured, because
nothing more is worth doing, costs `uncured_cost`. What several jobs of a batch need is paid once (`SharedWork`).

How jobs cure together. Each is a chance of its own, but of jobs of one kind, which do more or less of the same, the
surest alone counts: where it failed a weaker one fails too, and a surer one is worth what it is surer by.
"""

from collections.abc import Sequence
from functools import cached_property
from typing import Any

import numpy as np

from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.basics.structs import Value
from shiftlore.network import join_kept, keep_after, pad_rows
from shiftlore.planning.beliefs import Hypotheses

LEAST_MEANT = 0.05
"""P from which a cause is likely enough for work that is made for it alone: one in twenty, judgement."""

MAX_NODES = 16
"""Costs are tabled for every set of open levels, 2**16 rows at most; a unit has fewer than ten levels."""


class AccessNode(Value, frozen=True):
    """One level of disassembly; opening starts from its parent, closing goes back to it.

    Args:
        open_cost, close_cost: labour, fluid lost and consumables of this step alone, in the shop's currency.
        open_minutes, close_minutes: hands-on labour of this step alone.
    """

    id: str
    parent: str | None = None
    open_cost: float = 0.0
    close_cost: float = 0.0
    open_minutes: float = 0.0
    close_minutes: float = 0.0


def _sum_levels(figure: str) -> "cached_property[np.ndarray]":
    """A property of an access tree: one figure summed over every set of its levels, shape (2**n_nodes,)."""

    def sum_up(tree: "AccessTree") -> np.ndarray:
        table = np.zeros(1)
        for node in tree.nodes:
            table = np.concatenate([table, table + getattr(node, figure)])
        return table

    return cached_property(sum_up)


class AccessTree(Value, frozen=True, dict=True):
    """All levels of disassembly of a unit; a set of open levels is kept as a bit mask.

    Args:
        nodes: parents before their children; a node without a parent is a root and always open.
    Raises: UsageProblem: a parent is missing or stands after its child, or there are too many levels.
    """

    nodes: tuple[AccessNode, ...]

    def __post_init__(self) -> None:
        if len(self.nodes) > MAX_NODES:
            raise UsageProblem(f"At most {MAX_NODES} access levels can be planned with.")
        seen: set[str] = set()
        for node in self.nodes:
            if node.parent is not None and node.parent not in seen:
                raise UsageProblem(f"Access level {node.id} stands before its parent {node.parent}.")
            seen.add(node.id)

    @cached_property
    def index(self) -> dict[str, int]:
        """Position of each level by id."""
        return {node.id: i for i, node in enumerate(self.nodes)}

    @cached_property
    def parents(self) -> tuple[int, ...]:
        """Position of each level's parent, -1 for a root."""
        return tuple(-1 if node.parent is None else self.index[node.parent] for node in self.nodes)

    @cached_property
    def path_masks(self) -> tuple[int, ...]:
        """For each level the bit mask of every level on the way to it, roots left out."""
        masks: list[int] = []
        for i, parent in enumerate(self.parents):
            masks.append(0 if parent < 0 else masks[parent] | 1 << i)
        return tuple(masks)

    open_costs, close_costs = _sum_levels("open_cost"), _sum_levels("close_cost")
    """Cost of opening, and of closing, each set of levels, shape (2**n_nodes,)."""

    open_minutes, close_minutes = _sum_levels("open_minutes"), _sum_levels("close_minutes")
    """Labour minutes of opening, and of closing, each set of levels, shape (2**n_nodes,)."""

    def path_mask(self, node_id: str) -> int:
        """Bit mask of the levels that must be open to work at `node_id`."""
        return self.path_masks[self.index_of(node_id)]

    def index_of(self, node_id: str) -> int:
        """Position of a level.

        Raises: UnknownId: there is none of that id.
        """
        if node_id not in self.index:
            raise UnknownId(f"No access level is called {node_id}.")
        return self.index[node_id]

    def round_trip(self, masks: np.ndarray | int, opened: np.ndarray | int = 0) -> np.ndarray:
        """Cost of opening what is missing of each set of levels and closing everything afterwards, shape of `masks`."""
        result: np.ndarray = self.open_costs[masks & ~opened] + self.close_costs[masks | opened]
        return result


class SharedWork(Value, frozen=True):
    """What several jobs of a batch need and is paid once, as what must follow them or a tool to be borrowed."""

    id: str
    cost: float
    minutes: float = 0.0


class PricedJob(Value, frozen=True, eq=False):
    """A correction as the planner sees it.

    Args:
        cost: labour, parts and consumables at its level; opening and closing, and what it shares, left out.
        minutes: hands-on labour at its level.
        access: id of the level that it works at.
        cures: p that it puts right each cause, shape (n_causes,).
        alone: shares no batch with another job, as an exchange of the whole, or what is done in place of a repair.
        shares, spares: ids of the shared work that it needs, and of that which is not needed beside it.
        kind: of jobs of one kind the surest alone counts; "" for a kind of its own.
        contains: ids of jobs that are done with it; they share no batch with it.
        least: p of helping up to which nobody begins with it, as with what only shows that nothing is broken.
        meant: causes of which one must be likely before anybody begins with it; none where any will do.
        last: stands behind all others in a plan that does not begin with it, as an exchange of the whole.
    """

    id: str
    cost: float
    minutes: float
    access: str
    cures: np.ndarray
    alone: bool = False
    shares: tuple[str, ...] = ()
    spares: tuple[str, ...] = ()
    kind: str = ""
    contains: frozenset[str] = frozenset()
    least: float = 0.0
    meant: frozenset[str] = frozenset()
    last: bool = False


class PricedCheck(Value, frozen=True):
    """An act that only informs.

    Args:
        cost: labour and consumables at its level, opening and closing left out.
        needs_closed: the vehicle must be together for it, as for a road test.
        early: place among the looks with which a careful visit begins, made as long as it saves anything and before dear
            work; 0 for all others.
        made_for: whether it is made for what is told: made before all work; proves: whether it then most likely shows a fault.
        before: ids of the jobs of which none is done before it, whatever it can change.
    """

    id: str
    cost: float
    minutes: float
    access: str
    needs_closed: bool = False
    early: int = 0
    made_for: bool = False
    proves: bool = False
    before: frozenset[str] = frozenset()


class Situation(Value, frozen=True, dict=True):
    """All that the planner must know besides the belief: what can still be done, and what it costs here.

    Args:
        jobs, checks: what has not been done on this visit and can be done with the shop's tools.
        opened: bit mask of the levels that are open now (as from `AccessTree.path_mask`).
        test_cost, test_minutes: closing road test and relearn after a batch of jobs.
        comeback_cost: added whenever a batch did not cure.
        uncured_cost: what it costs if the vehicle leaves with its problem; finite.
        budget: the most that may still be spent in the worst case, or None.
        shared: all that jobs share.
    """

    hypotheses: Hypotheses
    access: AccessTree
    jobs: tuple[PricedJob, ...]
    checks: tuple[PricedCheck, ...] = ()
    opened: int = 0
    test_cost: float = 0.0
    test_minutes: float = 0.0
    comeback_cost: float = 0.0
    uncured_cost: float = 0.0
    budget: float | None = None
    shared: tuple[SharedWork, ...] = ()

    def __post_init__(self) -> None:
        if not np.isfinite(self.uncured_cost):
            raise UsageProblem("The cost of an uncured vehicle must be a finite amount.")

    def vary(self, **changes: Any) -> "Situation":
        """Give the same with some fields changed; what is worked out of the jobs alone is kept where they are."""
        varied = super().vary(**changes)
        if changes.keys() <= {"opened", "budget", "checks"}:
            kept = {name: value for name, value in self.__dict__.items() if name != "check_masks"}
            varied.__dict__.update(kept)
        return varied

    @cached_property
    def endings(self) -> dict[bytes, Any]:
        """Ways to end a plan that were worked out, by belief; see `list_endings`."""
        return {}

    @cached_property
    def cures(self) -> np.ndarray:
        """p that each job puts right each cause, shape (n_jobs, n_causes)."""
        if not self.jobs:
            return np.zeros((0, len(self.hypotheses.causes)))
        return np.array([job.cures for job in self.jobs], dtype=float)

    @cached_property
    def job_costs(self) -> np.ndarray:
        """Cost of each job at its level, what it shares left out, shape (n_jobs,)."""
        return np.array([job.cost for job in self.jobs], dtype=float)

    @cached_property
    def full_costs(self) -> np.ndarray:
        """Cost of each job at its level with all that it shares, shape (n_jobs,)."""
        return self.job_costs + self.price_shared(self.shares[:-1])[0]

    @cached_property
    def kinds(self) -> np.ndarray:
        """Number of each job's kind, -1 where no other open job is of it, and of no job, shape (n_jobs + 1,)."""
        names = [job.kind for job in self.jobs]
        several = sorted({name for name in names if name and names.count(name) > 1})
        return np.array([*(several.index(name) if name in several else -1 for name in names), -1], dtype=np.intp)

    @cached_property
    def kept(self) -> np.ndarray:
        """P that each cause survives each job, and no job, shape (n_jobs + 1, n_causes)."""
        return np.concatenate([1.0 - self.cures, np.ones((1, self.cures.shape[1]))])

    @cached_property
    def shares(self) -> np.ndarray:
        """Whether each job, and no job, needs and spares each shared work, shape (n_jobs + 1, 2, n_shared)."""
        found = np.zeros((len(self.jobs) + 1, 2, len(self.shared)), dtype=bool)
        for row, job in enumerate(self.jobs):
            found[row] = [[work.id in group for work in self.shared] for group in (job.shares, job.spares)]
        return found

    def price_shared(self, shares: np.ndarray) -> np.ndarray:
        """Cost and minutes of what is needed and not spared.

        Args:
            shares: rows of `shares` joined over the jobs of a batch, shape (..., 2, n_shared).
        Returns: shape (2, ...).
        """
        due = (shares[..., 0, :] & ~shares[..., 1, :]).astype(float)
        return np.array([due @ figures for figures in self._shared_figures])

    @cached_property
    def _shared_figures(self) -> np.ndarray:
        return np.array([[work.cost for work in self.shared], [work.minutes for work in self.shared]], dtype=float)

    @cached_property
    def job_levels(self) -> np.ndarray:
        """Position in the access tree of the level that each job works at, shape (n_jobs,)."""
        return np.array([self.access.index_of(job.access) for job in self.jobs], dtype=np.intp)

    @cached_property
    def job_masks(self) -> np.ndarray:
        """Bit mask of the levels that each job needs open, shape (n_jobs,)."""
        return np.array(self.access.path_masks, dtype=np.int64)[self.job_levels]

    @cached_property
    def touches(self) -> np.ndarray:
        """p that a job puts right at least one cause at work, shape (n_jobs, n_hypotheses)."""
        kept = np.concatenate([1.0 - self.cures, np.ones((len(self.jobs), 1))], axis=1)
        touched: np.ndarray = 1.0 - np.prod(kept[:, self.hypotheses.survival.padded], axis=-1)
        return touched

    def list_unfit(self, belief: np.ndarray) -> set[str]:
        """List the jobs that nobody begins with at a belief, by id."""
        asked = [place for place, job in enumerate(self.jobs) if job.least]
        p = self.touches[asked] @ belief
        idle = {self.jobs[place].id for place, helps in zip(asked, p, strict=True) if helps <= self.jobs[place].least}
        at_work = dict(zip(self.hypotheses.causes, self.hypotheses.told_probabilities(belief), strict=True))
        meant = ((job.id, job.meant) for job in self.jobs if job.meant)
        return idle | {job for job, causes in meant if sum(at_work.get(one, 0.0) for one in causes) < LEAST_MEANT}

    @cached_property
    def lone_costs(self) -> np.ndarray:
        """Cost of each job done alone from closed, never quite nothing, shape (n_jobs,)."""
        costs = self.full_costs + self.access.round_trip(self.job_masks) + self.test_cost
        return np.maximum(costs, np.finfo(float).tiny)

    @cached_property
    def check_masks(self) -> tuple[int, ...]:
        """Bit mask of the levels that each check needs open."""
        return tuple(self.access.path_mask(check.access) for check in self.checks)

    @cached_property
    def stands_alone(self) -> np.ndarray:
        """Whether each job shares no batch with another, shape (n_jobs,)."""
        return np.array([job.alone for job in self.jobs], dtype=bool)

    def is_batch(self, batch: tuple[int, ...]) -> bool:
        """Tell whether jobs may be done in one go."""
        if len(batch) == 1:
            return True
        return not self.stands_alone[list(batch)].any() and self.drop_contained((batch,)) == (batch,)

    def drop_contained(self, plan: tuple[tuple[int, ...], ...]) -> tuple[tuple[int, ...], ...]:
        """Leave out of each batch what another job of it contains."""
        inside = self._inside
        if not any(inside[job] for batch in plan for job in batch):
            return plan
        held = [{other for job in batch for other in inside[job]} for batch in plan]
        lean = (tuple(job for job in batch if job not in names) for batch, names in zip(plan, held, strict=True))
        return tuple(batch for batch in lean if batch)

    @cached_property
    def _inside(self) -> list[list[int]]:
        """Positions of the open jobs that each job contains."""
        place = {job.id: i for i, job in enumerate(self.jobs)}
        return [[place[name] for name in job.contains if name in place] for job in self.jobs]

    def job_index(self, job_id: str) -> int:
        """Position of a job by id."""
        return _position(job_id, [job.id for job in self.jobs], "job")

    def check_index(self, check_id: str) -> int:
        """Position of a check by id."""
        return _position(check_id, [check.id for check in self.checks], "check")

    def reach_check(self, check: int, opened: int) -> tuple[float, float, int]:
        """Cost and minutes of getting to a check and making it, and what is open afterwards."""
        act, mask = self.checks[check], self.check_masks[check]
        cost, minutes = act.cost, act.minutes
        if act.needs_closed:
            cost += float(self.access.close_costs[opened & ~mask])
            minutes += float(self.access.close_minutes[opened & ~mask])
            opened &= mask
        cost += float(self.access.open_costs[mask & ~opened])
        minutes += float(self.access.open_minutes[mask & ~opened])
        return cost, minutes, opened | mask

    def batch_mask(self, batch: tuple[int, ...]) -> int:
        """Bit mask of the levels that a batch of jobs needs open."""
        mask = 0
        for job in batch:
            mask |= int(self.job_masks[job])
        return mask

    def batch_cost(self, batch: tuple[int, ...], opened: int = 0) -> float:
        """Cost of doing jobs in one go from what is open: open, do, close everything, test."""
        own = sum(float(self.job_costs[job]) for job in batch) + self.test_cost
        shared = self.price_shared(np.logical_or.reduce(self.shares[list(batch)], axis=0))[0]
        return own + float(shared) + self.access_cost(self.batch_mask(batch), opened)

    def batch_minutes(self, batch: tuple[int, ...], opened: int = 0) -> float:
        """Labour minutes of doing jobs in one go from what is open."""
        mask = self.batch_mask(batch)
        own = sum(self.jobs[job].minutes for job in batch) + self.test_minutes
        own += float(self.price_shared(np.logical_or.reduce(self.shares[list(batch)], axis=0))[1])
        return own + float(self.access.open_minutes[mask & ~opened] + self.access.close_minutes[mask | opened])

    def access_cost(self, mask: int, opened: int = 0) -> float:
        """Cost of opening what is missing of `mask` and closing everything afterwards."""
        return float(self.access.round_trip(mask, opened))

    def missed_by(self, batch: tuple[int, ...]) -> np.ndarray:
        """p that each cause survives a batch of jobs, shape (n_causes,)."""
        return join_kept(self.kept[list(batch)], self.kinds[list(batch)])

    def missed_in_turn(self, jobs: np.ndarray) -> np.ndarray:
        """P that each cause survives the first none, one, two of jobs and so on, shape (..., m + 1, n_causes).

        Args:
            jobs: positions, shape (..., m).
        """
        missed = join_kept(self.kept[jobs], self.kinds[jobs], in_turn=True)
        return np.concatenate([np.ones((*jobs.shape[:-1], 1, missed.shape[-1])), missed], axis=-2)

    def weigh_subsets(self, jobs: Sequence[int]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The same as `weigh_batches` of every subset of jobs; the first job is the highest bit of a subset's number."""
        masks, own = np.zeros(1, dtype=np.int64), np.full(1, self.test_cost)
        shares, n_kinds = self.shares[-1:], int(self.kinds.max())
        missed = [np.ones((1, self.kept.shape[1])) for _ in range(n_kinds + 2)]  # the last: of a kind of their own
        for job in reversed(jobs):
            kind = self.kinds[job]
            missed = [
                np.concatenate([left, left if i != kind % len(missed) else self._left_by(job, left)])
                for i, left in enumerate(missed)
            ]
            masks = np.concatenate([masks, masks | self.job_masks[job]])
            own = np.concatenate([own, own + self.job_costs[job]])
            shares = np.concatenate([shares, shares | self.shares[job]])
        return own + self.price_shared(shares)[0], masks, np.prod(missed, axis=0)

    def _left_by(self, job: int, left: np.ndarray) -> np.ndarray:
        """P that each cause survives a job as well, besides those of the same kind, or those of no kind."""
        return left * self.kept[job] if self.kinds[job] < 0 else np.minimum(left, self.kept[job])

    def weigh_batches(self, batches: Sequence[tuple[int, ...]]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Price many batches from closed: cost without access, levels needed, and p that each cause survives.

        Returns: shapes (k,), (k,) and (k, n_causes).
        """
        padded = pad_rows(batches, len(self.jobs))
        own = np.append(self.job_costs, 0.0)[padded].sum(axis=1) + self.test_cost
        own += self.price_shared(np.logical_or.reduce(self.shares[padded], axis=1))[0]
        masks = np.bitwise_or.reduce(np.append(self.job_masks, 0)[padded], axis=1)
        return own, masks, join_kept(self.kept[padded], self.kinds[padded])

    def missed_by_each(self, batches: Sequence[tuple[int, ...]]) -> np.ndarray:
        """P that each cause survives each of many batches, shape (k, n_causes)."""
        padded = pad_rows(batches, len(self.jobs))
        return join_kept(self.kept[padded], self.kinds[padded])

    def after(self, failed: tuple[int, ...]) -> "Situation":
        """The same situation where some jobs have failed: another of their kind cures what it is surer by."""
        kinds, jobs = {self.jobs[job].kind for job in failed} - {""}, list[PricedJob]()
        if not kinds:
            return self
        for place, job in enumerate(self.jobs):
            alike = [other for other in failed if self.jobs[other].kind == job.kind]
            if job.kind in kinds and place not in failed:
                job = job.vary(cures=1.0 - keep_after(self.kept[place], self.kept[alike].min(axis=0)))
            jobs.append(job)
        return self.vary(jobs=tuple(jobs))

    def without(self, jobs: tuple[int, ...] = (), checks: tuple[int, ...] = ()) -> "Situation":
        """The same situation when some checks have been made, and some jobs done in vain."""
        return self.vary(
            jobs=tuple(job for i, job in enumerate(self.after(jobs).jobs) if i not in jobs),
            checks=tuple(check for i, check in enumerate(self.checks) if i not in checks),
        )


def _position(wanted: str, ids: list[str], kind: str) -> int:
    if wanted not in ids:
        raise UnknownId(f"No open {kind} is called {wanted}.")
    return ids.index(wanted)
