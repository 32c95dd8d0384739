"""From a compiled case to a situation that can be planned: shop, prices, access, tools, what is done, beliefs.

The exact engine is the planner's oracle: it gives the outcomes of checks given all answers so far.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple, cast

import numpy as np

from shiftlore.advising.job_cures import cures_of, is_meant, list_against, list_complained, list_meant
from shiftlore.advising.looks_first import (
    drop_alike,
    find_answered,
    find_scans_made,
    is_made_for,
    is_scan,
    list_general,
    place_check,
)
from shiftlore.advising.options_risks import NORMAL
from shiftlore.advising.pricing import (
    PriceSpan,
    price_borrowing,
    price_check,
    price_job,
    price_labour,
    price_needs,
    price_shared,
    price_waiting,
)
from shiftlore.advising.reasons import LITTLE, is_work_decided
from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.basics.structs import Value
from shiftlore.compiling import EXCHANGE, CompiledCase, keep_fitting
from shiftlore.knowledge import Check, Job, Knowledge, Shop
from shiftlore.planning import (
    AccessNode,
    AccessTree,
    Decision,
    FindingTable,
    Layout,
    LookAhead,
    Oracle,
    Outcomes,
    PricedCheck,
    PricedJob,
    Situation,
    Weighing,
    choose_step,
    lay_out,
    leaves_for_budget,
    look_beyond,
    tabulate_check,
    tabulate_grades,
    weigh_faults,
    weigh_outcomes,
)
from shiftlore.ranking.dangers import Danger, is_not_run, list_barred, list_lasting, list_settling, tell_danger
from shiftlore.sheets import UnitSheet

NO_OUTCOME = "nothing_new"

BELIEVED = 0.9
"""A sign that is more probable than this counts as seen where a check cannot be made with it: judgement."""

KNOWN = 0.95
"""A check that shows one thing with more than this certainty is not proposed: nobody makes it."""

NEVER, UNSEEN = 2.0, 0.5
"""No p of helping is so large; up to that one work is not begun that presumes signs of which none was seen: judgement."""


class EngineOracle(Value, frozen=True, eq=False, dict=True):
    """Beliefs and outcomes from the engine.

    Args:
        reveals: findings of each check that are not known yet.
        missed: p that each cause of the hypotheses has survived jobs that are only planned, shape (n_kept + 2,).
    """

    compiled: CompiledCase
    weighing: Weighing
    reveals: Mapping[str, tuple[str, ...]]
    missed: np.ndarray

    @cached_property
    def belief(self) -> np.ndarray:
        """Weight of each hypothesis now, shape (n_hypotheses,), sum 1.

        It starts where the ranking stands; what planned work leaves is carried over.
        """
        before = self.weighing.gather(self.compiled.faults_now)
        weights = self.weighing.hypotheses.persist(before, self.missed) if (self.missed < 1.0).any() else before
        if weights.sum() <= 0.0:
            raise ImpossibleEvidence(("repair",))
        return weights / weights.sum()

    @cached_property
    def findings(self) -> dict[str, FindingTable]:
        """Tables of all open findings that a check could reveal."""
        names = sorted({name for group in self.reveals.values() for name in group if name not in self.compiled.told})
        return tabulate_findings(self.compiled, self.weighing, self.belief, names)

    @cached_property
    def layouts(self) -> dict[str, Layout]:
        """Which outcomes are told apart, of every check that can tell anything."""
        known = self.findings
        laid_out = {
            key: lay_out([known[name] for name in group if name in known]) for key, group in self.reveals.items()
        }
        return {key: layout for key, layout in laid_out.items() if layout is not None}

    @cached_property
    def tables(self) -> dict[str, np.ndarray]:
        """Likelihoods of the outcomes of these checks; findings count as independent given what is at work."""
        return {key: weigh_outcomes(layout) for key, layout in self.layouts.items()}

    def likelihoods(self, check_id: str) -> np.ndarray:
        """Likelihoods of all joint outcomes of one check, shape (n_outcomes, n_hypotheses)."""
        return self.tables[check_id] if check_id in self.tables else np.ones((1, len(self.belief)))

    def outcomes(self, check_id: str) -> Outcomes:
        """All joint outcomes of one check; a single empty one where it can tell nothing new."""
        if check_id in self.layouts:
            return tabulate_check(self.layouts[check_id])
        return Outcomes((NO_OUTCOME,), self.likelihoods(check_id), ({},))

    def after(self, check_id: str, outcome: int) -> "EngineOracle":
        """The oracle once the check has shown that outcome."""
        return self.answered(self.outcomes(check_id).answers[outcome])

    def answered(self, answers: Mapping[str, str]) -> "EngineOracle":
        """The oracle once findings have been answered: finding -> grade."""
        nodes = self.compiled.expansion.findings
        more = {finding: nodes[finding].grades.index(grade) for finding, grade in answers.items()}
        return self.vary(compiled=self.compiled.with_evidence(more))

    def persists(self, missed: np.ndarray) -> "EngineOracle":
        """The oracle once jobs were done and the problem persists."""
        return self.vary(missed=self.missed * missed)

    def in_vain(self, jobs: tuple[str, ...]) -> np.ndarray:
        """Weigh each hypothesis as it will be believed when jobs, the next that are done, are recorded as in vain."""
        return self.weighing.gather(self.compiled.with_vain(jobs).faults_now)


def tabulate_findings(
    compiled: CompiledCase,
    weighing: Weighing,
    belief: np.ndarray,
    names: Sequence[str],
) -> dict[str, FindingTable]:
    """Tables of what findings show under each hypothesis given the answers so far."""
    nodes, seen = compiled.expansion.findings, compiled.predict_now(names)
    if not names:
        return {}
    rows = weighing.average(np.concatenate([seen[name] for name in names]))
    return tabulate_grades({name: nodes[name].grades for name in names}, rows, belief)


COMEBACK_SHARE = 0.5
"""Share of failed repairs that the road test does not show at once, so that the owner has to come back: judgement."""

UNCURED_OVER_EXCHANGE = 2.0
"""What an uncured vehicle costs, in exchanges of the unit: what was paid is lost and somebody else starts over,
judgement."""

UNCURED_WITHOUT_EXCHANGE = 4000.0
"""What an uncured vehicle costs where no exchange is offered, in the shop's currency: judgement."""

