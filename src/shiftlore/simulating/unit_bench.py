"""A unit set up for simulation: all faults, all acts and prices, made once for all vehicles."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shiftlore.advising import (
    EXCHANGE,
    MOST_CHECKS,
    CaseSituation,
    EngineOracle,
    PriceSpan,
    choose_safely,
    cures_of,
    is_made_for,
    least_cure,
    list_open_checks,
    offered_jobs,
    open_reveals,
    place_check,
    price_acts,
    tabulate_findings,
)
from shiftlore.basics import UsageProblem
from shiftlore.cases import Case
from shiftlore.compiling import TOLD, CompiledCase, CompiledUnit, compile_beforehand
from shiftlore.exact import Evidence
from shiftlore.knowledge import Shop
from shiftlore.planning import (
    Decision,
    Layout,
    LookAhead,
    Situation,
    Weighing,
    lay_out,
    weigh_faults,
    weigh_outcomes,
)

MOST_LIKELY = 60
"""Likeliest faults by which a habit judges what a check tells; the rest hardly moves it."""

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
        compiled: the vehicle as a case: all that was read, and the work that was done in vain.
        belief: weight of each fault, shape (n_faults,).
        opened: bit mask of open levels.
        checked: which checks were made, shape (n_checks,).
        done: which jobs were done, shape (n_jobs,).
    """

    compiled: CompiledCase
    belief: np.ndarray
    opened: int
    checked: np.ndarray
    done: np.ndarray

    @property
    def evidence(self) -> Evidence:
        """All readings so far, finding -> state, or doubted state."""
        return self.compiled.known


@dataclass(frozen=True, eq=False)
class UnitBench:
    """A unit, its acts and prices, and what its checks show without any earlier answer.

    Args:
        layouts: per check which outcomes are told apart.
        tables: per check p of its outcomes given each fault.
        asked: what the owner is asked before any work, at no cost.
        parts: span of parts and consumables, by check or job id.
    """

    compiled: CompiledCase
    shop: Shop
    weighing: Weighing
    situation: Situation
    layouts: Mapping[str, Layout]
    tables: Mapping[str, np.ndarray]
    reveals: Mapping[str, tuple[str, ...]]
    asked: tuple[str, ...]
    parts: Mapping[str, PriceSpan]

    @cached_property
    def cures(self) -> np.ndarray:
        """p that each job puts right each cause of the unit, shape (n_jobs, n_causes)."""
        return cures_of(self.compiled, [job.id for job in self.situation.jobs])

    @cached_property
    def p_shown(self) -> Mapping[str, np.ndarray]:
        """p of each state of every finding given each fault, before anything is known: finding -> (n_states, n_faults)."""
        return self.compiled.engine.predict({}, list(self.compiled.expansion.findings))

    @cached_property
    def exchanges(self) -> list[int]:
        """Positions of the jobs that put another unit in: what the habits of shops end with."""
        records = self.compiled.expansion.jobs
        return [place for place, job in enumerate(self.situation.jobs) if records[job.id].kind == EXCHANGE]

    @cached_property
    def check_costs(self) -> np.ndarray:
        """Cost of each check from closed, shape (n_checks,)."""
        return self.reach_costs(0)

    @cached_property
    def owners(self) -> np.ndarray:
        """Which check each column of `stacked` belongs to, shape (n_outcomes,)."""
        sizes = [len(self.tables[check.id]) for check in self.situation.checks]
        return np.repeat(np.arange(len(sizes)), sizes)

    @cached_property
    def stacked(self) -> np.ndarray:
        """All outcome tables side by side, a row per fault, shape (n_hypotheses, n_outcomes)."""
        tables = [self.tables[check.id] for check in self.situation.checks]
        return np.ascontiguousarray(np.concatenate(tables).T)

    def reach_costs(self, opened: int) -> np.ndarray:
        """Cost of getting to each check and making it, shape (n_checks,)."""
        return np.array([self.situation.reach_check(check, opened)[0] for check in range(len(self.situation.checks))])

    def stand(self, state: WorkState) -> Situation:
        """Give the acts and prices with what each job still cures: work of its kind may have been done in vain."""
        if not state.compiled.works:
            return self.situation
        cures = self.weighing.cure(cures_of(state.compiled, [job.id for job in self.situation.jobs]))
        jobs = zip(self.situation.jobs, cures, strict=True)
        return self.situation.vary(jobs=tuple(job.vary(cures=row) for job, row in jobs))

    def believe(self, state: WorkState) -> WorkState:
        """Weigh all readings anew, and what work in vain leaves."""
        return replace(state, belief=self.weighing.gather(state.compiled.faults_now))

    def list_open(self, state: WorkState, order: np.ndarray) -> list[int]:
        """Checks in their order that can be made, were not made, and whose main finding has not been read either."""
        fits, tops = self.can_make(state), [self.layouts[one.id].combined[0].finding for one in self.situation.checks]
        return [int(c) for c in order if fits[c] and tops[c] not in state.evidence]

    def can_make(self, state: WorkState) -> list[bool]:
        """Whether each check was not made and can be made, with all that is told of the vehicle."""
        records, compiled = self.compiled.expansion.checks, state.compiled
        open_now = [
            None if made else records[one.id] for one, made in zip(self.situation.checks, state.checked, strict=True)
        ]
        return [
            one is not None
            and compiled.telling.isdisjoint(one.unless)
            and (not one.only_so or is_made_for(compiled, one))
            for one in open_now
        ]

    def shift_belief(self, belief: np.ndarray) -> np.ndarray:
        """How much belief each check is expected to move, 0 to 2, shape (n_checks,)."""
        likely = np.argsort(-belief, kind="stable")[:MOST_LIKELY]
        weights = belief[likely, None]
        joint = self.stacked[likely] * weights
        shift = np.abs(joint - joint.sum(axis=0) * weights / weights.sum()).sum(axis=0)
        return np.bincount(self.owners, shift, len(self.situation.checks))


