"""A unit set up for simulation: all faults, all acts, prices, and a book of plans, made once for all vehicles."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shiftlore.advising import offered_jobs, open_reveals, price_acts, tabulate_findings
from shiftlore.basics import UsageProblem
from shiftlore.cases import Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_beforehand
from shiftlore.knowledge import Shop
from shiftlore.planning import (
    NO_GAIN,
    Bench,
    FindingTable,
    Layout,
    Outcomes,
    Outlook,
    PlanBook,
    Situation,
    Weighing,
    bind_plans,
    join_independently,
    lay_out,
    plan_quickly,
    tabulate_check,
    touch_probabilities,
    weigh_faults,
    write_book,
)

FAULTS_PRICED = 50
"""Likeliest faults over which checks are priced in a simulation; the rest hardly moves the choice."""

PLANS_PRICED = 100
"""Cheapest plans of the book that a check may lead to in a simulation."""

CHECKS_PRICED = 40
"""Checks priced at each step of a simulation, those that tell most per cost."""

MOST_TELLING = 6
"""Readings that are not sound up to which a simulated vehicle is weighed exactly. Further ones count as independent
given the fault: the exact sum over what they share takes seconds from twenty on (measured)."""

OWNER_SAYS = ("owner", "history")
"""Findings that are had by asking."""

QUESTIONS = 25
"""Questions that an owner is asked: judgement, five minutes."""


@dataclass(frozen=True, slots=True)
class Action:
    """What a way of working does next.

    Args:
        kind: ``check``, ``job`` or ``leave``.
        ids: the check, or the jobs in one go; empty for ``leave``.
    """

    kind: str
    ids: tuple[str, ...] = ()


LEAVE = Action("leave")


@dataclass(frozen=True, slots=True, eq=False)
class WorkState:
    """Where the work on one simulated vehicle stands.

    Args:
        evidence: all readings so far, finding -> state.
        belief: weight of each fault, shape (n_faults,).
        opened: bit mask of open levels.
        checked: which checks were made, shape (n_checks,).
        done: which jobs were done, shape (n_jobs,).
    """

    evidence: Mapping[str, int]
    belief: np.ndarray
    opened: int
    checked: np.ndarray
    done: np.ndarray


@dataclass(frozen=True, eq=False)
class UnitBench:
    """A unit, its acts and prices, and what its checks show without any earlier answer.

    Args:
        layouts: per check which outcomes are told apart.
        findings: what each finding of a check shows given each fault.
        tables: per check its outcomes given each fault.
        asked: what the owner is asked before any work, at no cost.
        book: plans for beliefs as vehicles come in with.
    """

    compiled: CompiledCase
    weighing: Weighing
    situation: Situation
    findings: Mapping[str, FindingTable]
    layouts: Mapping[str, Layout]
    tables: Mapping[str, Outcomes]
    reveals: Mapping[str, tuple[str, ...]]
    asked: tuple[str, ...]
    book: PlanBook

    @cached_property
    def touches(self) -> np.ndarray:
        """p that a job puts right something, shape (n_jobs, n_hypotheses)."""
        return touch_probabilities(self.situation)

    @cached_property
    def check_costs(self) -> np.ndarray:
        """Cost of each check from closed, shape (n_checks,)."""
        return np.array([self.situation.reach_check(check, 0)[0] for check in range(len(self.situation.checks))])

    @cached_property
    def owners(self) -> np.ndarray:
        """Which check each column of `stacked` belongs to, shape (n_outcomes,)."""
        return np.repeat(np.arange(len(self.spans)), [span.stop - span.start for span in self.spans])

    @cached_property
    def stacked(self) -> np.ndarray:
        """All outcome tables side by side, a row per fault so that few faults are quickly picked, shape
        (n_hypotheses, n_outcomes)."""
        tables = [self.tables[check.id].likelihoods for check in self.situation.checks]
        return np.ascontiguousarray(np.concatenate(tables).T)

    @cached_property
    def spans(self) -> tuple[slice, ...]:
        """Columns of `stacked` that belong to each check."""
        ends = np.cumsum([len(self.tables[check.id].labels) for check in self.situation.checks]).tolist()
        return tuple(slice(start, end) for start, end in zip([0, *ends], ends, strict=False))

    def believe(self, state: WorkState) -> WorkState:
        """Weigh all readings anew, then what failed repairs leave."""
        telling = [name for name, reading in state.evidence.items() if reading]
        late = set(telling[MOST_TELLING:])
        exact = {name: reading for name, reading in state.evidence.items() if name not in late}
        belief = self.weighing.gather(self.compiled.engine.posterior(exact)[0])
        for name in late & set(self.findings):
            belief = belief * self.findings[name].likelihoods[state.evidence[name]]
        belief = belief / belief.sum()
        if state.done.any():
            missed = self.situation.missed_by(tuple(int(job) for job in np.flatnonzero(state.done)))
            left = self.situation.hypotheses.persist(belief, missed)
            belief = left / left.sum() if left.sum() > 0 else belief
        return replace(state, belief=belief)

    def list_open(self, state: WorkState, order: np.ndarray) -> list[int]:
        """Checks in their order that were not made and whose main finding has not been read either."""
        tops = [self.layouts[check.id].combined[0].finding for check in self.situation.checks]
        return [int(c) for c in order if not state.checked[c] and tops[c] not in state.evidence]

    def telling_checks(self, state: WorkState, faults: np.ndarray) -> tuple[int, ...]:
        """Open checks that tell most per cost just now, judged by the likeliest faults.

        Args:
            faults: their positions.
        """
        belief = state.belief[faults, None]
        joint = self.stacked[faults] * belief
        shift = np.abs(joint - joint.sum(axis=0) * belief / belief.sum()).sum(axis=0)
        moved = np.bincount(self.owners, shift, len(self.check_costs))
        order = np.argsort(-moved / (self.check_costs + 1.0), kind="stable")
        return tuple(sorted(self.list_open(state, order)[:CHECKS_PRICED]))


def set_up_bench(unit: CompiledUnit, shop: Shop | None = None) -> UnitBench:
    """Set a unit up for simulation; its book of plans is written for the priors alone.

    Raises: UsageProblem: no shop, or nothing can be checked.
    """
    compiled = compile_beforehand(unit, Case(unit.expansion.unit))
    shop = shop or unit.knowledge.shop
    if shop is None:
        raise UsageProblem("There is no shop in the knowledge: labour and tools are not known.")
    weighing = weigh_faults(compiled.causes, compiled.faults.members, compiled.p_faults, len(compiled.p_faults), 0.0)
    belief, reveals = weighing.gather(compiled.p_faults), open_reveals(compiled, shop)
    names = sorted({name for group in reveals.values() for name in group})
    findings = tabulate_findings(compiled, weighing, belief, names)
    tried = {key: lay_out([findings[name] for name in group]) for key, group in reveals.items()}
    layouts = {key: layout for key, layout in tried.items() if layout is not None}
    tables = {key: tabulate_check(layout, join_independently(layout)) for key, layout in layouts.items()}
    checks = {key: compiled.expansion.checks[key] for key in layouts}
    situation, _ = price_acts(compiled, shop, weighing, checks, offered_jobs(compiled, shop))
    questions = [name for name, record in compiled.expansion.finding_records.items() if record.got_by in OWNER_SAYS]
    tabled = tabulate_findings(compiled, weighing, belief, questions)
    asked = sorted(questions, key=lambda name: -tabled[name].nats)[:QUESTIONS]
    return UnitBench(
        compiled=compiled,
        weighing=weighing,
        situation=situation,
        findings=findings,
        layouts=layouts,
        tables=tables,
        reveals=reveals,
        asked=tuple(asked),
        book=write_book(situation, belief[None]),
    )


def choose_on_bench(bench: UnitBench, state: WorkState) -> Action:
    """The planner's next act on a simulated vehicle: one step ahead, over the likeliest faults and best plans."""
    situation, book = bench.situation, bench.book
    if state.done.any():  # after failures the plans of the book mostly hold done jobs
        left = np.flatnonzero(~state.done).tolist()
        later = replace(situation.without(jobs=tuple(np.flatnonzero(state.done).tolist())), opened=0)
        (fresh,) = plan_quickly(later, state.belief[None])
        again = tuple(tuple(left[job] for job in batch) for batch in fresh)
        book = book.join(bind_plans(situation, [again, again[:1]]))
    prices = book.price_each(state.belief[None], state.opened, state.done)[0]
    plan = int(np.argmin(prices))
    faults = np.argsort(-state.belief, kind="stable")[:FAULTS_PRICED]
    checks = bench.telling_checks(state, faults)
    if checks:
        near = np.argsort(prices, kind="stable")[:PLANS_PRICED]
        few = bench.stacked[faults]
        likelihoods = tuple(few[:, span].T for span in bench.spans)
        outlook, belief = Outlook(situation, book.pick(near, faults), likelihoods), state.belief[faults][None]
        at = Bench(state.opened, checks, state.done, None)
        totals = outlook.price_checks(belief, at)[0]
        best = int(np.argmin(totals))
        if totals[best] < float(outlook.price_jobs(belief, at)[0]) - NO_GAIN:
            return Action("check", (situation.checks[checks[best]].id,))
    batch = book.plans[plan][0] if book.plans[plan] else ()
    return Action("job", tuple(situation.jobs[job].id for job in batch)) if batch else LEAVE
