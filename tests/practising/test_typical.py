"""A made-up vehicle shows what defines its fault, and nothing that nothing in it makes."""

import pytest
from support.practice import undriven
from support.trade import unit_of

from shiftlore.practising.exercises import bench_of
from shiftlore.practising.typical import LIFT_STRAY, P_DEFINES, P_STRAY, find_typical, make_typical


def place_of(unit: str, cause: str) -> int:
    """Give the place of a cause among those of a unit."""
    return bench_of(unit_of(unit)).compiled.causes.index(cause)


@pytest.mark.parametrize(
    ("unit", "cause", "sign"),
    [
        ("cvt", "regulator_valve_stuck_low", "line_pressure_stall"),
        ("long6", "regulator_bore_worn", "line_pressure_falls_hot"),
        ("trans6", "speed_sensor_failed_input_speed", "speed_signal_drops_input_speed"),
        ("trans6", "speed_sensor_failed_input_speed", "code_speed_sensor_input_speed"),
    ],
)
def test_find_typical__what_a_tool_shows_of_a_fault(unit: str, cause: str, sign: str) -> None:
    """Common practice: a regulator that sticks low reads low under load, a dead sensor has its code and no signal."""
    typical = find_typical(bench_of(unit_of(unit)), [place_of(unit, cause)])
    assert typical.defining[sign] and sign not in typical.stray


def test_find_typical__shares_are_those_of_the_engine() -> None:
    bench, cause = bench_of(unit_of("long5")), place_of("long5", "pump_worn")
    typical, names = find_typical(bench, [cause]), [*bench.compiled.expansion.findings]
    for name, table in bench.compiled.engine.predict({}, names).items():
        p, usual = 1 - table[0, cause + 1], 1 - table[0, 0]
        assert (p < min(P_STRAY, LIFT_STRAY * usual)) == (name in typical.stray)
        assert p >= P_DEFINES or name not in typical.defining


def test_find_typical__a_worn_bore_is_not_worse_cold() -> None:
    """Common practice: what leaks past a worn bore leaks more as the fluid thins; a condition is seldom mere chance."""
    assert "worse_cold" in find_typical(bench_of(unit_of("long6")), [place_of("long6", "regulator_bore_worn")]).stray


def test_make_typical__what_is_kept_stays() -> None:
    bench, cause = bench_of(unit_of("long5")), place_of("long5", "pump_worn")
    typical, readings = find_typical(bench, [cause]), dict.fromkeys(bench.compiled.expansion.findings, 0)
    sign, stray = next(iter(typical.defining)), min(typical.stray)
    made = make_typical(bench, [cause], {**readings, stray: 1})
    assert typical.defining[sign] == made[sign] and not made[stray]
    made = make_typical(bench, [cause], {**readings, stray: 1}, kept=(sign, stray))
    assert (0, 1) == (made[sign], made[stray])


@pytest.mark.parametrize("level", [1, 2, 3, 4])
def test_draw_exercise__shows_what_defines_it_and_nothing_stray(level: int) -> None:
    for seed in range(6):
        exercise = undriven(level, seed)
        typical = find_typical(exercise.bench, exercise.vehicle.causes)
        shown = {name for name, state in exercise.vehicle.readings.items() if state}
        records = exercise.bench.compiled.expansion.finding_records
        ruled_out = {name for key in shown for name in (*records[key].never_with, *records[key].denied_by)}
        missing = {name for name in typical.defining if name not in shown and records[name].id not in ruled_out}
        assert not missing
        brought = {name for key in shown for name in (*records[key].includes, *records[key].shows_with)}
        assert not {name for name in typical.stray & shown if records[name].id not in brought}
