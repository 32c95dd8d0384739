"""From a compiled case to a situation that can be planned: shop, prices, access, tools, what is done, beliefs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.advising.engine_oracle import EngineOracle
from shiftlore.advising.pricing import PriceSpan, price_job, price_labour, price_needs
from shiftlore.basics import UsageProblem
from shiftlore.compiling import CompiledCase
from shiftlore.knowledge import Check, Job, Knowledge, Shop
from shiftlore.planning import AccessNode, AccessTree, PricedCheck, PricedJob, Situation, Weighing, weigh_faults
from shiftlore.sheets import UnitSheet

COMEBACK_SHARE = 0.5
"""Share of failed repairs that the road test does not show at once, so that the owner has to come back: judgement."""

UNCURED_OVER_EXCHANGE = 2.0
"""What an uncured vehicle costs, in exchanges of the unit: what was paid is lost and somebody else starts over,
judgement."""

UNCURED_WITHOUT_EXCHANGE = 4000.0
"""What an uncured vehicle costs where no exchange is offered, in the shop's currency: judgement."""

ROAD = "road"
GIVES_UP = "exchange"


@dataclass(frozen=True, slots=True, eq=False)
class CaseSituation:
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


def prepare_situation(compiled: CompiledCase, shop: Shop | None = None) -> CaseSituation:
    """Build all that is needed to plan a case.

    Args:
        shop: another shop than the knowledge's own (dearer labour, fewer tools).
    Raises: UsageProblem: the knowledge has no shop. ImpossibleEvidence: the answers contradict each other.
    """
    shop = shop or compiled.knowledge.shop
    if shop is None:
        raise UsageProblem("There is no shop in the knowledge: labour and tools are not known.")
    weighing = weigh_faults(compiled.causes, compiled.faults.members, compiled.p_faults)
    reveals = open_reveals(compiled, shop)
    missed = _missed_by_done_jobs(compiled, weighing)
    oracle = EngineOracle(compiled, weighing, reveals, compiled.evidence, missed)
    checks = {key: compiled.expansion.checks[key] for key in oracle.tables}
    jobs = offered_jobs(compiled, shop)
    situation, parts = price_acts(compiled, shop, weighing, checks, jobs)
    return CaseSituation(
        compiled=compiled, shop=shop, situation=situation, oracle=oracle, checks=checks, jobs=jobs, parts=parts
    )


def open_reveals(compiled: CompiledCase, shop: Shop) -> dict[str, tuple[str, ...]]:
    """Checks that the shop can make and that were not made, with the findings that they would answer."""
    found = {}
    for key, record in compiled.expansion.checks.items():
        if key not in compiled.case.done and set(record.tools) <= set(shop.tools):
            group = tuple(item for item in compiled.expansion.reveals[key] if item not in compiled.evidence)
            if group:
                found[key] = group
    return found


def offered_jobs(compiled: CompiledCase, shop: Shop) -> dict[str, Job]:
    """Jobs that the shop can do and that were not done."""
    return {
        key: record
        for key, record in compiled.expansion.jobs.items()
        if key not in compiled.jobs_done and set(record.tools) <= set(shop.tools)
    }


def build_access(knowledge: Knowledge, sheet: UnitSheet, shop: Shop, used: Sequence[str]) -> AccessTree:
    """Price the levels of disassembly in this shop, for this unit, as far as anything uses them.

    Fluid lost and gaskets stand with the level; they are counted at closing.
    """
    wanted: dict[str, None] = {}
    for level in used:
        for name in reversed(knowledge.access_path(level)):
            wanted.setdefault(name)
    nodes = []
    for name in wanted:
        record = knowledge.access[name]
        opening, closing = knowledge.access_minutes(sheet, name)
        consumed = price_needs(knowledge, record.consumables).typical
        nodes.append(
            AccessNode(
                id=name,
                parent=record.parent,
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
    """Price every act, the levels between them, and how a vehicle may end."""
    knowledge, case = compiled.knowledge, compiled.case
    sheet = knowledge.sheets[case.unit]
    used = [case.access, *(check.access for check in checks.values()), *(job.access for job in jobs.values())]
    tree = build_access(knowledge, sheet, shop, used)
    parts: dict[str, PriceSpan] = {}
    made_checks, made_jobs = [], []
    for key, check in checks.items():
        parts[key] = price_needs(knowledge, check.consumables)
        cost = price_labour(shop, check.minutes) + parts[key].typical
        is_drive = check.access == tree.nodes[0].id and _is_road_test(compiled, key)
        made_checks.append(PricedCheck(key, cost, check.minutes, check.access, is_drive))
    cures = weighing.cure(cures_of(compiled, list(jobs)))
    for row, (key, job) in enumerate(jobs.items()):
        cost, minutes, parts[key] = price_job(knowledge, shop, job)
        made_jobs.append(
            PricedJob(
                id=key, cost=cost, minutes=minutes, access=job.access, cures=cures[row], gives_up=job.kind == GIVES_UP
            )
        )
    situation = Situation(
        weighing.hypotheses,
        tree,
        tuple(made_jobs),
        tuple(made_checks),
        tree.path_mask(case.access),
        test_cost=price_labour(shop, shop.road_test_minutes),
        test_minutes=shop.road_test_minutes,
        comeback_cost=COMEBACK_SHARE * shop.comeback_cost,
        uncured_cost=_price_uncured(shop, tree, made_jobs),
        budget=case.budget,
    )
    return situation, parts


def cures_of(compiled: CompiledCase, jobs: Sequence[str]) -> np.ndarray:
    """p that each job puts right each cause, shape (n_jobs, n_causes)."""
    place = {cause: i for i, cause in enumerate(compiled.causes)}
    table = np.zeros((len(jobs), len(place)))
    for row, job in enumerate(jobs):
        for cause, strength in compiled.expansion.cures[job].items():
            table[row, place[cause]] = strength.p
    return table


def _is_road_test(compiled: CompiledCase, check: str) -> bool:
    records = compiled.expansion.finding_records
    return any(records[finding].got_by == ROAD for finding in compiled.expansion.reveals[check])


def _price_uncured(shop: Shop, tree: AccessTree, jobs: Sequence[PricedJob]) -> float:
    """Cost of a vehicle that leaves with its problem: more than the dearest way out offered here."""
    ways_out = [job.cost + float(tree.round_trip(tree.path_mask(job.access))) for job in jobs if job.gives_up]
    dearest = max(ways_out) * UNCURED_OVER_EXCHANGE if ways_out else UNCURED_WITHOUT_EXCHANGE
    return dearest + shop.comeback_cost


def _missed_by_done_jobs(compiled: CompiledCase, weighing: Weighing) -> np.ndarray:
    """p that each cause has survived the jobs of this visit, after which the problem persists."""
    return np.prod(1.0 - weighing.cure(cures_of(compiled, compiled.jobs_done)), axis=0)
