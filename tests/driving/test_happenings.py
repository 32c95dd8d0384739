"""Events are read off true columns; here of columns made by hand, so that every size is known."""

from typing import Any

import numpy as np
from pytest import approx, mark

from shiftlore.driving.happenings import find_lockup, find_shifts, find_slip, find_stall, list_events, list_spans

RATIOS = {"1": 3.0, "2": 2.0, "R": -2.5}
TIME = np.arange(0, 10, 0.02)
ROWS = len(TIME)


def _columns(**changes: Any) -> dict[str, np.ndarray]:
    commanded = np.where(TIME < 5, "1", "2")
    output = np.full(ROWS, 800.0)
    usual = {
        "time_s": TIME,
        "gear_commanded": commanded,
        "output_rpm": output,
        "input_rpm": output * np.where(TIME < 5.4, 3.0, 2.0),
        "engine_rpm": output * np.where(TIME < 5.4, 3.0, 2.0) + 100,
        "road_kmh": 20 + 3.6 * TIME,
        "throttle_percent": np.full(ROWS, 40.0),
        "converter_clutch_percent": np.zeros(ROWS),
    }
    return usual | changes


HAD = np.select([TIME < 5, TIME < 5.4], ["1", ""], "2")


@mark.parametrize(
    ("flags", "spans"),
    [([], []), ([0, 0], []), ([1, 1], [(0, 1)]), ([0, 1, 0, 1, 1], [(1, 1), (3, 4)])],
)
def test_list_spans__gives_first_and_last(flags: list[int], spans: list[tuple[int, int]]) -> None:
    assert spans == list(list_spans(np.array(flags, dtype=bool)))


def test_find_shifts__times_a_shift_from_command_to_gear() -> None:
    found = find_shifts(_columns(), HAD, RATIOS)
    assert [("shift", "1-2")] == [(event.kind, event.name) for event in found]
    assert (5.0, 0.4) == approx((found[0].start_s, found[0].size))


def test_find_shifts__measures_a_flare_above_both_gears() -> None:
    columns = _columns()
    columns["input_rpm"] = np.where((TIME > 5.1) & (TIME < 5.3), 2400.0 + 350.0, columns["input_rpm"])
    flare = [event for event in find_shifts(columns, HAD, RATIOS) if event.kind == "flare"]
    assert [350.0] == approx([event.size for event in flare])


def test_find_shifts__a_small_overshoot_is_no_flare() -> None:
    columns = _columns()
    columns["input_rpm"] = np.where((TIME > 5.1) & (TIME < 5.3), 2450.0, columns["input_rpm"])
    assert ["shift"] == [event.kind for event in find_shifts(columns, HAD, RATIOS)]


def test_find_shifts__measures_a_bind_as_a_dip_under_power() -> None:
    speed = np.cumsum(np.where((TIME > 5.1) & (TIME < 5.4), -1.5, 1.0)) * 0.02 * 3.6
    bind = [event for event in find_shifts(_columns(road_kmh=speed), HAD, RATIOS) if event.kind == "bind"]
    assert [2.5] == approx([event.size for event in bind], abs=1e-6)
    coasting = _columns(road_kmh=speed, throttle_percent=np.zeros(ROWS))
    assert ["shift"] == [event.kind for event in find_shifts(coasting, HAD, RATIOS)]


def test_find_shifts__a_gear_from_no_gear_is_an_engagement() -> None:
    found = find_shifts(_columns(gear_commanded=np.where(TIME < 5, "N", "R")), np.where(TIME < 6.2, "", "R"), RATIOS)
    assert [("engage", "N-R")] == [(event.kind, event.name) for event in found]
    assert 1.2 == approx(found[0].size)


def test_find_shifts__a_gear_never_had_lasts_to_the_end() -> None:
    found = find_shifts(_columns(), np.where(TIME < 5, "1", ""), RATIOS)
    assert TIME[-1] - 5.0 == approx(found[0].size)


def test_find_slip__tells_a_settled_gear_that_is_not_held() -> None:
    columns = _columns()
    slips = (TIME > 8) & (TIME < 9)
    columns["input_rpm"] = np.where(slips, 1800.0, columns["input_rpm"])
    found = find_slip(columns, np.where(slips, "", HAD), RATIOS)
    assert [("slip", "2", 200.0)] == [(event.kind, event.name, event.size) for event in found]


def test_find_slip__overrun_and_shifts_are_no_slip() -> None:
    columns = _columns()
    columns["input_rpm"] = np.where(TIME > 8, 1200.0, columns["input_rpm"])
    assert [] == find_slip(columns, np.where(TIME > 8, "", HAD), RATIOS)
    assert [] == find_slip(_columns(), HAD, RATIOS)


def test_find_lockup__tells_slip_and_swing_of_a_closed_clutch() -> None:
    full = np.where(TIME > 6, 100.0, 0.0)
    turbine = _columns()["input_rpm"]
    steady = find_lockup(_columns(converter_clutch_percent=full, engine_rpm=turbine + 60))
    assert [("lockup_slip", 60.0)] == [(event.kind, event.size) for event in steady]
    swings = find_lockup(
        _columns(converter_clutch_percent=full, engine_rpm=turbine + 15 * np.sin(2 * np.pi * 11 * TIME))
    )
    assert ["lockup_shudder"] == [event.kind for event in swings]
    assert 15.0 == approx(swings[0].size, rel=0.03)
    assert [] == find_lockup(_columns(converter_clutch_percent=full, engine_rpm=turbine))


def test_find_stall__tells_the_most_speed() -> None:
    stalled = (TIME > 2) & (TIME < 4)
    found = find_stall(_columns(engine_rpm=np.where(stalled, 2300.0, 700.0)), stalled)
    assert [("stalled", 2300.0)] == [(event.kind, event.size) for event in found]


def test_list_events__gathers_all_kinds() -> None:
    columns = _columns(converter_clutch_percent=np.where(TIME > 6, 100.0, 0.0))
    kinds = {event.kind for event in list_events(columns, HAD, RATIOS, (TIME > 2) & (TIME < 3))}
    assert {"shift", "lockup_slip", "stalled"} == kinds
