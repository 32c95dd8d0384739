"""The description that the `unit` command shows."""

from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx, mark, raises
from support.layouts import LAYOUTS

from shiftlore.basics import KnowledgeError, UnknownId, UsageProblem
from shiftlore.gearing import RatioMatch, describe_unit
from shiftlore.gearing.descriptions import DOUBT, list_ties
from shiftlore.sheets import ELEMENT_TYPES, load_sheet
from shiftlore.sheets.sheet_checks import list_members

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
LONG6 = load_sheet(UNITS / "long6.yaml")


def test_describe_unit__all_faults_unless_some_are_asked_for() -> None:
    every = describe_unit(LONG6)
    assert set(every.lost) == set(LONG6.elements)
    some = describe_unit(LONG6, lost=["b1"], stuck=["sol_b=off"])
    assert (list(some.lost), list(some.stuck)) == (["b1"], ["sol_b=off"])
    assert some.lost["b1"]["2"].state == "neutral"


def test_describe_unit__measured_ratio_needs_no_fault() -> None:
    found = describe_unit(LONG6, lost=["b1"], ratio=2.1)
    assert list(found.lost) == ["b1"]
    assert found.measured is not None and found.measured.slips


def test_describe_unit__element_may_be_stuck_on() -> None:
    assert describe_unit(LONG6, stuck=["b1=on"]).stuck["b1=on"]["2"].changed is False


@mark.parametrize(
    ("lost", "stuck", "error"),
    [(["brake_z"], [], UnknownId), ([], ["sol_z=on"], UnknownId), ([], ["sol_a"], UsageProblem)],
)
def test_describe_unit__what_cannot_be_meant(lost: list[str], stuck: list[str], error: type[Exception]) -> None:
    with raises(error):
        describe_unit(LONG6, lost=lost, stuck=stuck)


def test_describe_unit__solved_ratios_are_told() -> None:
    solved = describe_unit(load_sheet(LAYOUTS["series_5"])).solved
    assert solved is not None
    assert set(solved.ratios) == {"front.sun", "middle.sun", "rear.sun"}


def test_describe_unit__chart_alone_says_what_is_missing() -> None:
    found = describe_unit(load_sheet(LAYOUTS["chart_only_4"]))
    assert found.gears["1"].state == "unknown"
    assert any("no sets" in text for text in found.missing)


def test_describe_unit__kind_has_no_faults() -> None:
    found = describe_unit(load_sheet(UNITS / "step.yaml"))
    assert (found.lost, found.stuck) == ({}, {})


def test_describe_unit__contradiction_is_refused() -> None:
    with raises(KnowledgeError):
        describe_unit(load_sheet(LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a, b, d]")))


def test_draw_levers__distances_are_as_the_teeth() -> None:
    # Source: Benford and Leising 1981, SAE 810102; front set 38 and 90 teeth.
    lever = describe_unit(load_sheet(UNITS / "long6.yaml")).levers[0]
    places = dict(lever.points)
    assert [places["front.sun"], places["front.ring"]] == [0.0, 1.0]
    assert places["front.carrier"] == approx(90 / (90 + 38), abs=1e-9)


def test_list_ties__joins_and_elements() -> None:
    ties = describe_unit(load_sheet(UNITS / "long6.yaml")).ties
    assert {tie.element for tie in ties if tie.element} == {"c1", "c2", "c3", "b1", "b2"}
    assert ("case", "front.sun") in [(tie.first, tie.second) for tie in ties if not tie.element]


WITH_TEETH = sorted(path.stem for path in UNITS.glob("*.yaml") if "teeth" in path.read_text())


@mark.parametrize("name", [*WITH_TEETH, *LAYOUTS])
def test_draw_levers__speeds_of_every_gear_lie_on_a_line(name: str) -> None:
    # Source: Benford and Leising 1981: the members of a set are points of one lever in every gear.
    description = describe_unit(load_sheet(LAYOUTS.get(name, UNITS / f"{name}.yaml")))
    for lever in description.levers:
        for line in description.gears.values():
            known = [(place, line.speeds[member]) for member, place in lever.points if member in line.speeds]
            if len(known) < 3 or line.state != "driven":
                continue
            (low, start), (high, end) = known[0], known[-1]
            slope = (end - start) / (high - low)
            assert [speed for _, speed in known] == approx([start + slope * (at - low) for at, _ in known], abs=1e-6)


@mark.parametrize("name", sorted(LAYOUTS))
def test_list_ties__every_tie_has_two_ends_of_the_sheet(name: str) -> None:
    sheet = load_sheet(LAYOUTS[name])
    ties = list_ties(sheet)
    known = set(list_members(sheet))
    assert {end for tie in ties for end in (tie.first, tie.second)} <= known
    assert {tie.element for tie in ties} - {""} == {item.id for item in sheet.elements.values() if item.first}
    assert {tie.type for tie in ties} - {"joined"} <= set(ELEMENT_TYPES)


def _match(unit: str, ratio: float) -> RatioMatch:
    found = describe_unit(load_sheet(UNITS / f"{unit}.yaml"), ratio=ratio).measured
    assert found is not None
    return found


def test_match_ratio__slip_between_two_gears() -> None:
    match = _match("long6", 1.95)
    assert match.gears == ()
    assert match.between == ("2", "3")
    assert match.slips[0].commanded == "3"
    # 1 - 1.422 / 1.95: the share of input speed that is lost.
    assert abs(match.slips[0].slip_percent - 27.1) < 0.1
    assert match.slips[0].elements == ("c1", "c2")


def test_match_ratio__a_gear_within_doubt() -> None:
    match = _match("long6", 2.15)
    assert [item.gear for item in match.gears] == ["2"]


def test_match_ratio__faults_that_make_it() -> None:
    match = _match("long5", 1.09)
    assert ("sol_c stuck on", "3") in [(item.fault, item.commanded) for item in match.faults]


def test_match_ratio__one_way_c2ounds_the_slip() -> None:
    # In third a slipping B1 lets the unit fall back to first (2.64) at most; C1 has no such floor.
    third = {slip.commanded: slip.elements for slip in _match("long5", 2.5).slips}["3"]
    assert third == ("c1", "b1")
    assert "b1" not in [name for slip in _match("long5", 3.4).slips for name in slip.elements]


def test_match_ratio__reverse_and_below_every_gear() -> None:
    assert _match("long6", -2.95).gears[0].gear == "R"
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
