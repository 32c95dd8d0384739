from functools import cache

import numpy as np
import pytest
from support.drives import as_recording, follow, make_columns, table_of
from support.trade import shipped

from shiftlore.gearing import unit_facts
from shiftlore.tracing import LogProblem
from shiftlore.tracing.gears_had import (
    NO_GEAR,
    GearTable,
    find_plateaus,
    follow_gears,
    match_units,
    place_ratios,
    say_speeds,
    share_as_commanded,
    smooth_speed,
    steady_runs,
    tabulate_gears,
)

UNITS = ("long5", "long6", "long8", "trans4", "trans6")


@cache
def tables() -> tuple[GearTable, ...]:
    """Give the gears of every unit that has a sheet."""
    return tuple(table_of(unit) for unit in UNITS)


@pytest.mark.parametrize("unit", UNITS)
def test_tabulate_gears__forward_ratios_fall_and_are_those_of_the_sheet(unit: str) -> None:
    table, sheet = table_of(unit), shipped().sheets[unit]
    assert (np.diff(table.ratios) < 0).all()
    printed = [gear.ratio for gear in sheet.gears.values() if gear.kind == "forward"]
    assert [pytest.approx(ratio, rel=0.005) for ratio in printed] == table.ratios.tolist()
    assert sheet.failsafe_gear == (None if table.fallback is None else table.names[table.fallback])


@pytest.mark.parametrize("unit", ["step", "cvt"])
def test_tabulate_gears__a_kind_or_a_belt_has_none(unit: str) -> None:
    assert tabulate_gears(unit_facts(shipped().sheets[unit])) is None


@pytest.mark.parametrize("unit", UNITS)
def test_follow_gears__had_is_commanded_in_a_sound_drive(unit: str) -> None:
    drive = follow(make_columns(unit, rounds=1), unit)
    assert 1.0 == share_as_commanded(drive)
    assert set(range(len(drive.table.names))) <= set(drive.had.tolist())
    assert drive.scale is None and not drive.is_engine


def test_follow_gears__of_a_gear_that_is_not_had_it_tells_the_one_that_is() -> None:
    drive = follow(make_columns(rounds=1, had_instead={2: 1}))
    held = drive.had[(drive.commanded == 2) & (drive.output > 1500)]
    assert 1 == int(np.median(held))


def test_follow_gears__road_speed_stands_in_for_output_speed() -> None:
    columns = make_columns(rounds=1)
    del columns["output_rpm"]
    drive = follow(columns)
    assert 30.0 == pytest.approx(drive.scale, rel=0.01)
    assert 1.0 == pytest.approx(share_as_commanded(drive) or 0.0, abs=0.02)


def test_follow_gears__without_commands_the_scale_is_that_which_fits_every_gear() -> None:
    columns = make_columns(rounds=2)
    del columns["output_rpm"], columns["gear_commanded"], columns["lever"]
    assert 30.0 == pytest.approx(follow(columns).scale, rel=0.01)


def test_follow_gears__road_speed_that_fits_in_several_ways_tells_when_it_stands_and_no_more() -> None:
    """From third to fourth gear of this unit is as far as from fourth to fifth, within a hundredth."""
    columns = make_columns(rounds=2)
    pull = np.isin(columns["gear_commanded"], ["1", "2"])
    drive = follow({name: columns[name][pull] for name in ("time_s", "engine_rpm", "road_kmh")})
    assert drive.scale is None and {NO_GEAR} == set(drive.had.tolist())
    assert {0.0} == set(drive.output[np.isfinite(drive.output)].tolist())


def test_match_units__two_gears_by_road_speed_alone_are_no_match() -> None:
    columns = make_columns(rounds=2)
    some = np.isin(columns["gear_commanded"], ["4", "5"])
    alone = as_recording({name: columns[name][some] for name in ("time_s", "engine_rpm", "road_kmh")})
    assert () == match_units(alone, tables())


def test_say_speeds__which_columns_they_are() -> None:
    assert 'Taken for: engine_rpm is "engine_rpm", road_kmh is "road_kmh".' == say_speeds(
        as_recording({name: make_columns(rounds=1)[name] for name in ("time_s", "engine_rpm", "road_kmh", "lever")})
    )


