"""What a unit says to the rules."""

from pathlib import Path

from pytest import approx, mark, raises
from support.layouts import LAYOUTS

from shiftlore.basics import KnowledgeError, UnknownId
from shiftlore.gearing import UnitFacts, check_sheet, unit_facts
from shiftlore.sheets import EACH, load_sheet, where_words

UNITS = Path(__file__).parents[2] / "knowledge" / "units"


def _facts(name: str) -> UnitFacts:
    return unit_facts(load_sheet(LAYOUTS[name] if name in LAYOUTS else UNITS / f"{name}.yaml"))


def _ids(found: tuple[tuple[str, float], ...]) -> list[str]:
    return [name for name, _ in found]


def test_unit_facts__instances_of_the_five_speed() -> None:
    facts = _facts("long5")
    assert [item.id for item in facts.instances("gear")] == ["1", "2", "3", "4", "5", "r"]
    assert [item.label for item in facts.instances("shift")] == ["1-2", "2-3", "3-4", "4-5"]
    assert "k1" not in [item.id for item in facts.instances("element")]
    assert facts.instances("solenoid")[0].names == ("A", "sol_a")
    assert {"one_way_clutch", "band", "pressure_switch", "converter", "no_dipstick"} <= facts.tags


def test_resolve__usual_words() -> None:
    facts = _facts("long6")
    assert _ids(facts.resolve(None, "element", "brake_x", "gear")) == ["2", "6"]
    assert _ids(facts.resolve(None, "element", "brake_x", "shift")) == ["1_2", "5_6"]
    assert _ids(facts.resolve("going_off", "element", "brake_x", "shift")) == ["2_3"]
    assert _ids(facts.resolve(None, "solenoid", "sol_b", "element")) == ["brake_x"]
    assert _ids(facts.resolve(None, "gear", "3", "shift")) == ["2_3"]
    assert _ids(facts.resolve("out_of", "shift", "2_3", "gear")) == ["2"]
    assert _ids(facts.resolve(None, "gear", "3", "gear")) == ["3"]


def test_resolve__gears_by_place() -> None:
    facts = _facts("long6")
    assert _ids(facts.resolve("reverse", None, None, "gear")) == ["r"]
    assert _ids(facts.resolve("top", None, None, "gear")) == ["6"]
    assert _ids(facts.resolve("failsafe", None, None, "gear")) == ["5"]
    assert _ids(facts.resolve("not_failsafe", None, None, "gear")) == ["1", "2", "3", "4", "6"]
    assert _ids(facts.resolve("first_up", None, None, "shift")) == ["1_2"]
    assert len(facts.resolve(None, None, None, "gear")) == 7


def test_resolve__lost_gears_follow_from_the_train() -> None:
    facts = _facts("long5")
    assert _ids(facts.resolve("lost", "element", "b1", "gear")) == ["3"]
    assert _ids(facts.resolve("lost_off", "solenoid", "sol_c", "gear")) == ["2", "5"]


def test_share_in__reverse_brake_is_in_reverse_only() -> None:
    facts = _facts("long6")
    assert facts.share_in("in_reverse", "element", "clutch_b") == 1.0
    assert facts.share_in("in_top", "element", "clutch_b") == 0.0


@mark.parametrize("where", ["nowhere", "applied"])
def test_resolve__unknown_word_is_told(where: str) -> None:
    with raises(UnknownId):
        _facts("long6").resolve(where, "solenoid", "sol_a", "shift")


WORDS = sorted({word for parent in (None, *EACH) for target in EACH for word in where_words(parent, target)})


@mark.parametrize("parent", [None, *EACH])
@mark.parametrize("target", EACH)
def test_resolve__takes_the_words_of_the_table_and_no_others(parent: str | None, target: str) -> None:
    facts = _facts("long5")
    here = facts.instances(parent)[0].id if parent and facts.instances(parent) else None
    for word in WORDS:
        if word not in where_words(parent, target):
            with raises(UnknownId):
                facts.resolve(word, parent, here, target)
        elif here or parent is None:
            assert all(0 < share <= 1 for _, share in facts.resolve(word, parent, here, target))


def test_torque_share__largest_gear_is_one() -> None:
    facts = _facts("long6")
    assert facts.torque_share["clutch_a", "1"] == 1.0
    # By statics: the small sun carries 0.42 of the input torque in fourth, the whole reduced torque in first.
    assert facts.torque_share["clutch_a", "4"] == approx(0.275, abs=0.01)
    assert facts.torque_share["brake_y", "1"] == approx(2.62 / 4.93, abs=0.01)


def test_controlled__told_from_the_pattern() -> None:
    facts = _facts("crossed_4")
    assert facts.controlled["sol_a", "second_fourth_band"] == 1.0
    assert ("sol_a", "third_fourth") not in facts.controlled


def test_unit_facts__kinds_keep_doubt() -> None:
    facts = _facts("step")
    shares = dict(facts.resolve(None, "element", "forward_clutch", "gear"))
    assert shares["1"] == 1.0 and 0 < shares["4"] < 1
    assert 0 < dict(facts.resolve("lost_off", "solenoid", "sol_a", "gear"))["2"] < 1
    assert facts.kind_only and facts.lost == {}


def test_unit_facts__codes_of_the_sheet() -> None:
    text = LAYOUTS["simpson_overdrive_4"].replace("id: slu, type: tcc", "id: slu, type: tcc, codes: [P0740, P2764]")
    assert unit_facts(load_sheet(text)).codes == {"P0740": ("solenoid", "slu"), "P2764": ("solenoid", "slu")}


def test_unit_facts__two_reverse_gears_keep_their_names() -> None:
    labels = [item.label for item in _facts("series_5").instances("gear")]
    assert labels[-2:] == ["reverse R1", "reverse R2"]


def test_unit_facts__contradiction_is_refused() -> None:
    with raises(KnowledgeError) as caught:
        unit_facts(load_sheet(LAYOUTS["lepelletier_6"].replace("on: [a, b]", "on: [a, b, d]")))
    assert [problem.code for problem in caught.value.problems] == ["U130"]


def test_check_sheet__failsafe_that_the_solenoids_do_not_leave() -> None:
    text = (UNITS / "long6.yaml").read_text().replace('failsafe_gear: "5"', 'failsafe_gear: "3"')
    (problem,) = check_sheet(load_sheet(text))
    assert (problem.code, problem.severity) == ("U150", "warning")


@mark.parametrize("path", sorted(UNITS.glob("*.yaml")), ids=lambda path: path.stem)
def test_resolve__every_word_on_every_unit(path: Path) -> None:
    facts = unit_facts(load_sheet(path))
    for parent in (None, *EACH):
        for target in EACH:
            for where in where_words(parent, target):
                for item in facts.instances(parent) if parent else (None,):
                    found = facts.resolve(where, parent, item.id if item else None, target)
                    assert all(0 < share <= 1 for _, share in found)


@mark.parametrize("name", ["step", "step-rwd", "step-fwd"])
def test_unit_facts__kinds_have_a_place_for_ten_gears(name: str) -> None:
    facts = _facts(name)
    assert [item.id for item in facts.instances("gear") if item.type == "forward"] == [str(n) for n in range(1, 11)]
    assert "10" in facts.lockup_gears
    assert facts.applied["overdrive_clutch", "8"] > 0.5
