"""What `validate`, `simulate` and `learn` found, as text and as JSON; the overlay as a file to review."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from shiftlore.basics import Problem
from shiftlore.compiling import Learned, Overlay
from shiftlore.knowledge import Knowledge
from shiftlore.ranking import Review
from shiftlore.repairs import Miss, Scores
from shiftlore.reports.wording import WIDTH, Mark, leave_plain, say_money, say_percent, say_price_basis, wrap_lines
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


SHOWN = 12
_TABLE_HEAD = f"{'':<32}{'repairs':>8}{'first':>8}{'in 3':>8}{'in 5':>8}"
_NO_SAMPLE = "Bulletins and recalls stand for many vehicles of one family: they are no sample of what comes in."
HEAD = """\
# Numbers that cases have taught, laid over the rules. `there` of `of`: how often it was so, as far as the cases can tell,
# in parts of vehicles. Strike out any line that you do not believe; the rules themselves are not changed.
shiftlore: 1
"""


def render_overlay(overlay: Overlay) -> str:
    """Write an overlay as it is kept."""
    lines = [HEAD + "cases: {" + ", ".join(f"{name}: {count}" for name, count in overlay.cases.items()) + "}"]
    lines += [f"unexplained: {_entry(overlay.unexplained)}", "# Per thousand complaints.", "base_rates:"]
    lines += [f"  {cause}: {_entry(one)}" for cause, one in sorted(overlay.base_rates.items())]
    lines.append("strengths:")
    for parent in sorted({parent for parent, _ in overlay.strengths}):
        lines.append(f"  {parent}:")
        own = {child: one for (first, child), one in overlay.strengths.items() if first == parent}
        lines += [f"    {child}: {_entry(one)}" for child, one in sorted(own.items())]
    return "\n".join(lines) + "\n"


def _entry(one: Learned) -> str:
    return f"{{rules: {one.rules:.4g}, learned: {one.learned:.4g}, there: {one.there:.2f}, of: {one.of:.2f}}}"


def render_learned(
    knowledge: Knowledge, overlay: Overlay, n_refused: int, width: int = WIDTH, strong: Mark = leave_plain
) -> str:
    """Say what was learned: from how many cases, and the numbers that changed most."""
    total = sum(overlay.cases.values())
    kinds = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in overlay.cases.items())
    lines = wrap_lines(f"Learned from {total} {'case' if total == 1 else 'cases'}: {kinds}.", width=width)
    if n_refused:
        lines += wrap_lines(
            f"{n_refused} could not be used: no cause that may have been there gives these answers.", width=width
        )
    lines += ["", strong("How common, per 1,000 complaints, most changed first")]
    for cause, one in _most_changed(overlay.base_rates):
        told = f"{one.rules:6.1f} -> {one.learned:6.1f}   there in {one.there:.1f}, expected {one.of:.1f}"
        lines += wrap_lines(f"{told}   {_label(knowledge.causes[cause].label)}", " " * 47, "  ", width)
    labels = {one.id: one.label for one in (*knowledge.parents, *knowledge.children)}
    lines += ["", strong("How often one thing shows in another, most changed first")]
    for (parent, child), one in _most_changed(overlay.strengths):
        told = f"{100 * one.rules:4.0f} % -> {100 * one.learned:4.0f} %   {one.there:.1f} of {one.of:.1f}"
        lines += wrap_lines(f"{told:<34}{_label(labels[parent])}: {_label(labels[child])}", " " * 36, "  ", width)
    scale = overlay.unexplained.learned
    told = f"Signs without any known cause: {scale:.2f} times as common as the rules say."
    return "\n".join([*lines, "", *wrap_lines(told, width=width)])


def _most_changed(table: Mapping) -> list[tuple]:
    return sorted(table.items(), key=lambda item: (-abs(math.log(item[1].learned / item[1].rules)), item[0]))[:SHOWN]


def _label(label: str) -> str:
    return label.replace("{name}", "…")


def render_scores(scores: Scores, misses: int = 0) -> str:
    """Write shares per kind of record and area, loss, calibration, and the worst misses, in at most 80 columns.

    Args:
        misses: how many of them to show; 0 shows all.
    """
    lines = [_TABLE_HEAD]
    for name, group in scores.groups.items():
        lines.append(f"{name:<32}{group.count:>8}" + "".join(f"{share:>8.0%}" for share in group.within))
    lines += ["", *wrap_lines(f"Log loss {scores.log_loss:.3f}. {_NO_SAMPLE}")]
    lines += ["", "Areas given a chance of, and right in:"]
    for band in scores.bands:
        lines.append(
            f"  {band.low:>4.0%} to {band.high:>4.0%} {band.count:>8} areas, mean {band.mean:>4.0%}, right {band.right:>4.0%}"
        )
    shown = scores.misses[:misses] if misses else scores.misses
    lines += ["", f"Missed, worst first ({len(shown)} of {len(scores.misses)}):"] if scores.misses else []
    for miss in shown:
        lines += wrap_lines(_tell_miss(miss), indent="    ", first="  ")
    for name, why in scores.refused:
        lines += wrap_lines(f"{name} could not be ranked: {why.splitlines()[0]}", indent="    ", first="  ")
    return "\n".join(lines)


def _tell_miss(miss: Miss) -> str:
    said = f"{miss.id}: {miss.area} is at place {miss.place}, {miss.first} ({miss.first_cause}) comes first."
    if not miss.cause:
        return f"{said} No cause of that area exists on this unit."
    if miss.decibans >= 0:
        return f"{said} No answer speaks against {miss.cause}: it was rarer beforehand."
    return f'{said} Most against {miss.cause}: "{miss.label}", {miss.decibans:.0f} decibans.'
