"""What was learned, as a file to review and as a summary."""

from support.trade import shipped

from shiftlore.compiling import Learned, Overlay
from shiftlore.reports.learn_text import render_learned, render_overlay

RATES = {"pump_worn": Learned(9.0, 18.0, 3.0, 0.5), "fluid_degraded": Learned(10.0, 9.9, 0.0, 0.6)}
STRENGTHS = {
    ("worn_element_lining", "element_slips"): Learned(0.5, 0.6, 5.0, 7.0),
    ("pump_worn", "line_pressure_low"): Learned(0.8, 0.81, 2.5, 3.0),
}
OVERLAY = Overlay(RATES, STRENGTHS, Learned(1.0, 1.25, 5.0, 4.0), {"cured": 3, "not_told": 1})


def test_render_overlay__sorted_and_each_number_with_what_it_rests_on() -> None:
    lines = render_overlay(OVERLAY).splitlines()
    assert "cases: {cured: 3, not_told: 1}" in lines
    assert "  pump_worn: {rules: 9, learned: 18, there: 3.00, of: 0.50}" in lines
    assert lines.index("  pump_worn:") < lines.index("  worn_element_lining:")


def test_render_learned__what_changed_most_first_in_words() -> None:
    text = render_learned(shipped(), OVERLAY, 2, width=100)
    assert text.startswith("Learned from 4 cases: 3 cured, 1 not told.\n2 could not be used")
    assert text.index("Pump worn") < text.index(shipped().causes["fluid_degraded"].label)
    assert "{name}" not in text and "50 % ->   60 %   5.0 of 7.0" in text
    assert "1.25 times as common as the rules say." in text


def test_render_learned__fits_a_screen_of_eighty_columns() -> None:
    assert all(len(line) <= 80 for line in render_learned(shipped(), OVERLAY, 0).splitlines())
