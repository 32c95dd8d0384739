"""How sure we are of ourselves."""

from dataclasses import replace

import pytest
from support.offers import compiled, offered, view

from shiftlore.advising import next_steps
from shiftlore.advising.offering import share_same_advice
from shiftlore.advising.options_outlook import look_ahead
from shiftlore.advising.options_sureness import FAIR, FIRM, judge_sureness
from shiftlore.planning import start_bench


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


@pytest.mark.parametrize("budget", [360.0, 600.0])
def test_judge_sureness__a_check_that_costs_the_advised_work_its_money_changes_nothing(budget: float) -> None:
    """At the bench: a look into the coolant tank "led to another repair in nearly all", as it left no money."""
    poor = look_ahead(compiled().vary(case=replace(compiled().case, budget=budget)))
    change = judge_sureness(poor, 1.0).would_change
    advised = {check for step in poor.choice.steps if step.kind != "job" for check in step.ids}
    if change is not None and change.id not in advised:
        bench = start_bench(poor.situation)
        total = poor.choice.outlook.price_checks(poor.belief[None], bench)[0][poor.situation.check_index(change.id)]
        cost = poor.situation.reach_check(poor.situation.check_index(change.id), bench.opened)[0]
        assert total <= poor.choice.expected_total_now + cost + 1e-6


@pytest.mark.parametrize("name", ["slips", "harsh"])
def test_judge_sureness__says_of_a_check_what_the_next_steps_say(name: str) -> None:
    change = judge_sureness(view(name), 1.0).would_change
    told = {step.id: step.reason.p_changes for step in next_steps(compiled(name)).steps if len(step.together) == 1
            and step.kind == "check"}  # fmt: skip
    assert change is None or change.id not in told or pytest.approx(told[change.id], abs=1e-9) == change.p_changes
