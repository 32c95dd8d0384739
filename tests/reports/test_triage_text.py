"""The interview as text: questions, steps, help."""

import pytest

from shiftlore.reports.triage_text import HINTS, render_entry, render_help, render_question
from shiftlore.reports.wording import PROCEDURE_FIRST
from shiftlore.sessions import HELP_LINES, Choice, Entry, Question

TWO = (Choice("a", "The first"), Choice("b", "The second"))
YES_NO = (Choice("yes", "yes"), Choice("no", "no"))


def star(text: str) -> str:
    """Set words off so that a test can see it."""
    return f"*{text}*"


def test_render_question__number_each_choice() -> None:
    lines = render_question(Question("x", "choice", "Which?", TWO, why="It tells."), strong=star).splitlines()
    assert ["", "*Which?*", "  Why: It tells.", "   1. The first", "   2. The second", "  ? not known"] == lines


def test_render_question__yes_and_no_need_no_list() -> None:
    assert (
        "Is it?\n  y / n / y? / n? / ? not known" == render_question(Question("x", "choice", "Is it?", YES_NO)).strip()
    )


def test_render_question__one_that_is_needed_offers_no_way_out() -> None:
    assert "not known" not in render_question(Question("x", "choice", "Which?", TWO, optional=False))


@pytest.mark.parametrize(("cost", "said"), [("", False), ("nothing", False), ("a look of 5 min", True)])
def test_render_question__a_cost_is_told_where_there_is_one(cost: str, said: bool) -> None:
    text = render_question(Question("x", "choice", "Is it?", YES_NO, why="It tells.", cost=cost))
    assert said == ("Why: It tells. Costs a look of 5 min." in text)


@pytest.mark.parametrize("kind", HINTS)
def test_render_question__each_kind_says_what_can_be_typed(kind: str) -> None:
    assert render_question(Question("x", kind, "Which?", TWO)).endswith(HINTS[kind])


def test_render_question__keeps_to_the_width() -> None:
    long = Choice("c", "a rather long label " * 8)
    text = render_question(Question("x", "which", "word " * 40, (long,), why="reason " * 30), width=60)
    assert max(map(len, text.splitlines())) <= 60


def test_render_entry__cautions_in_full_and_the_procedure_last() -> None:
    lines = render_entry(Entry("c", (), "Drop the pan", "Look.", ("It is hot.", "It drips.")), strong=star).splitlines()
    assert ["", "*Drop the pan*", "  Look.", "  Mind: It is hot.", "  Mind: It drips.", f"  {PROCEDURE_FIRST}"] == lines


def test_render_help__every_line_of_it() -> None:
    assert len(HELP_LINES) == sum(line.startswith("  - ") for line in render_help().splitlines())