WHOLE_UNIT = (EXCHANGE, "overhaul")
"""Kinds of job that put the whole unit right; they are done alone."""


class CaseSituation(Value, frozen=True, eq=False):
    """A case as the planner sees it, with the way back to the records.

    Args:
        checks, jobs: records by the ids in the situation.
        parts: span of parts and consumables, by check or job id.
    """

    compiled: CompiledCase
    shop: Shop
    situation: Situation
    oracle: EngineOracle
    checks: Mapping[str, Check]
    jobs: Mapping[str, Job]
    parts: Mapping[str, PriceSpan]

    def fail(self, _: Situation, oracle: Oracle, jobs: tuple[str, ...]) -> tuple[Situation, Oracle]:
        """Give what is planned and believed on the day on which jobs are recorded as in vain."""
        later = prepare_situation(cast(EngineOracle, oracle).compiled.with_vain(jobs), self.shop)
        return later.situation.vary(opened=0), later.oracle


def prepare_situation(compiled: CompiledCase, shop: Shop | None = None) -> CaseSituation:
    """Build all that is needed to plan a case.

    Args:
        shop: another shop than the knowledge's own (dearer labour, fewer tools).
    Raises: UsageProblem: the knowledge has no shop. ImpossibleEvidence: the answers contradict each other.
    """
    shop = shop or compiled.knowledge.shop
    if shop is None:
        raise UsageProblem("There is no shop in the knowledge: labour and tools are not known.")
    weighing = weigh_faults(compiled.causes, compiled.faults.members, compiled.faults_now)
    reveals = open_reveals(compiled, shop)
    oracle = EngineOracle(compiled, weighing, reveals, np.ones(len(weighing.hypotheses.causes)))
    checks = {key: compiled.expansion.checks[key] for key in list_open_checks(oracle)}
    jobs = offered_jobs(compiled, shop)
    situation, parts = price_acts(compiled, shop, weighing, checks, jobs)
    return CaseSituation(
        compiled=compiled, shop=shop, situation=situation, oracle=oracle, checks=checks, jobs=jobs, parts=parts
    )


