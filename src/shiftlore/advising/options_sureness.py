"""A second opinion on ourselves: how firm the advice is, what would change it, and what could not be looked at."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.advising.options_outlook import CheckFirst, OwnersView
from shiftlore.advising.options_records import NOTHING, Option
from shiftlore.advising.pricing import OptionCost
from shiftlore.advising.reasons import explain_check, say_share
from shiftlore.planning import start_bench

MOST_NOT_CHECKED = 5
"""Things named that could not be looked at; more is not read."""

P_NOT_WORTH_SAYING = 0.02
"""A check that changes the advice less often than this is not named as the one that would: judgement."""

FIRM, FAIR = 0.8, 0.5
"""Shares of draws from which the advice is called firm, or fairly firm: judgement."""


@dataclass(frozen=True, slots=True)
class ChangingCheck:
    """The single check that changes the advice most often, how often, and its price."""

    id: str
    label: str
    ways: tuple[str, ...]
    p_changes: float
    cost: OptionCost


@dataclass(frozen=True, slots=True)
class NotChecked:
    """Something that could not be looked at: `no_tool` with the tools that are missing, `not_known`, `no_weight`."""

    id: str
    label: str
    why: str
    tools: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Sureness:
    """How sure we are of ourselves.

    Args:
        p_same_area: share of draws of the rules' numbers in which the same area leads.
        p_same_advice: share of draws in which the advised option stays the one with the lowest total.
        word: ``firm``, ``fair`` or ``open``.
        would_change: the check that would change the advice, or None.
    """

    p_same_area: float
    p_same_advice: float
    word: str
    would_change: ChangingCheck | None
    not_checked: tuple[NotChecked, ...]
    says: str


def judge_sureness(view: OwnersView, same_advice: float) -> Sureness:
    """Judge how firm the ranking and the advice are.

    Args:
        same_advice: share of draws in which the advised option stays the one with the lowest total.
    """
    same_area = _share_same_area(view)
    word = "firm" if same_advice >= FIRM else "fair" if same_advice >= FAIR else "open"
    change, missing = _find_changing_check(view), _list_not_checked(view)
    says = (
        "Our numbers are estimates. When we vary them, the likeliest place stays the same in "
        f"{same_area * 100:.0f} % of the trials and our advice in {same_advice * 100:.0f} %."
    )
    if change is not None:
        says += (
            f" The check that could change it is {change.label}: in {say_share(change.p_changes)} such vehicles it leads to "
            "another repair first."
        )
    return Sureness(
        p_same_area=same_area, p_same_advice=same_advice, word=word, would_change=change, not_checked=missing, says=says
    )


def share_same_advice(view: OwnersView, options: Mapping[str, Option], advised: str, check: CheckFirst) -> float:
    """Give the share of draws of the rules' numbers in which the advised option stays cheapest in the end.

    What follows a failure is priced as it is now; only the chance of failing moves with the draw.
    """
    totals = {}
    for key, option in options.items():
        if option.kind == NOTHING or option.p_cured <= 0.0:
            totals[key] = np.full(len(view.cures.drawn_states), option.expected_total)
            continue
        p_drawn = check.drawn if option.kind == "check" else view.cures.draw_cured(option.jobs)
        after = (option.expected_total - option.cost.typical) / max(1.0 - option.p_cured, 1e-9)
        totals[key] = option.cost.typical + (1.0 - p_drawn) * after
    return float(np.mean(totals[advised] <= np.min(list(totals.values()), axis=0)))


def _share_same_area(view: OwnersView) -> float:
    """Share of draws in which the leading area stays the leading one."""
    now = view.weigh_areas(view.cures.p_states)
    if not now:
        return 1.0
    leading = max(now, key=lambda area: now[area])
    drawn = [view.weigh_areas(row) for row in view.cures.drawn_states]
    return float(np.mean([max(row, key=lambda area: row[area]) == leading for row in drawn]))


def _find_changing_check(view: OwnersView) -> ChangingCheck | None:
    """Find the check that leads to another first job than no check at all: the one advised, else what saves most."""
    bench, oracle = start_bench(view.situation), view.prepared.oracle
    outlook = view.choice.outlook
    advised = [check for step in view.choice.steps if step.kind != "job" for check in step.ids]
    totals = outlook.price_checks(view.belief[None], bench)[0] if bench.checks else np.zeros(0)
    enough = outlook.leave_enough(view.belief, bench) if bench.checks else ()
    ranked = [int(position) for position in np.argsort(totals, kind="stable") if enough[int(position)]]
    others = [view.situation.checks[position].id for position in ranked]
    for check in dict.fromkeys([*advised, *others]):
        p = min(1.0, explain_check(view.choice, view.belief, check, oracle.outcomes(check)).p_changes)
        if p > P_NOT_WORTH_SAYING:
            label, cost = view.prepared.checks[check].label, view.pricer.price_checks((check,))
            return ChangingCheck(check, label, view.ways_of((check,)), p, cost)
    return None


def _list_not_checked(view: OwnersView) -> tuple[NotChecked, ...]:
    """List what could not be looked at: answers nobody knows, codes without weight, tools that are missing."""
    compiled, expansion = view.compiled, view.compiled.expansion
    found = [
        NotChecked(key, expansion.findings[key].label, "not_known")
        for key in compiled.case.unanswered
        if key in expansion.findings
    ]
    found += [NotChecked(key, key, "no_weight") for key in compiled.unused]
    for key, record in expansion.checks.items():
        missing = tuple(tool for tool in record.tools if not view.pricer.shop.has([tool]))
        is_open = any(finding not in compiled.told for finding in expansion.reveals[key])
        if missing and is_open and key not in compiled.case.done_ids:
            found.append(NotChecked(key, record.label, "no_tool", missing))
    return tuple(found[:MOST_NOT_CHECKED])
