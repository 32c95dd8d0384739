"""The options as text."""

from dataclasses import replace

import pytest
from support.offers import offered

from shiftlore.advising import LeftOut
from shiftlore.reports.options_text import render_options, say_days


def test_render_options__fits_eighty_columns() -> None:
    for name in ("slips", "harsh"):
        assert max(len(line) for line in render_options(offered(name, 600.0)).splitlines()) <= 80


def test_render_options__every_option_has_its_letter_and_price() -> None:
    lines = render_options(offered()).splitlines()
    for letter, option in zip("ABCDEF", offered().options, strict=False):
        assert any(line.startswith(f"  {letter}  {option.label[:20]}") for line in lines)
    assert len(offered().options) - 1 == sum("In the end about" in line for line in lines)


def test_render_options__marks_the_advice_once() -> None:
    assert 1 == render_options(offered()).count("[advised")


def test_render_options__a_budget_is_answered() -> None:
    text = render_options(offered("slips", 1.0))
    assert "Budget" in text and "buys no repair" in " ".join(text.split())
    assert "over budget" in text


def test_render_options__without_a_check_left_says_just_that() -> None:
    options = tuple(
        replace(option, checks=(), label="No check is left to make") if option.kind == "check" else option
        for option in offered().options
    )
    lines = render_options(replace(offered(), options=options)).splitlines()
    place = next(i for i, line in enumerate(lines) if "No check is left" in line)
    assert "" == lines[place + 1]


def test_render_options__narrow_stays_narrow() -> None:
    assert max(len(line) for line in render_options(offered(), width=50).splitlines()) <= 50


def test_render_options__doing_nothing_is_told_in_words_and_distance() -> None:
    text = " ".join(render_options(offered()).split())
    nothing = text[text.index("Nothing for now") : text.index(" B ")]
    assert " %: " in nothing and " km" in nothing and "In the end" not in nothing
    assert "How sure we are" in text and "a vehicle that nobody cures counts with" in text


@pytest.mark.parametrize(("beaten", "why"), [(True, "another option helps more often"), (False, "does more elsewhere")])
def test_render_options__a_service_that_is_not_listed_is_told(beaten: bool, why: str) -> None:
    option = next(option for option in offered().options if option.jobs)
    left_out = LeftOut(("plain",), "A service", option.cost, 0.03, beaten)
    text = " ".join(render_options(replace(offered(), left_out=left_out)).split())
    assert "Only a service? A service: EUR" in text and "chance 3 %" in text and why in text
    assert "Only a service" not in render_options(replace(offered(), left_out=None))


def test_render_options__what_was_asked_for_is_marked() -> None:
    options = (*offered().options[:-1], replace(offered().options[-1], asked=True))
    assert "[asked for" in render_options(replace(offered(), options=options)).replace("advised, ", "")


def test_say_days__in_words() -> None:
    assert ["half a day", "half a day", "1 day", "3 days"] == [say_days(days) for days in (0.25, 0.5, 1, 3)]