class Chosen(NamedTuple):
    """A case with what is chosen next, also as if there were no budget, and why it should stand, if that is to be said.

    `beyond` is `free`, the choice without a budget, where that has something to say (`planning.look_beyond`).
    """

    prepared: CaseSituation
    choice: Decision
    beyond: Decision | None
    danger: Danger | None
    free: Decision

    @property
    def for_budget(self) -> bool:
        """Whether the budget alone makes leaving the vehicle best."""
        return leaves_for_budget(self.choice, self.beyond)


def choose_for_case(compiled: CompiledCase, shop: Shop | None = None, look: LookAhead | None = None) -> Chosen:
    """Choose what to do next on a case.

    Raises: as `prepare_situation`.
    """
    prepared, choice, danger = choose_safely(prepare_situation(compiled, shop), look)
    choice = choice.vary(steps=drop_alike(choice.steps, prepared.oracle.reveals))
    rich = prepared.vary(situation=prepared.situation.vary(budget=None))
    free = choice if prepared.situation.budget is None else _choose(rich, look)[0]
    return Chosen(prepared, choice, look_beyond(choice, free, prepared.oracle.belief), danger, free)


def choose_safely(
    prepared: CaseSituation, look: LookAhead | None = None
) -> tuple[CaseSituation, Decision, Danger | None]:
    """Choose; where it is said that nobody should drive the vehicle, nothing is chosen that drives it.

    Returns: what can be done, the choice, and why it should stand, if that is to be said.
    """
    choice, danger = _choose(prepared, look)
    still = {key: check for key, check in prepared.checks.items() if not is_driven(prepared.compiled, check)}
    if danger is not None and len(still) < len(prepared.checks):
        checks = tuple(check for check in prepared.situation.checks if check.id in still)
        prepared = prepared.vary(situation=prepared.situation.vary(checks=checks), checks=still)
        choice, danger = _choose(prepared, look)
    return prepared, choice, danger


def _choose(prepared: CaseSituation, look: LookAhead | None) -> tuple[Decision, Danger | None]:
    """Choose, and say that the vehicle should stand where that is so."""
    choice = _price_alike(choose_step(prepared.situation, prepared.oracle, look))
    helps = choice.stop.p_cured >= LITTLE or (prepared.situation.budget is None and bool(choice.stop.jobs))
    return choice, tell_danger(prepared.compiled, helps=helps)


def _price_alike(choice: Decision) -> Decision:
    """Let the step with which the plan of jobs begins cost no more in the end than that plan."""
    first, now = {*next(iter(choice.plan.batches), ())}, choice.expected_total_now
    dear = (step.kind == "job" and {*step.ids} == first and step.expected_total > now for step in choice.steps)
    return choice.vary(steps=tuple(
        step.vary(expected_total_after=now - step.cost.total, expected_saving=0.0) if is_dear else step
        for step, is_dear in zip(choice.steps, dear, strict=True)
    ))  # fmt: skip


def list_open_checks(oracle: EngineOracle) -> list[str]:
    """Checks whose result is not known beforehand, and of scans of which one holds another the telling one.

    What a check is made for is looked at, however seldom it is found, unless it is known to be there.
    """
    records, open_now = oracle.compiled.expansion.finding_records, []
    made_for = {key for key in oracle.tables if is_made_for(oracle.compiled, oracle.compiled.expansion.checks[key])}
    scans = {
        key: {name for name in names if not records[name].none_by}
        for key, names in oracle.reveals.items()
        if any(records[name].none_by for name in names)
    }
    for key, table in oracle.tables.items():
        held = any(scans[key] < shown for shown in scans.values()) if key in scans else False
        p = table @ oracle.belief
        if not held and (float(p.max()) <= KNOWN or (key in made_for and _shows_nothing(oracle, key, int(p.argmax())))):
            open_now.append(key)
    return open_now


def _shows_nothing(oracle: EngineOracle, check_id: str, outcome: int) -> bool:
    """Tell whether an outcome of a check is that all is sound."""
    nodes = oracle.compiled.expansion.findings
    return all(nodes[name].grades[0] == grade for name, grade in oracle.outcomes(check_id).answers[outcome].items())


