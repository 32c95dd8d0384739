"""The interview as text for the bench: a question with what can be typed, a step with what to mind, the help."""

from shiftlore.reports.wording import PROCEDURE_FIRST, WIDTH, Mark, leave_plain, wrap_lines
from shiftlore.sessions import HELP_LINES, Entry, Question

HINTS = {
    "which": "numbers that hold (such as 1 3), 0 none, ? not known",
    "confirm": "y all of it, n none of it, or the numbers that are wrong",
}
"""Kind of question -> what can be typed at it."""


def render_question(question: Question, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write a question: its text, why it is asked and what that costs, the choices, and what can be typed."""
    lines = ["", *(strong(line) for line in wrap_lines(question.text, width=width))]
    costs = f" Costs {question.cost}." if question.cost not in ("", "nothing") else ""
    if question.why:
        lines += wrap_lines(f"Why: {question.why}{costs}", "  ", width=width)
    if [choice.key for choice in question.choices] == ["yes", "no"]:
        return "\n".join([*lines, "  y / n / y? / n? / ? not known"])
    for number, choice in enumerate(question.choices, 1):
        lines += wrap_lines(choice.label, "      ", f"  {number:>2}. ", width)
    hint = HINTS.get(question.kind, "? not known" if question.optional else "")
    return "\n".join([*lines, *([f"  {hint}"] if hint else [])])


def render_entry(entry: Entry, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write how a step is done, with its cautions in full."""
    lines = ["", *(strong(line) for line in wrap_lines(entry.label, width=width))]
    for text in (entry.how, *(f"Mind: {caution}" for caution in entry.cautions), PROCEDURE_FIRST):
        lines += wrap_lines(text, "  ", width=width)
    return "\n".join(lines)


def render_help(width: int = WIDTH) -> str:
    """Write what can be typed at any question."""
    return "\n".join(line for text in HELP_LINES for line in wrap_lines(text, "    ", "  - ", width))
