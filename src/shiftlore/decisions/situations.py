"""From a compiled case to a situation that can be planned: shop, prices, access, tools, what is done, beliefs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.basics import UsageProblem
from shiftlore.compiling import CompiledCase
from shiftlore.decisions.access import AccessNode, AccessTree
from shiftlore.decisions.acts import Check, Job, Situation
from shiftlore.decisions.beliefs import Hypotheses
from shiftlore.decisions.oracles import TableOracle
from shiftlore.decisions.persistence import carry_over
from shiftlore.decisions.pricing import PriceSpan, price_job, price_labour, price_needs
from shiftlore.decisions.readings import FindingTable, tabulate_check, tabulate_finding
from shiftlore.decisions.weighing import Weighing, weigh_causes
from shiftlore.knowledge import Check as CheckRecord
from shiftlore.knowledge import Job as JobRecord
from shiftlore.knowledge import Knowledge, Shop

COMEBACK_SHARE = 0.5
"""Share of failed repairs that the road test does not show at once, so that the owner has to come back: judgement."""

UNCURED_OVER_EXCHANGE = 1.25
"""What an uncured vehicle costs, in exchanges of the unit: somebody else will do at least that, judgement."""

UNCURED_WITHOUT_EXCHANGE = 4000.0
"""What an uncured vehicle costs where no exchange is offered, in the shop's currency: judgement."""

ROAD = "road"
GIVES_UP = "exchange"


@dataclass(frozen=True, slots=True, eq=False)
class CaseSituation:
    """A case as the planner sees it, with the way back to the records.

    Args:
        situation, oracle: what is planned with; the oracle takes checks as independent given what is at work.
        weighing: how causes became hypotheses.
        checks, jobs: records by the ids in the situation.
        parts: span of parts and consumables, by check or job id.
        reveals: open findings of each check.
    """

    compiled: CompiledCase
    situation: Situation
    oracle: TableOracle
    weighing: Weighing
    checks: Mapping[str, CheckRecord]
    jobs: Mapping[str, JobRecord]
    parts: Mapping[str, PriceSpan]
    reveals: Mapping[str, tuple[str, ...]]


def prepare_situation(compiled: CompiledCase, shop: Shop | None = None, thorough: bool = True) -> CaseSituation:
    """Build all that is needed to plan a case.

    Args:
        shop: another shop than the knowledge's own (dearer labour, fewer tools).
        thorough: ask the engine about every open finding of an offered check; else plan jobs only.
    Raises: UsageProblem: the knowledge has no shop. ImpossibleEvidence: the answers contradict each other.
    """
    shop = shop or compiled.knowledge.shop
    if shop is None:
        raise UsageProblem("There is no shop in the knowledge: labour and tools are not known.")
    reveals = _open_reveals(compiled, shop) if thorough else {}
    weighing, findings = _ask_engine(compiled, sorted({finding for group in reveals.values() for finding in group}))
    outcomes = {key: tabulate_check([findings[finding] for finding in group]) for key, group in reveals.items()}
    tables = {key: table for key, table in outcomes.items() if table is not None}
    expansion = compiled.expansion
    checks = {key: expansion.checks[key] for key in tables}
    jobs = _offered_jobs(compiled, shop)
    situation, parts = _price_all(compiled, shop, weighing, checks, jobs, reveals)
    belief = _after_done_jobs(compiled, weighing)
    oracle = TableOracle(weighing.hypotheses, belief, tables)
    return CaseSituation(compiled, situation, oracle, weighing, checks, jobs, parts, reveals)


def build_access(compiled: CompiledCase, shop: Shop, used: Sequence[str]) -> AccessTree:
    """Price the levels of disassembly in this shop, for this unit, as far as anything uses them.

    Fluid lost and gaskets stand with the level; they are counted at closing.
    """
    knowledge = compiled.knowledge
    sheet = knowledge.sheets[compiled.case.unit]
    wanted: dict[str, None] = {}
    for level in used:
        for name in reversed(_path_to(knowledge, level)):
            wanted.setdefault(name)
    nodes = []
    for name in wanted:
        record, special = knowledge.access[name], getattr(sheet, "access", {}).get(name)
        opening, closing = record.open_minutes, record.close_minutes
        if special is not None:
            opening = opening if special.open_minutes is None else special.open_minutes
            closing = closing if special.close_minutes is None else special.close_minutes
        consumed = price_needs(knowledge, record.consumables).typical
        nodes.append(AccessNode(
            name, record.parent, price_labour(shop, opening), price_labour(shop, closing) + consumed, opening, closing
        ))
    return AccessTree(tuple(nodes))


def _path_to(knowledge: Knowledge, level: str) -> list[str]:
    """The level and its parents, innermost first."""
    path: list[str] = []
    name: str | None = level
    while name is not None:
        path.append(name)
        name = knowledge.access[name].parent
    return path


def _open_reveals(compiled: CompiledCase, shop: Shop) -> dict[str, tuple[str, ...]]:
    """Checks that the shop can make and that were not made, with the findings that they would answer."""
    found = {}
    for key, record in compiled.expansion.checks.items():
        if key not in compiled.case.done and set(record.tools) <= set(shop.tools):
            group = tuple(item for item in compiled.expansion.reveals[key] if item not in compiled.evidence)
            if group:
                found[key] = group
    return found


