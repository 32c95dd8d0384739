"""What is worked out of a sheet for the rules."""

from itertools import pairwise

from pytest import approx, mark, raises
from support.layouts import LAYOUTS, UNITS, facts_of

from shiftlore.basics import KnowledgeError
from shiftlore.gearing import check_sheet, unit_facts
from shiftlore.gearing.fact_finding import find_applied, find_controlled, find_shifts, find_switching, find_working
from shiftlore.sheets import EACH, UnitSheet, load_sheet


def test_unit_facts__instances_of_the_five_speed() -> None:
    facts = facts_of("long5")
    assert [item.id for item in facts.instances("gear")] == ["1", "2", "3", "4", "5", "r"]
    assert [item.label for item in facts.instances("shift")] == ["1-2", "2-3", "3-4", "4-5"]
    downs = ["2-1", "3-2", "3-1", "4-3", "4-2", "5-4", "5-3"]
    assert [item.label for item in facts.instances("downshift")] == downs
    assert "k1" not in [item.id for item in facts.instances("element")]
    assert facts.instances("solenoid")[0].names == ("A", "sol_a")
    assert {"one_way_clutch", "band", "pressure_switch", "converter", "no_dipstick"} <= facts.tags


def test_torque_share__largest_gear_is_one() -> None:
    facts = facts_of("long6")
    assert facts.torque_share["c1", "1"] == approx(
        1.0, abs=1e-9
    )  # first and another gear tie; which is larger by a bit is the processor's
    # By statics: the small sun carries 0.45 of the input torque in fourth, the whole reduced torque in first.
    assert facts.torque_share["c1", "4"] == approx(0.313, abs=0.01)
    assert facts.torque_share["b2", "1"] == approx(2.19 / 4.37, abs=0.01)


def test_controlled__told_from_the_pattern() -> None:
    facts = facts_of("crossed_4")
    assert facts.controlled["sol_a", "second_fourth_band"] == 1.0
    assert ("sol_a", "third_fourth") not in facts.controlled


def test_unit_facts__kinds_keep_doubt() -> None:
    facts = facts_of("step")
    shares = dict(facts.resolve(None, "element", "forward_clutch", "gear"))
    assert shares["1"] == 1.0 and 0 < shares["4"] < 1
    assert 0 < dict(facts.resolve("lost_off", "solenoid", "sol_a", "gear"))["2"] < 1
    assert facts.kind_only and facts.lost == {}


def test_unit_facts__codes_of_the_sheet() -> None:
    text = LAYOUTS["simpson_overdrive_4"].replace("id: slu, type: tcc", "id: slu, type: tcc, codes: [P0740, P2764]")
    assert unit_facts(load_sheet(text)).codes == {"P0740": ("solenoid", "slu"), "P2764": ("solenoid", "slu")}


def test_unit_facts__two_reverse_gears_keep_their_names() -> None:
    labels = [item.label for item in facts_of("series_5").instances("gear")]
    assert labels[-2:] == ["reverse R1", "reverse R2"]


