"""An explanation as text: essentials first, nothing cut that can hurt."""

import pytest
from support.trade import shipped, small_unit

from shiftlore.advising import explain_record
from shiftlore.reports.explain_text import HEADINGS, render_explanation

SCREEN = 24


def flat(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    "wanted", ["worn_element_lining", "slips", "fluid_level", "plain_service", "P0733", "stall_test"]
)
@pytest.mark.parametrize("everything", [False, True])
def test_render_explanation__fits_eighty_columns(wanted: str, everything: bool) -> None:
    text = render_explanation(explain_record(shipped(), wanted), everything=everything)
    assert max(map(len, text.splitlines())) <= 80 and "{" not in text


def test_render_explanation__a_cause_has_its_essentials_on_the_first_screen() -> None:
    text = render_explanation(explain_record(shipped(), "worn_element_lining"))
    first = "\n".join(text.splitlines()[:SCREEN])
    assert "friction linings" in first and HEADINGS["shows"][:12] in first and HEADINGS["mistaken_for"] in first
    assert "Look at: " in flat(first)


def test_render_explanation__all_has_every_line_and_rule() -> None:
    told = explain_record(shipped(), "worn_element_lining")
    short, whole = (render_explanation(told, everything=everything) for everything in (False, True))
    assert "more (--all)" in short and "--all" not in whole
    assert all(rule.place in whole for rule in told.rules)
    assert all(line.label in flat(whole) for lines in told.sections.values() for line in lines)


def test_render_explanation__no_caution_is_left_out() -> None:
    told = explain_record(shipped(), "stall_test")
    text = flat(render_explanation(told))
    assert len(told.sections["mind"]) > 0
    assert all(flat(caution.says) in text for caution in told.sections["mind"])
    assert "The maker's procedure and the local rules come first." in text


def test_render_explanation__says_what_a_thing_costs_and_how_surely_it_cures() -> None:
    text = flat(render_explanation(explain_record(small_unit().knowledge, "worn_pump", "long5")))
    assert "Overhaul: nearly always (92 %); EUR 1," in text
    assert "Drop the pan; EUR " in text and "shows Fluid colour: " in text


def test_render_explanation__names_other_meanings() -> None:
    from dataclasses import replace

    told = replace(explain_record(small_unit().knowledge, "pan_drop", "long5"), also=(("job", "overhaul"),))
    assert "may also mean: overhaul (job)" in flat(render_explanation(told))