def _offered_jobs(compiled: CompiledCase, shop: Shop) -> dict[str, JobRecord]:
    """Jobs that the shop can do and that were not done."""
    templates, done = compiled.expansion.job_templates, set(compiled.case.done)
    return {
        key: record for key, record in compiled.expansion.jobs.items()
        if key not in done and templates[key] not in done and set(record.tools) <= set(shop.tools)
    }


def _ask_engine(compiled: CompiledCase, findings: Sequence[str]) -> tuple[Weighing, dict[str, FindingTable]]:
    """Beliefs now, and what every grade of every finding would say, from one look ahead of the exact engine."""
    causes, engine, evidence = compiled.causes, compiled.engine, compiled.evidence
    p_none = 1.0 - float(engine.p_free(evidence, np.ones((1, len(causes))), causes)[0])
    turn = engine.turn(evidence, findings, causes)
    now = turn.posterior.p_present
    weighing = weigh_causes(causes, now, min(max(p_none, 0.0), 1.0))
    tables = {}
    for finding in findings:
        node, seen = compiled.expansion.findings[finding], turn.outcomes[finding]
        given = np.where(now > 0, seen.p_outcome[:, None] * seen.p_present / np.where(now > 0, now, 1.0), 0.0)
        per_cause = weighing.average(given, np.array(node.leak))
        table = _per_hypothesis(weighing.hypotheses, per_cause, seen.p_outcome)
        tables[finding] = tabulate_finding(finding, node.grades, table, weighing.belief)
    return weighing, tables


def _per_hypothesis(hypotheses: Hypotheses, per_cause: np.ndarray, p_now: np.ndarray) -> np.ndarray:
    """Likelihoods per hypothesis; in a pair both causes weigh, each against what is expected now."""
    padded = np.concatenate([per_cause, p_now[:, None]], axis=1)
    table = padded[:, hypotheses.padded[:, 0]]
    for column in range(1, hypotheses.padded.shape[1]):
        table = table * padded[:, hypotheses.padded[:, column]] / np.where(p_now > 0, p_now, 1.0)[:, None]
    return table


def _price_all(
    compiled: CompiledCase,
    shop: Shop,
    weighing: Weighing,
    checks: Mapping[str, CheckRecord],
    jobs: Mapping[str, JobRecord],
    reveals: Mapping[str, tuple[str, ...]],
) -> tuple[Situation, dict[str, PriceSpan]]:
    """Price every act, the levels between them, and how a vehicle may end."""
    knowledge, case = compiled.knowledge, compiled.case
    used = [case.access, *(record.access for record in (*checks.values(), *jobs.values()))]
    tree = build_access(compiled, shop, used)
    parts: dict[str, PriceSpan] = {}
    made_checks, made_jobs = [], []
    for key, record in checks.items():
        parts[key] = price_needs(knowledge, record.consumables)
        cost = price_labour(shop, record.minutes) + parts[key].typical
        is_drive = record.access == _root(tree) and _is_road_test(compiled, reveals[key])
        made_checks.append(Check(key, cost, record.minutes, record.access, is_drive))
    for key, job in jobs.items():
        cost, minutes, parts[key] = price_job(knowledge, shop, job)
        cures = weighing.average(_cures_of(compiled, key))
        made_jobs.append(Job(key, cost, minutes, job.access, cures, job.kind == GIVES_UP))
    situation = Situation(
        weighing.hypotheses, tree, tuple(made_jobs), tuple(made_checks), tree.path_mask(case.access),
        test_cost=price_labour(shop, shop.road_test_minutes), test_minutes=shop.road_test_minutes,
        comeback_cost=COMEBACK_SHARE * shop.comeback_cost,
        uncured_cost=_price_uncured(shop, tree, made_jobs), budget=case.budget,
    )
    return situation, parts


def _root(tree: AccessTree) -> str:
    return tree.nodes[0].id


def _is_road_test(compiled: CompiledCase, findings: Sequence[str]) -> bool:
    return any(compiled.expansion.finding_records[finding].got_by == ROAD for finding in findings)


def _price_uncured(shop: Shop, tree: AccessTree, jobs: Sequence[Job]) -> float:
    """Cost of a vehicle that leaves with its problem: more than the dearest way out offered here."""
    ways_out = [
        job.cost + float(tree.open_costs[tree.path_mask(job.access)] + tree.close_costs[tree.path_mask(job.access)])
        for job in jobs if job.gives_up
    ]
    dearest = max(ways_out) * UNCURED_OVER_EXCHANGE if ways_out else UNCURED_WITHOUT_EXCHANGE
    return dearest + shop.comeback_cost


def _cures_of(compiled: CompiledCase, job: str) -> np.ndarray:
    """p that a job puts right each cause, shape (n_causes,)."""
    strengths = compiled.expansion.cures[job]
    return np.array([strengths[cause].p if cause in strengths else 0.0 for cause in compiled.causes])


def _after_done_jobs(compiled: CompiledCase, weighing: Weighing) -> np.ndarray:
    """Belief in the slice after the jobs that were done on this visit and did not end the problem."""
    templates = compiled.expansion.job_templates
    done = [key for key in compiled.expansion.jobs if {key, templates[key]} & set(compiled.case.done)]
    missed = np.ones(len(weighing.hypotheses.causes))
    for key in done:
        missed = missed * (1.0 - weighing.average(_cures_of(compiled, key)))
    if not done:
        return weighing.belief
    return carry_over(weighing.hypotheses, weighing.belief, missed, evidence=tuple(done))
