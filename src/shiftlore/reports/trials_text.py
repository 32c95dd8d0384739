"""What `validate` found, as text and as JSON."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from shiftlore.basics import Problem
from shiftlore.ranking import Review
from shiftlore.reports.wording import WIDTH, say_money, say_percent, say_price_basis, wrap_lines
from shiftlore.simulating import PolicyResult, Simulation, Visit


def render_report(review: Review | None, problems: Sequence[Problem]) -> str:
    """Write the counts, the textbook result, and a last line that says whether it is clean."""
    lines: list[str] = []
    if review is not None:
        lines += ["Written: " + ", ".join(f"{n} {name.replace('_written', '')}" for name, n in review.counts.items())]
        lines += ["Expanded per unit:"]
        for unit, size in review.units.items():
            sizes = ", ".join(f"{n} {name.replace('_', ' ')}" for name, n in size.items())
            lines.append(f"  {unit:<10} {sizes}")
        lines += _render_textbook(review)
        for group in review.alike:
            lines += wrap_lines("No finding tells these apart: " + ", ".join(group) + ".", indent="  ", first="")
    errors = sum(problem.severity == "error" for problem in problems)
    warnings = len(problems) - errors
    lines.append("Clean." if not problems else f"{errors} errors, {warnings} warnings.")
    return "\n".join(lines)


def _render_textbook(review: Review) -> list[str]:
    tried = review.textbook
    cases = max(tried["cases"], 1)
    lines = [
        f"Textbook cases: {tried['cases']}; first {tried['first']} ({100 * tried['first'] / cases:.0f} %), "
        f"in the top three {tried['top_three']} ({100 * tried['top_three'] / cases:.0f} %)"
    ]
    for result in review.results:
        if result.place != 1:
            where = f"place {result.place}" if result.place else "cannot be ranked"
            lines.append(f"  {result.id}: {where} ({result.probability * 100:.0f} %); first is {result.first}")
    return lines


def report_as_json(review: Review | None, problems: Sequence[Problem]) -> str:
    """Write the report with the fields of the contract."""
    places, rest = ("file", "line", "column"), ("code", "severity", "what", "write_instead")
    listed = [
        {key: getattr(it.mark, key) for key in places} | {key: getattr(it, key) for key in rest} for it in problems
    ]
    top: dict[str, Any] = {"shiftlore": 1, "problems": listed}
    if review is not None:
        top |= {key: asdict(review)[key] for key in ("counts", "units", "textbook", "results", "alike")}
    return json.dumps(top, ensure_ascii=False, indent=2)


NAMES = {
    "planner": "this planner",
    "best_value": "competent: best value",
    "careful": "competent: checks, value",
    "likeliest_cheapest": "competent: likeliest",
    "cheapest_check": "cheapest check first",
    "likeliest_cause": "likeliest cause first",
    "fixed_order": "fixed order of checks",
    "overhaul": "overhaul at once",
}
NOTE = (
    "Vehicles are drawn from this knowledge itself, so the table compares ways of working; it does not prove that the "
    "knowledge is right. Totals hold labour, parts, access, comebacks and what an uncured vehicle costs. The competent "
    "ways know this ranking and the prices and begin with scan, road test and a look at the fluid: then the job of best "
    "chance over cost; the same, with the most telling check per cost before a job that is less than 70 % sure; the "
    "cheapest job for the likeliest cause. The other four are habits that know no prices. The last column is how much "
    "more was paid than in the first row on the same vehicles, with its 95 % interval."
)


def render_simulation(simulation: Simulation, width: int = WIDTH) -> str:
    """Write the results as a table of at most 80 columns, with what was drawn above it."""
    lines = wrap_lines(
        f"{simulation.vehicles} vehicles of {simulation.unit}, seed {simulation.seed}, "
        f"{simulation.seconds:.0f} s. Money in {simulation.currency}. "
        + say_price_basis(simulation.invented, simulation.tax_percent),
        width=width,
    )
    lines += [
        "",
        f"{'way of working':<25}{'mean':>7}{'+- 95 %':>9}{'cured':>7}{'checks':>8}{'more than the first':>24}",
    ]
    lines += [_render_row(policy) for policy in simulation.policies]
    lines += ["", *wrap_lines(NOTE, width=width)]
    for number, visit in enumerate(simulation.visits, 1):
        lines += ["", *render_visit(number, visit, simulation.currency, width)]
    return "\n".join(lines)


def render_visit(number: int, visit: Visit, currency: str, width: int = WIDTH) -> list[str]:
    """Tell one whole visit, an act a paragraph: what was done, what it cost, what it showed."""
    lines = wrap_lines("; ".join(visit.complaints) + ".", "   ", f"Vehicle {number}. The owner says: ", width)
    for place, act in enumerate(visit.acts, 1):
        if act.kind == "check":
            showed = f"shows: {'; '.join(act.showed)}" if act.showed else "nothing that speaks"
        else:
            showed = "it drives right" if act.cured else "in vain"
        says = f"{' + '.join(act.labels)}, {say_money(act.cost, currency)}: {showed}."
        lines += wrap_lines(says, " " * 6, f"{place:>4}. ", width)
    end = "Cured" if visit.cured else "Not cured"
    was = f"{end} for {say_money(visit.total, currency)}. It was: {'; '.join(visit.causes)}."
    return [*lines, *wrap_lines(was, "   ", "   ", width)]


def _render_row(policy: PolicyResult) -> str:
    name = NAMES.get(policy.policy, policy.policy.replace("_", " "))[:24]
    half = policy.mean_total - policy.low
    cured = say_percent(policy.share_cured)
    cured = "100 %" if policy.share_cured == 1.0 else cured.replace("over ", ">").replace("under ", "<")
    about = policy.dearer_high - policy.dearer
    more = f"{policy.dearer:+,.0f} +- {about:,.0f}" if about > 0.0 else ""
    return f"{name:<25}{policy.mean_total:>7,.0f}{half:>9,.0f}{cured:>7}{policy.mean_checks:>8.1f}{more:>24}"
