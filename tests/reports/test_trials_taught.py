"""What was learned, as a file to review and as a summary; how published repairs were ranked, as text."""

from support.trade import shipped

from shiftlore.compiling import Learned, Overlay
from shiftlore.repairs import Group, Miss, Scores
from shiftlore.repairs.scoring import Band
from shiftlore.reports.trials_text import render_learned, render_overlay, render_scores

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


MISS = Miss("A1", "pump", 4, "band", "pump_worn", "worn_band", "slips", "Slips: yes", -12.4)
SCORES = Scores(
    {"all": Group(3, (1 / 3, 2 / 3, 1.0)), "repair": Group(3, (1 / 3, 2 / 3, 1.0))},
    1.25,
    (Band(0.1, 0.2, 40, 0.15, 0.175),),
    (MISS, Miss("A2", "cvt_belt_or_pulley", 9, "band", "", "worn_band", "", "", 0.0)),
    (("A3", "case.yaml:1:1: error C001: wrong\n    Mend it."),),
)


def test_render_scores__one_line_a_group() -> None:
    text = render_scores(SCORES)
    assert "all                                    3     33%     67%    100%" in text
    assert "Log loss 1.250." in text
    assert "10% to  20%       40 areas, mean  15%, right  18%" in text


def test_render_scores__each_miss_says_what_speaks_against_the_truth() -> None:
    text = " ".join(render_scores(SCORES).split())
    assert 'A1: pump is at place 4, band (worn_band) comes first. Most against pump_worn: "Slips: yes", -12 dec' in text
    assert "A2: cvt_belt_or_pulley is at place 9, band (worn_band) comes first. No cause of that area exists" in text
    assert "A3 could not be ranked: case.yaml:1:1: error C001: wrong" in text


def test_render_scores__only_the_worst_on_request_and_never_over_80_columns() -> None:
    text = render_scores(SCORES, misses=1)
    assert "(1 of 2)" in text
    assert "A2" not in text
    assert max(map(len, render_scores(SCORES).splitlines())) <= 80