def test_follow_gears__engine_speed_stands_in_where_it_is_locked() -> None:
    columns = make_columns(rounds=2)
    del columns["input_rpm"]
    drive = follow(columns)
    locked = columns["converter_clutch_percent"] > 80
    assert drive.is_engine
    assert {4} == set(drive.had[locked & (columns["output_rpm"] > 2999)].tolist()) - {NO_GEAR}


@pytest.mark.parametrize(
    ("lacking", "match"),
    [
        (("engine_rpm", "input_rpm"), "Neither engine nor input"),
        (("output_rpm", "road_kmh"), "Neither output nor road"),
    ],
)
def test_follow_gears__names_the_speeds_that_it_takes(lacking: tuple[str, ...], match: str) -> None:
    columns = {name: values for name, values in make_columns(rounds=1).items() if name not in lacking}
    with pytest.raises(LogProblem, match=match):
        follow(columns)


def test_follow_gears__another_vehicles_log_is_refused_with_its_ratios() -> None:
    with pytest.raises(LogProblem, match=r"The ratios of this log, 3\.62, .* fit no gears of long5"):
        follow_gears(as_recording(make_columns("long6", rounds=2)), table_of("long5"))


def test_follow_gears__one_that_slips_everywhere_is_not() -> None:
    drive = follow(make_columns(rounds=2, slip={0: 400, 1: 300, 2: 350, 3: 300, 4: 320}))
    assert NO_GEAR == int(np.median(drive.had[drive.commanded == 3]))


@pytest.mark.parametrize("unit", UNITS)
def test_match_units__finds_the_unit_by_its_ratios(unit: str) -> None:
    matches = match_units(as_recording(make_columns(unit, rounds=2)), tables())
    assert (unit, len(table_of(unit).names)) == (matches[0].unit, matches[0].found)


def test_match_units__none_for_ratios_of_no_sheet() -> None:
    columns = make_columns(rounds=2)
    columns["input_rpm"] = columns["input_rpm"] * 1.21
    del columns["gear_commanded"]
    assert () == match_units(as_recording(columns), tables())


def test_place_ratios__within_a_measurements_doubt_and_no_farther() -> None:
    ratios = table_of().ratios
    measured = np.array([ratios[1] * 1.02, ratios[1] * 1.035, ratios[4] * 0.98, np.nan, 9.0])
    assert [1, NO_GEAR, 4, NO_GEAR, NO_GEAR] == place_ratios(measured, ratios).tolist()


def test_find_plateaus__lasting_ratios_and_no_passing_ones() -> None:
    ratio = np.concatenate((np.full(400, 2.0), np.linspace(2.0, 1.0, 100), np.full(900, 1.0), np.full(300, np.nan)))
    found = find_plateaus(ratio, 0.02)
    assert [1.0, 2.0] == [pytest.approx(value, rel=0.01) for value in found.tolist()]


def test_steady_runs__a_gear_gets_its_time_and_no_gap_is_inside() -> None:
    columns = make_columns(rounds=1)
    columns["time_s"] = columns["time_s"].copy()
    columns["time_s"][2000:] += 30
    drive = follow(columns)
    for gear, first, end in steady_runs(drive, 1.3):
        assert {gear} == set(drive.commanded[first:end].tolist())
        assert not ((drive.fresh > first) & (drive.fresh < end)).any()
        assert drive.commanded[first - 50] == gear


def test_smooth_speed__a_slow_log_is_left_as_it_is() -> None:
    values = np.array([1.0, 9.0, 1.0, 1.0])
    assert values.tolist() == smooth_speed(values, 0.5).tolist()


def test_follow_gears__a_vehicle_that_never_moves_has_no_gear_and_is_not_another() -> None:
    columns = make_columns(rate_hz=25)
    still = np.zeros(len(columns["time_s"]))
    drive = follow({**columns, "output_rpm": still, "road_kmh": still})
    assert set() == {gear for gear in np.unique(drive.had).tolist() if gear >= 0}
