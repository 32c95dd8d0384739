"""How sure we are of ourselves."""

from dataclasses import replace

import pytest
from support.offers import compiled, offered, view

from shiftlore.advising import next_steps
from shiftlore.advising.options_outlook import OwnersView, look_ahead
from shiftlore.advising.options_sureness import FAIR, FIRM, judge_sureness, share_same_advice


def test_judge_sureness__shares_and_word_agree() -> None:
    sureness = offered().sureness
    assert 0 <= sureness.p_same_area <= 1 and 0 <= sureness.p_same_advice <= 1
    word = "firm" if sureness.p_same_advice >= FIRM else "fair" if sureness.p_same_advice >= FAIR else "open"
    assert word == sureness.word


def test_judge_sureness__the_only_option_is_always_the_advice() -> None:
    option = next(option for option in offered().options if option.jobs and option.kind != "check")
    share = share_same_advice(view(), {option.id: option}, option.id, view().check_first())
    sureness = judge_sureness(view(), share)
    assert (1.0, "firm") == (sureness.p_same_advice, sureness.word)


def test_judge_sureness__the_check_that_would_change_it_has_a_price() -> None:
    change = offered().sureness.would_change
    assert change is None or (0 < change.p_changes <= 1 and change.cost.typical > 0)


def test_judge_sureness__tools_that_the_shop_lacks_are_told() -> None:
    tools = set(view().pricer.shop.tools)
    for item in offered().sureness.not_checked:
        assert item.why != "no_tool" or not set(item.tools) & tools


def test_judge_sureness__says_it_in_words() -> None:
    assert "our advice in" in offered().sureness.says


def within(name: str, budget: float) -> OwnersView:
    """Prepare a vehicle for an owner who spends no more."""
    return look_ahead(compiled(name).vary(case=replace(compiled(name).case, budget=budget)))


def test_judge_sureness__a_check_that_takes_the_advised_works_money_changes_nothing() -> None:
    """At the bench: a look into the coolant tank "led to another repair in nearly all", as it left no money."""
    poor = within("harsh", 60.0)
    assert "job" == poor.choice.steps[0].kind
    assert judge_sureness(poor, 1.0).would_change is None


@pytest.mark.parametrize(("name", "budget"), [("harsh", 200.0), ("slips", 700.0), ("harsh", 420.0)])
def test_judge_sureness__says_of_a_check_what_the_next_steps_say(name: str, budget: float) -> None:
    poor = within(name, budget)
    change = judge_sureness(poor, 1.0).would_change
    told = {step.id: step.reason.p_changes for step in next_steps(poor.compiled).steps if step.kind == "check"}
    assert change is not None and pytest.approx(told[change.id], abs=1e-9) == change.p_changes


def test_next_steps__what_the_price_of_a_check_alone_changes_is_not_its_answers_doing() -> None:
    """With EUR 900 each check, a scan too, "led to another repair in nearly all": it left too little for the first one."""
    steps = next_steps(within("harsh", 900.0).compiled).steps
    assert 0 < min(step.reason.p_changes for step in steps if step.kind == "check") < 0.7
    assert max(step.reason.p_changes for step in steps if step.kind == "check") < 0.9