def test_unit_facts__contradiction_is_refused() -> None:
    with raises(KnowledgeError) as caught:
        unit_facts(load_sheet(LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a, b, d]")))
    assert [problem.code for problem in caught.value.problems] == ["U130"]


def test_check_sheet__failsafe_that_the_solenoids_do_not_leave() -> None:
    text = (UNITS / "long6.yaml").read_text().replace('failsafe_gear: "5"', 'failsafe_gear: "3"')
    (problem,) = check_sheet(load_sheet(text))
    assert (problem.code, problem.severity) == ("U150", "warning")


@mark.parametrize("name", ["step", "step-rwd", "step-fwd"])
def test_unit_facts__kinds_have_a_place_for_ten_gears(name: str) -> None:
    facts = facts_of(name)
    assert [item.id for item in facts.instances("gear") if item.type == "forward"] == [str(n) for n in range(1, 11)]
    assert "10" in facts.lockup_gears
    assert facts.applied["overdrive_clutch", "8"] > 0.5


def _sheet(name: str) -> UnitSheet:
    return load_sheet(LAYOUTS[name] if name in LAYOUTS else UNITS / f"{name}.yaml")


def test_find_applied__held_ranges_and_coast_do_not_count() -> None:
    applied = find_applied(_sheet("long5"))
    assert ("c0", "1") not in applied
    assert applied["c0", "3"] == 1.0


def test_find_shifts__kinds_share_the_change() -> None:
    sheet = _sheet("step")
    coming, going = find_shifts(sheet, find_applied(sheet), {"3_4": ("3", "4")})
    assert coming["overdrive_clutch", "3_4"] == sheet.gears["4"].on["overdrive_clutch"]
    assert abs(going["forward_clutch", "3_4"] - 0.4) < 1e-12


def test_find_controlled__line_solenoid_works_on_all_friction_elements() -> None:
    controlled = find_controlled(_sheet("long6"))
    assert {element for solenoid, element in controlled if solenoid == "line"} == {
        "c1", "c2", "c3", "b1", "b2",
    }  # fmt: skip


def test_find_working__converter_solenoid_in_the_gears_that_lock() -> None:
    sheet = _sheet("long5")
    working = find_working(sheet, find_controlled(sheet), find_applied(sheet))
    assert {gear for solenoid, gear in working if solenoid == "tcc"} == {"4", "5"}


def test_find_switching__pattern_that_changes() -> None:
    sheet = _sheet("long5")
    applied, ends = find_applied(sheet), {"1_2": ("1", "2"), "3_4": ("3", "4")}
    switching = find_switching(sheet, find_controlled(sheet), *find_shifts(sheet, applied, ends), ends)
    assert {key for key in switching if key[0] in ("sol_a", "sol_c")} == {("sol_c", "1_2"), ("sol_a", "3_4")}


SHEETS = sorted([*LAYOUTS, *(path.stem for path in UNITS.glob("*.yaml"))])


@mark.parametrize("name", SHEETS)
def test_unit_facts__every_share_is_one_of_a_pair_that_exists(name: str) -> None:
    facts = unit_facts(_sheet(name))
    ids = {kind: {item.id for item in facts.instances(kind)} for kind in EACH}
    ids["shift"] |= ids["downshift"]
    pairs = {
        "applied": ("element", "gear"), "torque_share": ("element", "gear"), "lost_share": ("element", "gear"),
        "coming_on": ("element", "shift"), "going_off": ("element", "shift"), "controlled": ("solenoid", "element"),
        "working": ("solenoid", "gear"), "switching": ("solenoid", "shift"), "monitored": ("pressure_switch", "element"),
    }  # fmt: skip
    converter = {item.id for item in _sheet(name).elements.values() if item.type == "converter_clutch"}
    for table, (first, second) in pairs.items():
        for (one, other), share in getattr(facts, table).items():
            assert one in ids[first] | converter and other in ids[second] | converter, (table, one, other)
            assert 0 <= share <= 1 + 1e-12


@mark.parametrize("name", SHEETS)
def test_find_shifts__what_comes_and_goes_makes_the_next_gear(name: str) -> None:
    sheet = _sheet(name)
    applied = find_applied(sheet)
    forward = [gear.id for gear in sheet.gears.values() if gear.kind == "forward"]
    ends = {f"{a}_{b}": (a, b) for a, b in pairwise(forward)}
    coming, going = find_shifts(sheet, applied, ends)
    assert not coming.keys() & going.keys()
    for shift, (start, end) in ends.items():
        for element in sheet.elements:
            moved = coming.get((element, shift), 0.0) - going.get((element, shift), 0.0)
            assert applied.get((element, start), 0.0) + moved == approx(applied.get((element, end), 0.0))


@mark.parametrize("name", sorted(LAYOUTS))
def test_find_torque_shares__every_working_element_is_once_at_its_most(name: str) -> None:
    facts = unit_facts(_sheet(name))
    largest: dict[str, float] = {}
    for (element, _), share in facts.torque_share.items():
        largest[element] = max(share, largest.get(element, 0.0))
    assert {round(share, 9) for share in largest.values()} <= {0.0, 1.0}
    assert facts.torque_share.keys() == facts.applied.keys()