def open_reveals(compiled: CompiledCase, shop: Shop, *, ever: bool = False) -> dict[str, tuple[str, ...]]:
    """Checks that the shop can make and that were not made, with the findings that they would answer.

    With `ever` also what is offered only where something that it is made for is told.

    What may endanger people or be lost is not driven for a check either, and none is made once work is decided.
    """
    if is_work_decided(compiled):
        return {}
    scans, reveals = find_scans_made(compiled), compiled.expansion.reveals
    found, made = {}, {*compiled.case.done_ids, *scans, *find_answered(compiled)}
    records, settled = keep_fitting(compiled, compiled.expansion.checks), compiled.settled | list_general(compiled)
    read = {finding for scan in scans for finding in reveals[scan]}  # a further scan shows what these do not
    barred, freed, off = list_barred(compiled), list_barred(compiled, held=False), is_not_run(compiled)
    doubts = frozenset[str]().union(*list_settling(compiled))
    for key, record in records.items():
        stands = _is_barred(record, barred if doubts.isdisjoint(reveals[key]) else freed) or (off and record.running)
        if (
            key not in made
            and shop.has(record.tools)
            and not stands
            and (ever or not record.only_so or is_made_for(compiled, record))
        ):
            seen = settled | _list_seen(compiled, record) | (read if is_scan(compiled, key) else set())
            group = tuple(item for item in reveals[key] if item not in seen)
            if group:
                found[key] = group
    shows = _list_shown(compiled, {name for key in found for name in records[key].unless}, found.values())
    return {key: group for key, group in found.items() if shows.isdisjoint(records[key].unless)}


def _list_seen(compiled: CompiledCase, check: Check) -> set[str]:
    """List what checks that were made, and that overlook no more than this one, have shown, until work was done."""
    records, reveals, done = compiled.knowledge.checks, compiled.expansion.reveals, compiled.case.done_ids
    made = (key for key in done if key in records and records[key].missed <= check.missed and not compiled.works)
    return {name for key in made for name in (*records[key].reveals, *reveals.get(key, ()))}


def is_driven(compiled: CompiledCase, check: Check) -> bool:
    """Tell whether the vehicle is driven for a check."""
    return check.comes_back or _is_barred(check, frozenset(compiled.knowledge.words.driven))


def _is_barred(check: Check, barred: frozenset[str]) -> bool:
    """Tell whether a check is not made while something bars its cautions: it is not sent away until it comes again either."""
    return bool(barred) and (check.comes_back or not barred.isdisjoint(check.cautions))


def _list_shown(compiled: CompiledCase, signs: set[str], groups: Iterable[tuple[str, ...]]) -> set[str]:
    """List the signs that are told, or as good as known.

    Args:
        groups: findings that will be asked for next, so that all are predicted at once.
    """
    open_now = sorted(signs - compiled.told)
    predicted = compiled.predict_now([*open_now, *(name for group in groups for name in group)]) if open_now else {}
    believed = (sign for sign in open_now if float(predicted[sign][0] @ compiled.faults_now) < 1 - BELIEVED)
    return {*(list_lasting(compiled) & signs), *believed}


def offered_jobs(compiled: CompiledCase, shop: Shop) -> dict[str, Job]:
    """Jobs that the shop can do and that were not done."""
    return {
        key: record
        for key, record in keep_fitting(compiled, compiled.expansion.jobs).items()
        if key not in compiled.jobs_done and shop.has(record.tools)
    }


def least_cure(compiled: CompiledCase, job: str) -> float:
    """Give the p of helping up to which a job is not proposed: one that only shows that nothing is broken needs some.

    More than 1 is needed for what is not done with a sign that is told: work may end with it, once that was put right.
    Nobody seals a leak that nobody saw, unless it most likely leaks, or what else it is made for is likely, all the same;
    nor puts right what nobody complained of.
    """
    record, cured = compiled.expansion.jobs[job], compiled.expansion.cures[job]
    if list_against(compiled, job) or list_complained(compiled).isdisjoint(cured):
        return NEVER
    signs = {name for name in record.made_for if name in compiled.expansion.finding_records}
    if signs and signs.isdisjoint(compiled.telling) and not (list_meant(compiled, job) and is_meant(compiled, job)):
        return UNSEEN
    causes = compiled.expansion.causes
    return 1 - KNOWN if cured and all(causes[cause].area == NORMAL for cause in cured) else 0.0


