"""The interview as text: questions, steps, help."""

from dataclasses import replace

import pytest
from support.trade import shipped, unit_of

from shiftlore.advising import next_steps
from shiftlore.cases import Case, Done
from shiftlore.compiling import compile_case
from shiftlore.ranking import AlikeCase, rank_causes
from shiftlore.reports.triage_text import (
    HINTS,
    render_bench,
    render_entry,
    render_question,
    render_recap,
    render_standing,
    render_what_next,
)
from shiftlore.reports.wording import PROCEDURE_FIRST, render_help
from shiftlore.sessions import HELP_LINES, RESULTS, SURE, Interview, Question, StepEntry
from shiftlore.sessions.questions import Choice

TWO = (Choice("a", "The first"), Choice("b", "The second"))
YES_NO = (Choice("yes", "yes"), Choice("no", "no"))


def star(text: str) -> str:
    """Set words off so that a test can see it."""
    return f"*{text}*"


def test_render_question__number_each_choice() -> None:
    lines = render_question(Question("x", "choice", "Which?", TWO, why="It tells."), strong=star).splitlines()
    assert ["", "*Which?*", "  Why: It tells.", "  1  The first", "  2  The second", "  ? not known"] == lines


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


@pytest.mark.parametrize(("kind", "hint"), HINTS.items())
def test_render_question__each_kind_says_what_can_be_typed(kind: str, hint: str) -> None:
    text = " ".join(render_question(Question("x", kind, "Which?", TWO)).split())
    assert text.endswith(hint.format(first="1", last="2"))


def test_render_question__what_is_typed_stands_before_each_line() -> None:
    gears = (Choice("g2", "Slips in gear 2", "2"), Choice("gr", "Slips in reverse", "R"))
    lines = render_question(Question("x", "which", "In which gears?", gears)).splitlines()
    assert ["  2  Slips in gear 2", "  R  Slips in reverse"] == lines[2:4]
    assert "such as 2 R" in lines[4]


def test_render_question__keeps_to_the_width() -> None:
    long = Choice("c", "a rather long label " * 8)
    text = render_question(Question("x", "which", "word " * 40, (long,), why="reason " * 30), width=60)
    assert max(map(len, text.splitlines())) <= 60


def test_render_entry__cautions_in_full_and_the_procedure_last() -> None:
    entry = StepEntry("c", (), "Drop the pan", "Look.", ("It is hot.", "It drips."))
    lines = render_entry(entry, "EUR", strong=star).splitlines()
    assert ["", "*Drop the pan*", "  Look.", "  Mind: It is hot.", "  Mind: It drips.", f"  {PROCEDURE_FIRST}"] == lines


def test_render_entry__what_must_be_closed_first_with_its_price() -> None:
    text = render_entry(StepEntry("c", (), "Drive it", "Drive.", closing=(134.4, 29.0)), "EUR")
    assert "  First close the vehicle and fill it: 29 min, EUR 134.\n  Drive." in text


def test_render_entry__a_job_asks_what_came_of_it_and_a_forbidden_check_whether_to_go_on() -> None:
    job = render_entry(StepEntry("", ("j",), "Overhaul"), "EUR").splitlines()
    assert [f"  {place}  {text}" for place, text in enumerate(RESULTS, 1)] == job[-len(RESULTS) :]
    forbidden = " ".join(render_entry(StepEntry("c", (), "Stall test", against="Slips: yes"), "EUR").split())
    assert forbidden.endswith(f"It does not go with what is known: Slips: yes. {SURE}")


LABELS = {"a": "Pump worn", "b": "Filter clogged", "c": "Leak", "d": "Other"}


def test_render_standing__the_first_three_and_what_has_moved() -> None:
    now = {"a": 0.4, "b": 0.2, "c": 0.05, "d": 0.01}
    assert "Likeliest now: Pump worn 40 %; Filter clogged 20 %; Leak 5 %." == render_standing(None, now, LABELS)
    before = {"b": 0.3, "a": 0.395, "c": 0.05}
    assert "Likeliest now: Pump worn 40 %; Filter clogged 20 % (was 30); Leak 5 %." == render_standing(
        before, now, LABELS
    )
    assert "" == render_standing(now, now, LABELS)


@pytest.fixture(scope="module")
def bench() -> tuple:
    """Give ranking, plan and compiled case of a vehicle that slips, its pan off."""
    case = Case("long5", odometer_km=182_000.0, complaint=("slips_gear_2",), access="pan_off")
    compiled = compile_case(unit_of("long5"), case)
    return rank_causes(compiled), next_steps(compiled), compiled


