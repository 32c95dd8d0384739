"""The interview as text for the bench: a question with what can be typed, where it stands, a step with what to mind."""

from collections.abc import Collection, Mapping, Sequence

from shiftlore.advising import NextSteps
from shiftlore.compiling import CompiledCase
from shiftlore.ranking import RankedCause, Ranking
from shiftlore.reports.case_text import name_alike
from shiftlore.reports.wording import (
    PROCEDURE_FIRST,
    READ_LOG,
    WIDTH,
    Mark,
    leave_plain,
    say_km,
    say_minutes,
    say_money,
    say_percent,
    wrap_banner,
    wrap_lines,
)
from shiftlore.sessions import RESULTS, SURE, Interview, Question, StepEntry

HINTS = {
    "which": "those that hold (such as {first} {last}), 0 none, ? not known; left out is no",
    "each": "the numbers that hold (such as {first} {last}), ? nothing known; what is left out stays open",
    "confirm": "y all of it, n none of it, or the numbers that are wrong",
}
"""Kind of question -> what can be typed at it."""
SHOWN_CAUSES, SHOWN_REASONS, SHOWN_STEPS = 3, 2, 3
SMALLEST_MOVE = 0.02
"""A probability that moved less is told as it was."""
P_NAMED_WORK = 0.5
"""Work less likely to cure than this is not called the best work to a person who stands before the vehicle (judgement)."""
WHAT_NEXT = "{numbers}: how it is done, and enter the result; m more questions; r all causes; h help; q stop"


