"""The next steps as text."""

from dataclasses import replace

from support.offers import compiled
from support.plans import planned, planned_case

from shiftlore.advising import next_steps
from shiftlore.advising.stepping import AskedFirst
from shiftlore.reports.next_text import list_cautions, name_finding, render_next
from shiftlore.reports.wording import say_first, say_money, say_percent


def test_render_next__fits_the_width() -> None:
    for width in (60, 80):
        assert max(len(line) for line in render_next(planned(), planned_case(), width).splitlines()) <= width


def test_render_next__steps_stand_best_first_with_their_cost() -> None:
    text = render_next(planned(), planned_case(), count=3)
    places = [text.index(f" {place}. ") for place in (1, 2, 3)]
    assert places == sorted(places) and " 4. " not in text
    first = planned().steps[0]
    assert f"costs {say_money(first.cost.total, planned().currency)}" in text
    assert f"then {say_money(first.expected_total_after, planned().currency)} expected" in text


def test_render_next__who_answers_for_it_comes_first() -> None:
    told = replace(planned(), others_work=("Gearbox rebuilt",), warranty=True)
    text = " ".join(render_next(told, planned_case()).split())
    assert text.index(say_first(["Gearbox rebuilt"], True)) < text.index(" 1. ")
    assert "First: " not in render_next(planned(), planned_case())


def test_render_next__what_costs_nothing_is_asked_before_the_first_step() -> None:
    told = replace(
        planned(), asked_first=(AskedFirst("charged_engine", "Has it a turbo?", {"no": "none", "yes": "one"}),)
    )
    text = " ".join(render_next(told, planned_case()).split())
    ask = 'Ask first, for it costs nothing: Has it a turbo? Under background, charged_engine: "no" (none), "yes" (one).'
    assert text.index(ask) < text.index(" 1. ")
    assert "Ask first" not in render_next(planned(), planned_case())


def test_render_next__a_check_says_how_far_it_can_be_trusted() -> None:
    step = next(step for step in planned().steps if step.kind == "check" and len(step.together) == 1)
    alone = render_next(replace(planned(), steps=(step,)), planned_case())
    missed = planned_case().expansion.checks[step.id].missed
    assert f"sure: misses a true sign in {say_percent(missed)}" in alone


def test_render_next__every_caution_is_named_beside_its_step_and_told_in_full() -> None:
    text = render_next(planned(), planned_case())
    flat = " ".join(text.split())
    for caution in list_cautions(planned().steps[:5]):
        assert " ".join(planned_case().knowledge.cautions[caution].says.split()) in flat
    assert "maker's procedure" in flat and "mind: " in flat


def test_render_next__advice_follows_the_plan() -> None:
    stopping = replace(planned(), stop=planned().stop.vary(advised=True))
    going_on = replace(planned(), stop=planned().stop.vary(advised=False))
    assert "Stop checking." in render_next(stopping, planned_case())
    assert "Go on checking." in render_next(going_on, planned_case())


def test_render_next__nothing_left_says_so() -> None:
    assert "Nothing that this shop can do" in render_next(replace(planned(), steps=()), planned_case())


def test_name_finding__one_of_a_template_stands_for_all() -> None:
    assert "Slips in a gear" == name_finding(planned_case(), "slips_gear_3")
    assert "Fluid colour" == name_finding(planned_case(), "fluid_colour")


def test_render_next__a_small_budget_and_danger_are_told() -> None:
    case = compiled("milky").vary(case=replace(compiled("milky").case, budget=80.0))
    text = " ".join(render_next(next_steps(case), case).split())
    assert "Do not drive it, nor run the engine" in text and "EUR 80 buys no repair" in text
    assert "if more than the budget is then agreed" in text
    poor = case.vary(case=replace(case.case, budget=1.0))
    assert "Nothing that this shop can do within the budget" in " ".join(render_next(next_steps(poor), poor).split())
