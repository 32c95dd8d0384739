"""What `validate` found, in words."""

import json

from shiftlore.basics import Mark, Problem
from shiftlore.ranking import Review, TextbookResult
from shiftlore.reports.trials_text import render_report, render_simulation, report_as_json
from shiftlore.simulating import PolicyResult, Simulation

WRONG = Problem(Mark("a.yaml", 3, 5), "K014", "Unknown word", "Write often.")
DOUBTFUL = Problem(Mark("a.yaml", 4, 5), "K099", "Near miss", "Look again.", "warning")
REVIEW = Review(
    {"causes_written": 2, "checks": 1},
    {"long5": {"causes": 6, "ratios_computed": 5}},
    {"cases": 2, "first": 1, "top_three": 2},
    (TextbookResult("a", "pump", 1, 0.8, "pump"), TextbookResult("b", "band", 2, 0.3, "pump")),
    (("x", "y"),),
)


def test_render_report__a_clean_folder_says_so_last() -> None:
    assert "Clean." == render_report(None, []).splitlines()[-1]
    assert "Clean." == render_report(REVIEW, []).splitlines()[-1]


def test_render_report__counts_errors_and_warnings() -> None:
    assert "1 errors, 1 warnings." == render_report(None, [WRONG, DOUBTFUL])


def test_render_report__tells_sizes_and_only_the_cards_that_fail() -> None:
    text = render_report(REVIEW, [])
    assert "2 causes, 1 checks" in text and "6 causes, 5 ratios computed" in text
    assert "first 1 (50 %), in the top three 2 (100 %)" in text
    assert "b: place 2 (30 %); first is pump" in text and "  a:" not in text
    assert "No finding tells these apart: x, y." in text


def test_render_report__a_card_that_cannot_be_ranked() -> None:
    lost = Review({}, {}, {"cases": 1, "first": 0, "top_three": 0}, (TextbookResult("c", "band", 0, 0.0, ""),), ())
    assert "c: cannot be ranked" in render_report(lost, [])


def test_report_as_json__problems_with_their_place() -> None:
    found = json.loads(report_as_json(None, [WRONG]))
    assert {
        "file": "a.yaml",
        "line": 3,
        "column": 5,
        "code": "K014",
        "severity": "error",
        "what": "Unknown word",
        "write_instead": "Write often.",
    } == found["problems"][0]
    assert {"shiftlore", "problems"} == set(found)


def test_report_as_json__the_review_stands_beside() -> None:
    found = json.loads(report_as_json(REVIEW, []))
    assert {"cases": 2, "first": 1, "top_three": 2} == found["textbook"]
    assert "band" == found["results"][1]["cause"]


RESULTS = (
    PolicyResult("planner", 200, 1114.4, 455.0, 1772.0, 1.0, 5.7, 548.0),
    PolicyResult("overhaul", 200, 13820.0, 13057.0, 14583.0, 0.999, 0.0, 1266.0, 12706.0, 11700.4, 13711.6),
)


def test_render_simulation__a_row_for_each_way_of_working() -> None:
    rows = render_simulation(Simulation("long5", 200, 7, "EUR", RESULTS, 12.0)).splitlines()
    assert "200 vehicles of long5, seed 7, 12 s. Money in EUR." == rows[0]
    assert "this planner 1,114 659 100 % 5.7" == " ".join(rows[3].split())
    assert "overhaul at once 13,820 763 >99 % 0.0 +12,706 +- 1,006" == " ".join(rows[4].split())


def test_render_simulation__columns_stand_under_their_heads_in_eighty() -> None:
    rows = render_simulation(Simulation("long5", 200, 7, "EUR", RESULTS, 12.0)).splitlines()
    assert {80} == {len(row) for row in rows[2:5]}


def test_render_simulation__says_what_it_does_not_prove() -> None:
    assert "does not prove" in " ".join(render_simulation(Simulation("dct", 1, 1, "EUR", RESULTS, 0.1)).split())
