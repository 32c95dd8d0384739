"""The next steps as text for the bench: what to do, what it costs, what it would tell or cure, and when to stop."""

from collections.abc import Iterable, Sequence

from shiftlore.advising import CLOSED, RARE, NextStep, NextSteps, name_job, say_share
from shiftlore.compiling import CompiledCase
from shiftlore.knowledge import name_in_general
from shiftlore.reports.wording import (
    PROCEDURE_FIRST,
    WIDTH,
    Mark,
    leave_plain,
    say_minutes,
    say_money,
    say_percent,
    say_price_basis,
    wrap_lines,
)

SHOWN_STEPS = 5
SHOWN_FINDINGS = 4
SHOWN_CURES = 3
INDENT = " " * 4


def render_next(
    plan: NextSteps,
    compiled: CompiledCase,
    width: int = WIDTH,
    *,
    strong: Mark = leave_plain,
    count: int = SHOWN_STEPS,
    full: bool = True,
) -> str:
    """Write the next steps as text.

    Args:
        compiled: the case that the plan is for; its labels are used.
        strong: how headings are set off; leaves the text alone by default.
        count: at most so many steps.
        full: with the plan of jobs and the full text of every caution; else only the names of the cautions.
    """
    shown = plan.steps[:count]
    level = compiled.knowledge.access[compiled.case.access].label
    if plan.stop.reason == CLOSED:
        return "\n".join([strong("What to do next"), *wrap_lines(f"Stop. {plan.stop.why}", width=width)])
    lines = [strong("What to do next"), *wrap_lines(f"The vehicle now: {level.lower()}.", width=width)]
    for place, step in enumerate(shown, 1):
        lines += ["", *_render_step(place, step, plan.currency, compiled, width=width, strong=strong)]
    if not shown:
        lines += ["", *wrap_lines("Nothing that this shop can do is worth its cost here.", width=width)]
    lines += ["", strong("Check further, or stop?")]
    lines += wrap_lines(("Stop checking. " if plan.stop.advised else "Go on checking. ") + plan.stop.why, width=width)
    if full:
        lines += ["", strong("What it is expected to cost from here"), *_render_costs(plan, compiled, width)]
        lines += _render_cautions(shown, compiled, width, strong)
    if basis := say_price_basis(plan.invented, plan.tax_percent):
        lines += ["", *wrap_lines(basis, width=width)]
    return "\n".join(lines)


def list_cautions(steps: Iterable[NextStep]) -> list[str]:
    """List the cautions of some steps, each once, in order."""
    return list(dict.fromkeys(caution for step in steps for caution in step.cautions))


def _render_step(
    place: int, step: NextStep, currency: str, compiled: CompiledCase, *, width: int, strong: Mark
) -> list[str]:
    word = "Check" if step.kind == "check" else "Job"
    lines = [strong(line) for line in wrap_lines(f"{word}: {step.label}", INDENT, f"{place:>2}. ", width)]
    cost = f"costs {say_money(step.cost.total, currency)}, {say_minutes(step.cost.labour_minutes)}"
    if step.cost.parts_high - step.cost.parts_low >= 1.0:
        cost += f" (parts {step.cost.parts_low:,.0f} to {step.cost.parts_high:,.0f})"
    if step.cost.closing_first >= 1.0:
        cost += f", {say_money(step.cost.closing_first, currency)} of it for closing and filling first"
    if step.cost.borrowed >= 1.0:
        cost += f", {say_money(step.cost.borrowed, currency)} of it for a borrowed tool"
    if step.cost.waiting >= 1.0:
        cost += f", {say_money(step.cost.waiting, currency)} of it for the time that the vehicle waits"
    lines += wrap_lines(f"{cost}; then {say_money(step.expected_total_after, currency)} expected", INDENT, width=width)
    if step.access_needed != compiled.case.access:
        needed = compiled.knowledge.access[step.access_needed].label.lower()
        lines += wrap_lines(f"needs: {needed}", INDENT, width=width)
    told = _say_tells(step, compiled) if step.kind == "check" else _say_cures(step, compiled)
    lines += wrap_lines(told, INDENT + " " * 7, INDENT, width)
    if step.kind == "check":
        lines += wrap_lines(_say_sureness(step, compiled), INDENT + " " * 6, INDENT, width)
    lines += wrap_lines(f"why: {step.why}", INDENT + " " * 5, INDENT, width)
    if step.cautions:
        names = ", ".join(step.cautions).replace("_", " ")
        lines += [strong(line) for line in wrap_lines(f"mind: {names}", INDENT + " " * 6, INDENT, width)]
    return lines