def leaving_cost(bench: UnitBench, state: WorkState) -> float:
    """What it costs to let a vehicle go uncured as it stands: closing it, and all that follows from it."""
    return bench.situation.uncured_cost + float(bench.situation.access.close_costs[state.opened])


def set_up_bench(unit: CompiledUnit, shop: Shop | None = None) -> UnitBench:
    """Set a unit up for simulation.

    Raises: UsageProblem: no shop, or nothing can be checked.
    """
    compiled = compile_beforehand(unit, Case(unit.expansion.unit))
    shop = shop or unit.knowledge.shop
    if shop is None:
        raise UsageProblem("There is no shop in the knowledge: labour and tools are not known.")
    weighing = weigh_faults(compiled.causes, compiled.faults.members, compiled.p_faults, len(compiled.p_faults), 0.0)
    belief, reveals = weighing.gather(compiled.p_faults), open_reveals(compiled, shop, ever=True)
    names = sorted({name for group in reveals.values() for name in group})
    findings = tabulate_findings(compiled, weighing, belief, names)
    tried = {key: lay_out([findings[name] for name in group]) for key, group in reveals.items()}
    layouts = {key: layout for key, layout in tried.items() if layout is not None}
    tables = {key: weigh_outcomes(layout) for key, layout in layouts.items()}
    checks = {key: compiled.expansion.checks[key] for key in layouts}
    situation, parts = price_acts(compiled, shop, weighing, checks, offered_jobs(compiled, shop))
    questions = [name for name, record in compiled.expansion.finding_records.items() if record.got_by in TOLD]
    tabled = tabulate_findings(compiled, weighing, belief, questions)
    asked = sorted(questions, key=lambda name: -tabled[name].nats)[:QUESTIONS]
    return UnitBench(
        compiled=compiled,
        shop=shop,
        weighing=weighing,
        situation=situation,
        layouts=layouts,
        tables=tables,
        reveals=reveals,
        asked=tuple(asked),
        parts=parts,
    )


def decide_next(bench: UnitBench, state: WorkState, look: LookAhead | None = None) -> Decision:
    """What `next` says of a simulated vehicle: the same oracle, chooser and look-ahead, on what simulation believes."""
    return choose_safely(prepare_work(bench, state), look)[1]


def prepare_work(bench: UnitBench, state: WorkState) -> CaseSituation:
    """Give all that is needed to plan the further work on a simulated vehicle."""
    compiled, whole = state.compiled, bench.situation
    weighing = weigh_faults(compiled.causes, compiled.faults.members, compiled.faults_now)
    shows = open_reveals(compiled, bench.shop)
    checks = [check for check, made in zip(whole.checks, state.checked, strict=True) if not made and check.id in shows]
    if state.checked.sum() >= MOST_CHECKS:
        checks = []
    jobs = [job for job, done in zip(whole.jobs, state.done, strict=True) if not done]
    records, open_jobs = compiled.expansion, {job.id: compiled.expansion.jobs[job.id] for job in jobs}
    reveals = {check.id: shows[check.id] for check in checks}
    oracle = EngineOracle(compiled, weighing, reveals, np.ones(len(weighing.hypotheses.causes)))
    cures = weighing.cure(cures_of(compiled, [job.id for job in jobs]))
    still_open = set(list_open_checks(oracle))
    situation = whole.vary(
        hypotheses=weighing.hypotheses,
        jobs=tuple(
            job.vary(cures=row, least=least_cure(compiled, job.id)) for job, row in zip(jobs, cures, strict=True)
        ),
        checks=tuple(
            place_check(compiled, check, records.checks[check.id], open_jobs)
            for check in checks
            if check.id in still_open
        ),
        opened=state.opened,
    )
    return CaseSituation(
        compiled=compiled,
        shop=bench.shop,
        situation=situation,
        oracle=oracle,
        checks={check.id: records.checks[check.id] for check in situation.checks},
        jobs={job.id: records.jobs[job.id] for job in jobs},
        parts=bench.parts,
    )
