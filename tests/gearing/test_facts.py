"""What a unit says to the rules."""

from pathlib import Path

from pytest import mark, raises
from support.layouts import UNITS, facts_of

from shiftlore.basics import UnknownId
from shiftlore.gearing import unit_facts
from shiftlore.sheets import EACH, load_sheet, where_words


def _ids(found: tuple[tuple[str, float], ...]) -> list[str]:
    return [name for name, _ in found]


def test_resolve__usual_words() -> None:
    facts = facts_of("long6")
    assert _ids(facts.resolve(None, "element", "b1", "gear")) == ["2", "6"]
    assert _ids(facts.resolve(None, "element", "b1", "shift")) == ["1_2", "5_6"]
    assert _ids(facts.resolve("going_off", "element", "b1", "shift")) == ["2_3"]
    assert _ids(facts.resolve(None, "solenoid", "sol_b", "element")) == ["b1"]
    assert _ids(facts.resolve(None, "gear", "3", "shift")) == ["2_3"]
    assert _ids(facts.resolve("out_of", "shift", "2_3", "gear")) == ["2"]
    assert _ids(facts.resolve(None, "gear", "3", "gear")) == ["3"]
    assert _ids(facts.resolve(None, "shift", "2_3", "downshift")) == ["3_2"]


def test_resolve__what_goes_off_going_up_comes_on_going_down() -> None:
    facts = facts_of("long6")
    for element in (item.id for item in facts.instances("element")):
        up = {tuple(name.split("_")) for name in _ids(facts.resolve("going_off", "element", element, "shift"))}
        down = {tuple(name.split("_")) for name in _ids(facts.resolve("coming_on", "element", element, "downshift"))}
        assert {(b, a) for a, b in up} <= down


def test_resolve__gears_by_place() -> None:
    facts = facts_of("long6")
    assert _ids(facts.resolve("reverse", None, None, "gear")) == ["r"]
    assert _ids(facts.resolve("top", None, None, "gear")) == ["6"]
    assert _ids(facts.resolve("failsafe", None, None, "gear")) == ["5"]
    assert _ids(facts.resolve("not_failsafe", None, None, "gear")) == ["1", "2", "3", "4", "6"]
    assert _ids(facts.resolve("first_up", None, None, "shift")) == ["1_2"]
    assert len(facts.resolve(None, None, None, "gear")) == 7


def test_resolve__lost_gears_follow_from_the_train() -> None:
    facts = facts_of("long5")
    assert _ids(facts.resolve("lost", "element", "b1", "gear")) == ["3"]
    assert _ids(facts.resolve("lost_off", "solenoid", "sol_c", "gear")) == ["2", "5"]


def test_share_in__reverse_brake_is_in_reverse_only() -> None:
    facts = facts_of("long6")
    assert facts.share_in("in_reverse", "element", "c2") == 1.0
    assert facts.share_in("in_top", "element", "c2") == 0.0


def test_share_in__an_upshift_leaves_first_or_enters_top() -> None:
    facts = facts_of("long5")
    ids = [shift.id for shift in facts.instances("shift")]
    assert [1.0, 0.0, 0.0, 0.0] == [facts.share_in("in_first", "shift", one) for one in ids]
    assert [0.0, 0.0, 0.0, 1.0] == [facts.share_in("in_top", "shift", one) for one in ids]


@mark.parametrize(("unit", "expected"), [("trans6", ["b2"]), ("long5", ["b2", "c0"]), ("long6", [])])
def test_share_in__coast_elements_make_the_engine_brake(unit: str, expected: list[str]) -> None:
    # From the application charts: what first applies besides its one-way clutches, or adds when it is held by hand.
    facts = facts_of(unit)
    braking = {item.id: facts.share_in("in_coast", "element", item.id) for item in facts.instances("element")}
    assert sorted(name for name, share in braking.items() if share > 0) == expected


@mark.parametrize("kind", ["element", "solenoid"])
@mark.parametrize(("unit", "odd", "even"), [("dct7", {"k1", "sol_a"}, {"k2", "sol_b"}), ("long6", set(), set())])
def test_share_in__a_clutch_and_its_solenoid_lose_one_half(unit: str, odd: set[str], even: set[str], kind: str) -> None:
    """Of two clutches each carries every second gear; a dog, or a clutch of another box, loses no half."""
    facts = facts_of(unit)
    for where, expected in (("lost_odd", odd), ("lost_even", even)):
        shares = {item.id: facts.share_in(where, kind, item.id) for item in facts.instances(kind)}
        assert {name for name, share in shares.items() if share > 0} == expected & shares.keys()


def test_share_in__of_an_unknown_unit_as_surely_as_its_chart_says() -> None:
    facts = facts_of("dct")
    assert (
        facts.share_in("lost_even", "solenoid", "sol_b") > 0.6 > 0.1 > facts.share_in("lost_even", "solenoid", "sol_c")
    )
    assert facts.share_in("lost_odd", "solenoid", "sol_b") == facts.share_in("lost_odd", "element", "nothing") == 0.0


@mark.parametrize("where", ["nowhere", "applied"])
def test_resolve__unknown_word_is_told(where: str) -> None:
    with raises(UnknownId):
        facts_of("long6").resolve(where, "solenoid", "sol_a", "shift")


WORDS = sorted({word for parent in (None, *EACH) for target in EACH for word in where_words(parent, target)})


@mark.parametrize("parent", [None, *EACH])
@mark.parametrize("target", EACH)
def test_resolve__takes_the_words_of_the_table_and_no_others(parent: str | None, target: str) -> None:
    facts = facts_of("long5")
    here = facts.instances(parent)[0].id if parent and facts.instances(parent) else None
    for word in WORDS:
        if word not in where_words(parent, target):
            with raises(UnknownId):
                facts.resolve(word, parent, here, target)
        elif here or parent is None:
            assert all(0 < share <= 1 for _, share in facts.resolve(word, parent, here, target))


@mark.parametrize("path", sorted(UNITS.glob("*.yaml")), ids=lambda path: path.stem)
def test_resolve__every_word_on_every_unit(path: Path) -> None:
    facts = unit_facts(load_sheet(path))
    for parent in (None, *EACH):
        for target in EACH:
            for where in where_words(parent, target):
                for item in facts.instances(parent) if parent else (None,):
                    found = facts.resolve(where, parent, item.id if item else None, target)
                    assert all(0 < share <= 1 for _, share in found)


def test_resolve__from_a_single_record_to_the_instances_of_one_type() -> None:
    """A wheel speed sensor disturbs the vehicle speed, which is told as of the output, and no other speed."""
    facts = facts_of("long5")
    sensors = {item.id: item.type for item in facts.by_kind["speed_sensor"]}
    found = _ids(facts.resolve("type_output", None, None, "speed_sensor"))
    assert found == [key for key, kind in sensors.items() if kind == "output"] and 0 < len(found) < len(sensors)
    with raises(UnknownId, match="no where"):
        facts.resolve("type_output", "element", "b1", "gear")