def _say_tells(step: NextStep, compiled: CompiledCase) -> str:
    """Say what a check answers, findings of one template once."""
    labels = list(dict.fromkeys(name_finding(compiled, finding) for finding in step.reveals))
    more = len(labels) - SHOWN_FINDINGS
    text = "; ".join(labels[:SHOWN_FINDINGS]) + (f"; and {more} more" if more > 0 else "")
    changes = getattr(step.reason, "p_changes", 0.0)
    if changes < RARE:
        return f"tells: {text}. By itself it hardly ever changes what you repair first; it pays by what comes after it."
    return f"tells: {text}. In {say_share(changes)} such vehicles the result changes what you repair first."


def _say_sureness(step: NextStep, compiled: CompiledCase) -> str:
    """Say how far a check can be trusted, by the least sure of its parts."""
    records = [compiled.expansion.checks[check] for check in step.together]
    missed, false_alarm = (max(getattr(record, name) for record in records) for name in ("missed", "false_alarm"))
    return f"sure: misses a true sign in {say_percent(missed)}, shows a false one in {say_percent(false_alarm)}"


def _say_cures(step: NextStep, compiled: CompiledCase) -> str:
    """Say what a job puts right, and the chance that the vehicle is then cured."""
    causes = compiled.expansion.causes
    cured = [one for one in step.cures if one.cause in causes][:SHOWN_CURES]
    named = [f"{causes[one.cause].label} ({say_percent(one.probability)})" for one in cured]
    sure = f"cures the vehicle: {say_percent(step.p_cured)}"
    return f"{sure}. Puts right, if that is it: {'; '.join(named)}" if named else sure


def name_finding(compiled: CompiledCase, finding: str) -> str:
    """Name a finding; one of a template by what all of them have in common."""
    return name_in_general(compiled.expansion.finding_records[finding])


def _render_costs(plan: NextSteps, compiled: CompiledCase, width: int) -> list[str]:
    """Write the expected cost, its bounds, and the plan of jobs."""
    low, high = (say_money(bound, plan.currency) for bound in (plan.lower_bound, plan.upper_bound))
    now = say_money(plan.expected_total_now, plan.currency)
    best = f"The best plan from here costs {low} at the very least and {high} at most, on average."
    says = f"{now} on average if nothing more is checked. {best} This includes vehicles that we fail to cure."
    lines = wrap_lines(says, width=width)
    labels = [" + ".join(name_job(compiled, job) for job in batch) for batch in plan.plan.batches]
    if labels:
        cures = f"That cures {say_percent(plan.plan.p_cured)}."
        text = f"Jobs in order, if nothing more is checked: {', then '.join(labels)}. {cures}"
        lines += wrap_lines(text, width=width)
    return lines


def _render_cautions(steps: Sequence[NextStep], compiled: CompiledCase, width: int, strong: Mark) -> list[str]:
    cautions = list_cautions(steps)
    if not cautions:
        return ["", *wrap_lines(PROCEDURE_FIRST, width=width)]
    lines = ["", strong("Mind")]
    for caution in cautions:
        says = compiled.knowledge.cautions[caution].says
        lines += wrap_lines(f"{caution.replace('_', ' ')}: {says}", INDENT, "- ", width)
    return [*lines, *wrap_lines("The maker's procedure and the local rules come before all of this.", width=width)]
