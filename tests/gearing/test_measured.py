"""What a measured ratio may mean."""

from pathlib import Path

from shiftlore.gearing import RatioMatch, describe_unit
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"


def _match(unit: str, ratio: float) -> RatioMatch:
    found = describe_unit(load_sheet(UNITS / f"{unit}.yaml"), ratio=ratio).measured
    assert found is not None
    return found


def test_match_ratio__slip_between_two_gears() -> None:
    match = _match("long6", 2.10)
    assert match.gears == ()
    assert match.between == ("2", "3")
    assert match.slips[0].commanded == "3"
    # 1 - 1.526 / 2.10: the share of input speed that is lost.
    assert abs(match.slips[0].slip_percent - 27.3) < 0.1
    assert match.slips[0].elements == ("clutch_a", "clutch_b")


def test_match_ratio__a_gear_within_doubt() -> None:
    match = _match("long6", 2.36)
    assert [item.gear for item in match.gears] == ["2"]


def test_match_ratio__faults_that_make_it() -> None:
    match = _match("long5", 1.11)
    assert ("sol_c stuck on", "3") in [(item.fault, item.commanded) for item in match.faults]


def test_match_ratio__one_way_clutch_bounds_the_slip() -> None:
    # In third a slipping B1 lets the unit fall back to first (2.98) at most; C1 has no such floor.
    third = {slip.commanded: slip.elements for slip in _match("long5", 2.5).slips}["3"]
    assert third == ("c1", "b1")
    assert "b1" not in [name for slip in _match("long5", 3.4).slips for name in slip.elements]


def test_match_ratio__reverse_and_below_every_gear() -> None:
    assert _match("long6", -3.4).gears[0].gear == "R"
    assert "speed signals" in _match("long6", 0.4).says