def render_question(question: Question, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write a question: its text, why it is asked and what that costs, the choices, and what can be typed."""
    lines = ["", *(strong(line) for line in wrap_lines(question.text, width=width))]
    costs = f" Costs {question.cost}." if question.cost not in ("", "nothing") else ""
    if question.why:
        lines += wrap_lines(f"Why: {question.why}{costs}", "  ", width=width)
    if question.is_yes_no:
        return "\n".join([*lines, "  y / n / y? / n? / ? not known"])
    marks = question.marks
    wide = max(map(len, marks), default=0)
    for mark, choice in zip(marks, question.choices, strict=True):
        lines += wrap_lines(choice.label, " " * (wide + 4), f"  {mark:>{wide}}  ", width)
    hint = HINTS.get(question.kind, "? not known" if question.optional else "")
    hint = hint.format(first=marks[0], last=marks[-1]) if marks else hint
    return "\n".join([*lines, *(wrap_lines(hint, "  ", width=width) if hint else [])])


def render_standing(before: Mapping[str, float] | None, now: Mapping[str, float], labels: Mapping[str, str]) -> str:
    """Say in one sentence which causes lead and what has moved; "" where nothing moved by a point or two.

    Args:
        before, now: probability of each cause, before and after an answer, most probable first; labels: their names.
    """
    shown = list(now)[:SHOWN_CAUSES]
    moved = [cause for cause in shown if before is None or abs(now[cause] - before.get(cause, 0.0)) >= SMALLEST_MOVE]
    if not moved:
        return ""
    named = []
    for cause in shown:
        was = f" (was {before.get(cause, 0.0) * 100:.0f})" if before is not None and cause in moved else ""
        named.append(f"{labels[cause]} {say_percent(now[cause])}{was}")
    return f"Likeliest now: {'; '.join(named)}."


def render_bench(
    ranking: Ranking,
    plan: NextSteps,
    compiled: CompiledCase,
    *,
    shown_before: Mapping[str, float] | None = None,
    steps_before: Sequence[str] = (),
    alike_before: Collection[str] = (),
    width: int = WIDTH,
    strong: Mark = leave_plain,
) -> str:
    """Write where it stands and what to do next, as short as it can be; what was on the screen before only by name.

    Args:
        shown_before: probabilities of the causes when this was last shown, or None at first.
        steps_before: ids of the steps as they were last shown; alike_before: of the cases that were named as alike.
    """
    lines = ["", *wrap_banner(plan.stop.danger, width, strong), strong("Where it stands")]
    for cause in ranking.causes[:SHOWN_CAUSES]:
        lines += _render_cause(cause, shown_before, width, strong)
    if ranking.alike and ranking.alike[0].id not in alike_before:
        lines += wrap_lines(name_alike(ranking.alike[0]), " " * 8, "  ", width)
    level = compiled.knowledge.access[compiled.case.access].label.lower()
    lines += ["", strong(f"What to do next ({level})")]
    for place, step in enumerate(plan.steps[:SHOWN_STEPS], 1):
        word = "Check" if step.kind == "check" else f"Job ({say_percent(step.p_cured)} sure to cure it)"
        price = f"{say_money(step.cost.total, plan.currency)}, {say_minutes(step.cost.labour_minutes)}"
        closing = step.cost.closing_first
        first = (
            f", closing and filling first counted in ({say_money(closing, plan.currency)})" if closing >= 1.0 else ""
        )
        budget = compiled.case.budget
        over = ", over the budget" if budget is not None and step.cost.total > budget else ""
        lines += wrap_lines(f"{word}: {step.label}: {price}{first}{over}", "    ", f" {place}  ", width)
        if step.id not in steps_before:
            lines += wrap_lines(step.why, "    ", width=width)
    return "\n".join([*lines, *wrap_lines(_say_stop(plan), width=width)])


def render_what_next(steps: int, interview: Interview, width: int = WIDTH) -> str:
    """Write what can be typed under the steps.

    Args:
        steps: how many are numbered.
    """
    text = WHAT_NEXT.format(numbers=f"1 to {steps}, or a name (pan)" if steps else "A name (pan)")
    if interview.compiled.jobs_done:
        text += "; gone, still there, came back after 2 weeks: what came of the last job"
    text += "; Enter: back to the question" if interview.question is not None else ""
    return "\n".join(wrap_lines(text, width=width))


def _render_cause(cause: RankedCause, before: Mapping[str, float] | None, width: int, strong: Mark) -> list[str]:
    was = (before or {}).get(cause.id)
    moved = f", was {was * 100:.0f}" if was is not None and abs(was - cause.probability) >= SMALLEST_MOVE else ""
    spread = f"({cause.low * 100:.0f} to {cause.high * 100:.0f}{moved})"
    title = wrap_lines(f"{say_percent(cause.probability)} {spread}  {cause.label}", " " * 8, "  ", width)
    title[0] = title[0].replace(cause.label, strong(cause.label))
    told = {"for": cause.speaks_for[:SHOWN_REASONS], "against": cause.speaks_against[:1]}
    reasons = [f"{word}: {', '.join(reason.label for reason in some)}" for word, some in told.items() if some]
    is_news = before is None or moved or was is None
    return [*title, *(wrap_lines("; ".join(reasons), " " * 8, width=width) if reasons and is_news else [])]


def _say_stop(plan: NextSteps) -> str:
    """Say whether to check further or to repair; work that hardly helps is not called the best."""
    if plan.stop.jobs and plan.stop.p_cured < P_NAMED_WORK:
        no_work = (
            f"No repair is likely enough yet to be called for (the best would cure {say_percent(plan.stop.p_cured)})."
        )
        check = next((step for step in plan.steps if step.kind == "check"), None)
        return f"{no_work} " + (
            f"More would tell: {check.label}; or m for more questions." if check else "Try m for more."
        )
    return ("Stop checking. " if plan.stop.advised else "Go on checking. ") + plan.stop.why


def render_entry(entry: StepEntry, currency: str, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write how a step is done, with what must be closed first and its cautions in full, and what is waited for."""
    lines = ["", *(strong(line) for line in wrap_lines(entry.label, width=width))]
    money, minutes = entry.closing
    closing = (
        f"First close the vehicle and fill it: {say_minutes(minutes)}, {say_money(money, currency)}." if money else ""
    )
    trace = f"Recorded? Stop here with q, then: {READ_LOG}" if entry.recorded else ""
    texts = (closing, entry.how, trace, *(f"Mind: {caution}" for caution in entry.cautions), PROCEDURE_FIRST)
    for text in filter(None, texts):
        lines += wrap_lines(text, "  ", width=width)
    if entry.against:
        lines += ["", *wrap_lines(f"It does not go with what is known: {entry.against}. {SURE}", width=width)]
    elif not entry.check:
        lines += ["", "What came of it?", *(f"  {place}  {text}" for place, text in enumerate(RESULTS, 1))]
    return "\n".join(lines)


def render_recap(lines: Sequence[str], odometer_km: float | None, unit: str, width: int = WIDTH) -> str:
    """Write what is known of a case when it is taken up again: the vehicle, then a line for each kind of thing."""
    head = f"{unit}, {say_km(odometer_km)}." if odometer_km is not None else f"{unit}, distance not known."
    texts = (" ".join((head, *lines[:1])), *lines[1:])
    return "\n".join(part for line in texts for part in wrap_lines(line, "    ", "  ", width))
