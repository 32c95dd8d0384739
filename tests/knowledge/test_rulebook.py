"""What is asked of the trade as a whole, and of the shop."""

import pytest
from support.trade import shipped

from shiftlore.basics import UnknownId
from shiftlore.knowledge import Gauge, Knowledge, answer_number
from shiftlore.knowledge.rulebook import Guess
from shiftlore.sheets.unit_sheets import AccessMinutes


def test_sheet_of__an_unknown_unit_names_the_nearest():
    with pytest.raises(UnknownId, match='There is no unit "long7"'):
        shipped().sheet_of("long7")


def test_access_path__innermost_first_down_to_the_closed_unit():
    path = shipped().access_path("valve_body_out")
    assert "valve_body_out" == path[0] and shipped().access[path[-1]].parent is None
    assert list(path[1:]) == [shipped().access[level].parent for level in path[:-1]]


def test_access_minutes__the_sheets_own_go_before_the_usual():
    usual = shipped().access["pan_off"]
    plain = next(iter(shipped().sheets.values())).vary(access={})
    own = plain.vary(access={"pan_off": AccessMinutes(usual.open_minutes + 7, None)})
    assert (usual.open_minutes, usual.close_minutes) == shipped().access_minutes(plain, "pan_off")
    assert (usual.open_minutes + 7, usual.close_minutes) == shipped().access_minutes(own, "pan_off")


def test_jobs_within__all_that_is_done_with_a_job() -> None:
    within = shipped().jobs_within
    assert frozenset() == within("level_correction")
    assert {"plain_service", *within("plain_service")} == within("service_twice") < within("fluid_exchange_lines")


def test_jobs_within__two_that_contain_each_other_do_not_hang() -> None:
    jobs = {key: shipped().jobs[key].vary(contains=(other,)) for key, other in [("plain_service", "dry_out")]}
    jobs["dry_out"] = shipped().jobs["dry_out"].vary(contains=("plain_service",))
    knowledge = Knowledge(shipped().words, jobs=jobs)
    assert {"dry_out"} == knowledge.jobs_within("plain_service")
    assert knowledge.kind_of_cure("dry_out") == knowledge.kind_of_cure("plain_service") != ""


def test_kind_of_cure__jobs_that_contain_the_same_are_alike() -> None:
    kind = shipped().kind_of_cure
    assert kind("fluid_exchange_lines") == kind("fluid_exchange_machine") == kind("level_correction") != ""
    assert "" == kind("converter_exchange_job")


SHOP = shipped().shop.vary(tools=("jack", "meter"), tools_borrowed=("press",))


def test_has__what_is_at_hand_and_what_can_be_borrowed() -> None:
    assert SHOP.has(["jack"]) and SHOP.has(["press", "meter"])


def test_has__nothing_is_needed() -> None:
    assert SHOP.has([])


def test_has__one_tool_that_is_missing_is_enough() -> None:
    assert not SHOP.has(["jack", "crane"])


INSIDE = Gauge("time", "delay", high=1.5, above="delayed", further={"long": 3.0})
WIDE = Gauge("pressure", "line", low=250, high=1000, below="low", above="high", wide=True)


@pytest.mark.parametrize(
    ("value", "expected"), [(1.0, "right"), (1.5, "right"), (2.0, "delayed"), (3.0, "long"), (9.0, "long")]
)
def test_answer_number__within_and_beyond_its_bounds(value, expected):
    assert expected == answer_number(INSIDE, value, "right")


@pytest.mark.parametrize(("value", "expected"), [(100, "low"), (500, None), (2000, "high")])
def test_answer_number__wide_bounds_say_nothing_of_what_is_within(value, expected):
    assert expected == answer_number(WIDE, value, "right")


@pytest.mark.parametrize(("value", "expected"), [(400, "low"), (500, "right"), (700, "high")])
def test_answer_number__stated_bounds_go_first(value, expected):
    assert expected == answer_number(WIDE, value, "right", stated=(450, 600))


def test_answer_number__nothing_without_bounds():
    assert answer_number(Gauge("pressure", "x", below="low"), 5, "right") is None


@pytest.mark.parametrize(
    ("fewest", "most", "speeds", "expected"),
    [
        (None, 3, 3, True),
        (None, 3, 4, False),
        (5, None, 8, True),
        (5, None, 4, False),
        (4, 4, 4, True),
        (None, 3, None, False),
    ],
)
def test_holds_for__so_many_gears(fewest, most, speeds, expected):
    assert expected is Guess({"yes": 1.0}, fewest=fewest, most=most).holds_for(speeds)


def test_holds_for__without_a_number_any_vehicle():
    assert Guess({"yes": 1.0}).holds_for(None) and Guess({"yes": 1.0}).holds_for(9)
