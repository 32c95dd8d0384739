import numpy as np
import pytest
from support.drives import follow, make_columns

from shiftlore.tracing.gear_measures import measure_gears, measure_use, see_gears


def measured(**more: object) -> dict[tuple[str, str], np.ndarray]:
    """Measure a drive made by hand."""
    drive = follow(make_columns(**{"rounds": 2, **more}))  # type: ignore[arg-type]
    return {(one.name, one.instance): one.samples for one in (*measure_gears(drive), *measure_use(drive))}


@pytest.mark.parametrize("rpm", [60.0, 120.0, 350.0])
def test_measure_gears__slip_is_what_was_put_in(rpm: float) -> None:
    found = measured(slip={2: rpm})
    assert rpm == pytest.approx(float(np.median(found["gear_slip", "3"])), abs=2)
    assert 0.0 == pytest.approx(float(np.median(found["gear_slip", "4"])), abs=2)


def test_measure_gears__another_gear_is_no_slip() -> None:
    found = measured(had_instead={2: 1})
    assert {100.0} == set(found["other_gear", ""].tolist())
    assert {100.0} == set(found["gear_refused", "3"].tolist())
    assert {0.0} == set(found["gear_refused", "4"].tolist())
    assert ("gear_slip", "3") not in found


def test_measure_gears__a_gear_that_slips_a_little_is_had() -> None:
    assert {0.0} == set(measured(slip={2: 100})["gear_refused", "3"].tolist())


@pytest.mark.parametrize("noise", [0.0, 5.0, 15.0])
def test_measure_gears__noise_makes_no_slip(noise: float) -> None:
    found = measured(noise=noise)
    assert all(abs(float(np.median(found["gear_slip", gear]))) < 5 for gear in "12345")


@pytest.mark.parametrize("turbine", [0.0, 1100.0])
def test_measure_gears__a_turbine_that_turns_in_the_stall_slips(turbine: float) -> None:
    columns = make_columns(rounds=1)
    rows = slice(0, 400)
    for name, value in (("input_rpm", turbine), ("output_rpm", 0.0), ("throttle_percent", 100.0)):
        columns[name] = columns[name].copy()
        columns[name][rows] = value + np.arange(400) % 3  # no signal stands still
    columns["gear_commanded"] = columns["gear_commanded"].copy()
    columns["gear_commanded"][rows] = "1"
    columns["lever"] = np.full(len(columns["time_s"]), "D")
    slips = {one.instance: one.samples for one in measure_gears(follow(columns)) if one.name == "gear_slip"}
    assert turbine == pytest.approx(float(np.median(slips["1"])), abs=5)


def test_see_gears__ratios_and_slip_in_percent() -> None:
    seen = see_gears(follow(make_columns(rounds=2, slip={3: 200})))
    assert pytest.approx(1.463, abs=0.002) == seen["3"].ratio_median
    assert seen["4"].ratio_median is not None and seen["4"].slip_percent is not None
    assert pytest.approx(100 * (1 - 1 / seen["4"].ratio_median), abs=0.01) == seen["4"].slip_percent
    assert (None, 0) == (seen["R"].ratio_median, seen["R"].samples)
    assert pytest.approx(-2.529, abs=0.001) == seen["R"].ratio_nominal


def test_measure_use__one_gear_for_the_whole_drive() -> None:
    found = measured(had_instead={0: 3, 1: 3, 2: 3, 4: 3})
    assert 100.0 == pytest.approx(float(found["one_gear", ""][0]))
    assert 100.0 == pytest.approx(float(found["gear_kept", "4"][0]))
    assert 0.0 == float(found["gear_kept", "3"][0])
    assert 100.0 == pytest.approx(float(found["fallback_gear", ""][0]))
    assert {4.0} == set(found["start_gear", ""].tolist())


def test_measure_use__a_sound_drive_starts_in_first_and_jumps_none() -> None:
    found = measured()
    assert {1.0} == set(found["start_gear", ""].tolist())
    assert {0.0} == set(found["gear_jumped", ""].tolist())
    assert found["one_gear", ""][0] < 60
    assert 0.0 == float(found["gears_hunted", ""][0])


def test_measure_use__hunting_with_a_still_pedal_is_counted_a_minute() -> None:
    columns = make_columns(rounds=2)
    gears = columns["gear_commanded"].copy()
    for first in range(1900, 2600, 200):
        gears[first : first + 100] = "4"
    drive = follow({**columns, "gear_commanded": gears})
    (hunted,) = [one for one in measure_use(drive) if one.name == "gears_hunted"]
    minutes = float((drive.commanded >= 0).sum()) * drive.step / 60
    assert 9 / minutes == pytest.approx(float(hunted.samples[0]))


@pytest.mark.parametrize(("percent", "hunted"), [(15.0, 2), (44.0, 1)])
def test_measure_use__a_foot_that_goes_down_in_the_row_of_the_gear_that_answers_is_no_hunting(
    percent: float, hunted: int
) -> None:
    """Source: a simulated sound drive at 5 rows a second, in which kickdowns passed for hunting."""
    columns = make_columns(rounds=2, rate_hz=5)
    columns["gear_commanded"][190:200] = "4"
    columns["throttle_percent"][200:205] = percent
    (found,) = [one for one in measure_use(follow(columns)) if one.name == "gears_hunted"]
    minutes = float(np.isin(columns["gear_commanded"], list("12345")).sum()) * 0.2 / 60
    assert hunted / minutes == pytest.approx(float(found.samples[0]))


def test_measure_use__a_short_drive_says_nothing_of_gears_that_never_come() -> None:
    columns = {name: values[:900] for name, values in make_columns(rounds=1).items()}
    assert "one_gear" not in {one.name for one in measure_use(follow(columns))}
