import numpy as np
import pytest
from support.drives import follow, make_columns

from shiftlore.tracing.shift_events import find_shift_events, measure_shifts


def figures(unit: str = "long5", **more: object) -> dict[tuple[str, str], list[float]]:
    """Measure the shifts of a drive made by hand: (measure, shift) -> samples."""
    drive = follow(make_columns(unit, **{"rounds": 2, **more}), unit)  # type: ignore[arg-type]
    return {(one.name, one.instance): one.samples.tolist() for one in measure_shifts(drive, find_shift_events(drive))}


@pytest.mark.parametrize("seconds", [0.3, 0.6, 1.2])
def test_measure_shifts__how_long_the_input_takes_from_gear_to_gear(seconds: float) -> None:
    """The input leaves the old gear at 8 % of its way and has the new one at 92 %."""
    found = figures(shift_s=seconds)
    assert [pytest.approx(0.84 * seconds, abs=0.09)] * 2 == found["upshift_time", "2_3"]


def test_measure_shifts__from_rows_half_a_second_apart_no_time_is_told() -> None:
    assert ("upshift_time", "2_3") in figures(rate_hz=4)
    assert ("upshift_time", "2_3") not in figures(rate_hz=2)


@pytest.mark.parametrize("rpm", [150.0, 400.0, 900.0])
def test_measure_shifts__how_far_the_input_flares(rpm: float) -> None:
    found = figures(flare={(1, 2): rpm})
    assert [pytest.approx(rpm, abs=0.05 * rpm + 8)] * 2 == found["upshift_flare", "2_3"]
    assert max(found["upshift_flare", "3_4"]) < 12


def test_measure_shifts__a_shift_that_does_not_come() -> None:
    found = figures(had_instead={2: 1})
    assert [100.0, 100.0] == found["upshift_refused", "2_3"]
    assert [0.0, 0.0] == found["upshift_refused", "1_2"]
    assert ("upshift_time", "2_3") not in found


def test_measure_shifts__two_gears_at_once_brake_the_output() -> None:
    columns = make_columns(rounds=2)
    drive = follow(columns)
    event = next(one for one in find_shift_events(drive) if (one.start, one.end) == (1, 2))
    sag = np.zeros(len(columns["output_rpm"]))
    sag[event.row : event.row + 25] = np.linspace(0, 60, 25)
    sag[event.row + 25 :] = 60
    sag[event.row + 1000 :] = 0
    dips = [
        next(one.dip_percent for one in find_shift_events(follow({**columns, "output_rpm": columns["output_rpm"] - by}))
             if (one.start, one.end) == (1, 2))
        for by in (0 * sag, sag)
    ]  # fmt: skip
    assert dips[0] < 0.5
    assert dips[1] > 5.0


def test_find_shift_events__up_and_down_as_they_were_commanded() -> None:
    drive = follow(make_columns(rounds=1))
    gears = [(one.start, one.end) for one in find_shift_events(drive) if one.end > one.start]
    assert [(0, 1), (1, 2), (2, 3), (3, 4)] == gears


def test_find_shift_events__without_commands_as_they_were_had() -> None:
    columns = make_columns(rounds=1)
    del columns["gear_commanded"]
    gears = [(one.start, one.end) for one in find_shift_events(follow(columns)) if one.end > one.start]
    assert [(0, 1), (1, 2), (2, 3), (3, 4)] == gears


def test_find_shift_events__none_across_a_gap() -> None:
    columns = make_columns(rounds=1)
    whole = find_shift_events(follow(columns))
    second = next(one for one in whole if (one.start, one.end) == (1, 2))
    keep = np.ones(len(columns["time_s"]), bool)
    keep[second.row - 5 : second.row + 100] = False
    left = find_shift_events(follow({name: values[keep] for name, values in columns.items()}))
    assert (1, 2) not in [(one.start, one.end) for one in left]


@pytest.mark.parametrize("rate_hz", [10, 25, 50])
def test_find_shift_events__how_near_a_gap_is_goes_by_time(rate_hz: float) -> None:
    """A second and a half without records, a second and a half before the shift, spoils it at no rate."""
    columns = make_columns(rounds=1, rate_hz=rate_hz)
    second = next(one for one in find_shift_events(follow(columns)) if (one.start, one.end) == (1, 2))
    keep = np.ones(len(columns["time_s"]), bool)
    keep[second.row - int(3 * rate_hz) : second.row - int(1.5 * rate_hz)] = False
    left = find_shift_events(follow({name: values[keep] for name, values in columns.items()}))
    assert (1, 2) in [(one.start, one.end) for one in left]


def test_find_shift_events__coasting_is_not_judged() -> None:
    assert not any(one.pulls for one in find_shift_events(follow(make_columns(rounds=1))) if one.end < one.start)


def test_find_shift_events__what_slips_before_the_shift_or_after_it_is_no_flare() -> None:
    """The fourth of five gears slips by 400 rpm: no shift out of it, and none down into it, says anything of a flare."""
    columns = make_columns(slip={3: 400.0})
    pulling = {**columns, "throttle_percent": np.full(len(columns["time_s"]), 30.0)}
    told: dict[tuple[int, int], set[bool]] = {}
    for event in find_shift_events(follow(pulling)):
        told.setdefault((event.start, event.end), set()).add(bool(np.isfinite(event.flare_rpm)))
    assert {False} == told[3, 4] == told[3, 2] == told[4, 3]
    assert {True} == told[2, 3] == told[1, 2] == told[2, 1]
