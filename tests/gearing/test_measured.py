"""What a measured ratio may mean."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx, mark
from support.layouts import LAYOUTS

from shiftlore.gearing import RatioMatch, describe_unit
from shiftlore.gearing.measured import DOUBT
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


NAMES = sorted(path.stem for path in UNITS.glob("*.yaml") if path.stem not in ("step", "step-rwd", "step-fwd", "dct"))


@mark.parametrize("name", NAMES)
def test_match_ratio__every_gear_finds_itself(name: str) -> None:
    sheet = load_sheet(UNITS / f"{name}.yaml")
    for gear, line in describe_unit(sheet).gears.items():
        if line.kind in ("forward", "reverse") and line.ratio_computed is not None:
            match = _match(name, line.ratio_computed)
            assert gear in [item.gear for item in match.gears]
            assert abs(match.gears[0].off_percent) < 1e-6
            assert match.says.startswith(f"{line.ratio_computed:.2f} is gear {match.gears[0].gear}")


@settings(max_examples=40, deadline=None)
@given(st.sampled_from(NAMES), st.floats(0.4, 6), st.sampled_from([1, -1]))
def test_match_ratio__slip_leads_from_a_gear_to_what_was_measured(name: str, size: float, way: int) -> None:
    match = _match(name, way * size)
    for slip in match.slips:
        # The input runs ahead: what is left of its speed goes through the gear.
        assert slip.ratio / (1 - slip.slip_percent / 100) == approx(match.ratio, rel=1e-9)
        assert abs(slip.ratio) < abs(match.ratio) and slip.ratio * match.ratio > 0
        assert slip.elements
    for fault in match.faults:
        assert match.ratio / fault.ratio == approx(1, abs=DOUBT + 1e-9)
    for kind in (match.gears, match.faults):
        distances = [abs(item.off_percent) for item in kind]
        assert distances == sorted(distances)
    assert [slip.slip_percent for slip in match.slips] == sorted(slip.slip_percent for slip in match.slips)


def test_match_ratio__chart_alone_still_names_the_gears() -> None:
    found = describe_unit(load_sheet(LAYOUTS["chart_only_4"]), ratio=100.0).measured
    assert found is not None
    assert found.gears == () and found.between[0] is None


def test_match_ratio__nothing_drives_that_way() -> None:
    text = "id: bare\nlabel: Bare\nelements:\n- {id: c1, type: clutch}\ngears:\n  1: {ratio: 2.4, on: [c1]}\n"
    found = describe_unit(load_sheet(text), ratio=-2.0).measured
    assert found is not None and found.says == "No ratio of this unit is known that drives this way."