def test_render_bench__three_causes_and_three_steps_with_price_and_closing(bench: tuple) -> None:
    text = render_bench(*bench)
    ranking, plan, _ = bench
    flat = " ".join(text.split())
    assert (
        all(cause.label in text for cause in ranking.causes[:3])
        and f"{ranking.causes[3].label} " not in text.partition("1. ")[0]
    )
    for step in plan.steps[:3]:
        assert f"{step.label}: EUR {step.cost.total:,.0f}" in flat and step.why in flat
    closed = [step for step in plan.steps[:3] if step.cost.closing_first >= 1.0]
    assert len(closed) == flat.count("closing and filling first counted in")


def test_render_bench__what_was_shown_before_only_by_name(bench: tuple) -> None:
    ranking, plan, _ = bench
    shown = {cause.id: cause.probability for cause in ranking.causes}
    again = render_bench(*bench, shown_before=shown, steps_before=[step.id for step in plan.steps])
    assert len(again.splitlines()) <= 16
    flat = " ".join(again.split())
    assert not any(step.why in flat for step in plan.steps) and "was " not in again
    moved = render_bench(*bench, shown_before={**shown, ranking.causes[0].id: 0.01})
    assert ", was 1)" in moved and moved.count("was ") == 1


def test_render_bench__work_that_hardly_helps_is_not_called_the_best(bench: tuple) -> None:
    """Review of use: "the best work is New pan (9 % sure to cure it)"."""
    ranking, plan, compiled = bench
    poor = replace(plan, stop=plan.stop.vary(jobs=("pan_renew",), p_cured=0.09, why="The best work is New pan."))
    text = " ".join(render_bench(ranking, poor, compiled).split())
    assert "The best work" not in text and "the best would cure 9 %" in text
    first = next(step.label for step in plan.steps if step.kind == "check")
    assert f"More would tell: {first}" in text


def test_render_bench__steps_over_the_budget_say_so(bench: tuple) -> None:
    ranking, plan, compiled = bench
    poor = compiled.vary(case=replace(compiled.case, budget=20.0))
    dear = sum(step.cost.total > 20.0 for step in plan.steps[:3])
    assert dear == " ".join(render_bench(ranking, plan, poor).split()).count("over the budget")
    assert "over the budget" not in render_bench(*bench)


def test_render_what_next__what_came_of_the_last_job_and_the_question_that_waits() -> None:
    case = Case("long5", complaint=("slips",))
    asking, done = Interview(shipped(), case), Interview(shipped(), case.with_done(Done("overhaul"))).resume()
    assert "1 to 3, or a name (pan)" in render_what_next(3, asking) and "Enter: back" in render_what_next(3, asking)
    flat = " ".join(render_what_next(0, done).split())
    assert flat.startswith("A name (pan)") and "came back after 2 weeks" in flat and "Enter: back" not in flat


def test_render_recap__the_vehicle_and_its_complaint_in_one_line() -> None:
    lines = render_recap(("Complaint: Slips.", "Done: pan."), 182_000.0, "long5").splitlines()
    assert ["  long5, 182,000 km. Complaint: Slips.", "  Done: pan."] == lines
    assert "distance not known" in render_recap((), None, "long5")


def test_render_help__every_line_of_it() -> None:
    assert len(HELP_LINES) == sum(line.startswith("  - ") for line in render_help(HELP_LINES).splitlines())


def test_render_bench__one_line_names_what_looked_alike_and_only_when_it_is_news(bench: tuple) -> None:
    ranking, plan, compiled = bench
    alike = AlikeCase("shop", "5f", "slips", "Pump worn", "pump", ("pump_worn",), likeness=0.5, factor_decibans=14.0)
    told = ranking.vary(alike=(alike,))
    assert "Your own case 5f looked alike: Pump worn (r: more)" in render_bench(told, plan, compiled)
    assert "looked alike" not in render_bench(told, plan, compiled, alike_before=["5f"])
    assert len(render_bench(told, plan, compiled).splitlines()) - len(render_bench(*bench).splitlines()) == 1


def test_render_bench__danger_is_told_before_all_else(bench: tuple) -> None:
    ranking, plan, compiled = bench
    for jobs in ((), ("pan_renew",)):
        stop = plan.stop.vary(danger="Do not drive it: it rolls.", jobs=jobs, p_cured=0.0)
        text = " ".join(render_bench(ranking, replace(plan, stop=stop), compiled).split())
        assert "Do not drive it: it rolls. " in text
    assert "Do not drive" not in render_bench(*bench)
