"""A simulation as a table."""

from shiftlore.reports.simulate_text import render_simulation
from shiftlore.simulating import PolicyResult, Simulation

RESULTS = (
    PolicyResult("planner", 200, 1114.4, 455.0, 1772.0, 1.0, 5.7, 548.0),
    PolicyResult("overhaul", 200, 13820.0, 13057.0, 14583.0, 0.999, 0.0, 1266.0),
)


def test_render_simulation__a_row_for_each_way_of_working() -> None:
    rows = render_simulation(Simulation("long5", 200, 7, "EUR", RESULTS, 12.0)).splitlines()
    assert "200 vehicles of long5, seed 7, 12 s. Money in EUR." == rows[0]
    assert "this planner 1,114 455 to 1,772 100 % 5.7 9 h 8 min" == " ".join(rows[3].split())
    assert "overhaul at once 13,820 13,057 to 14,583 >99 % 0.0 21 h 6 min" == " ".join(rows[4].split())


def test_render_simulation__columns_stand_under_their_heads_in_eighty() -> None:
    rows = render_simulation(Simulation("long5", 200, 7, "EUR", RESULTS, 12.0)).splitlines()
    assert {80} == {len(row) for row in rows[2:5]}


def test_render_simulation__says_what_it_does_not_prove() -> None:
    assert "does not prove" in " ".join(render_simulation(Simulation("dct", 1, 1, "EUR", RESULTS, 0.1)).split())
