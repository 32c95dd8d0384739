"""How published repairs were ranked, as text."""

from shiftlore.repairs import Band, Group, Miss, Scores
from shiftlore.reports.repairs_text import render_scores

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