def closing_first(compiled: CompiledCase, check_id: str, shop: Shop | None = None) -> tuple[float, float]:
    """Give the money and the minutes that closing and filling cost before a check that needs the vehicle running."""
    shop, case, check = shop or compiled.knowledge.shop, compiled.case, compiled.expansion.checks[check_id]
    if shop is None or not check.running:
        return 0.0, 0.0
    sheet = compiled.knowledge.sheet_of(case.unit, case.folder)
    tree = build_access(compiled.knowledge, sheet, shop, [case.access, check.access])
    closed = tree.path_mask(case.access) & ~tree.path_mask(check.access)
    return float(tree.close_costs[closed]), float(tree.close_minutes[closed])


def build_access(knowledge: Knowledge, sheet: UnitSheet, shop: Shop, used: Sequence[str]) -> AccessTree:
    """Price the levels of disassembly in this shop, for this unit, as far as anything uses them.

    Fluid lost and gaskets stand with the level; they are counted at closing.
    """
    nodes = []
    for name in dict.fromkeys(name for level in used for name in reversed(knowledge.access_path(level))):
        opening, closing = knowledge.access_minutes(sheet, name)
        consumed = price_needs(knowledge, knowledge.access[name].consumables).typical
        nodes.append(
            AccessNode(
                id=name,
                parent=knowledge.access[name].parent,
                open_cost=price_labour(shop, opening),
                close_cost=price_labour(shop, closing) + consumed,
                open_minutes=opening,
                close_minutes=closing,
            )
        )
    return AccessTree(tuple(nodes))


def price_acts(
    compiled: CompiledCase,
    shop: Shop,
    weighing: Weighing,
    checks: Mapping[str, Check],
    jobs: Mapping[str, Job],
) -> tuple[Situation, dict[str, PriceSpan]]:
    """Price every act, the levels between them, and how a vehicle may end.

    Waiting and borrowed tools stand with a check: of several made in one go each counts its own, and a budget pays both.
    """
    knowledge, case = compiled.knowledge, compiled.case
    used = [case.access, *(check.access for check in checks.values()), *(job.access for job in jobs.values())]
    tree = build_access(knowledge, compiled.unit.sheet, shop, used)
    parts: dict[str, PriceSpan] = {}
    made_checks, made_jobs = [], []
    for key, check in checks.items():
        cost, minutes, parts[key] = price_check(knowledge, shop, check)
        cost += price_borrowing(shop, [check]) + price_waiting(shop, check)
        priced = PricedCheck(key, cost, minutes, check.access, check.running)
        made_checks.append(place_check(compiled, priced, check, jobs))
    cures, shared = weighing.cure(cures_of(compiled, list(jobs))), price_shared(knowledge, shop, jobs.values())
    templates = compiled.expansion.job_templates
    for row, (key, job) in enumerate(jobs.items()):
        cost, minutes, parts[key] = price_job(knowledge, shop, job)
        within = knowledge.jobs_within(job.id)
        priced_job = PricedJob(
            key,
            cost,
            minutes,
            access=job.access,
            cures=cures[row],
            alone=job.alone or job.kind == EXCHANGE,
            shares=tuple(name for name in (*job.follow_ups, *job.tools) if name in shared),
            spares=tuple(name for name in job.does if name not in job.follow_ups),
            kind=knowledge.kind_of_cure(job.id),
            contains=frozenset(other for other in jobs if templates[other] in within),
            least=least_cure(compiled, key),
            meant=list_meant(compiled, key),
            last=job.kind in WHOLE_UNIT,
        )
        made_jobs.append(priced_job)
    # A vehicle that leaves with its problem costs more than the dearest way out offered here.
    exchanges = [job for job in made_jobs if jobs[job.id].kind == EXCHANGE]
    ways_out = [
        job.cost + sum(shared[name].cost for name in job.shares) + float(tree.round_trip(tree.path_mask(job.access)))
        for job in exchanges
    ]
    dearest = max(ways_out) * UNCURED_OVER_EXCHANGE if ways_out else UNCURED_WITHOUT_EXCHANGE
    situation = Situation(
        weighing.hypotheses,
        tree,
        tuple(made_jobs),
        tuple(made_checks),
        tree.path_mask(case.access),
        test_cost=price_labour(shop, shop.road_test_minutes),
        test_minutes=shop.road_test_minutes,
        comeback_cost=COMEBACK_SHARE * (shop.comeback_cost + shop.owner_day_cost),
        uncured_cost=dearest + shop.comeback_cost,
        budget=case.budget,
        shared=tuple(shared.values()),
    )
    return situation, parts
