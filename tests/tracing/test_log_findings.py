from dataclasses import replace

import numpy as np
import pytest
from support.drives import as_recording, make_columns, sound_trace, telling, trace_columns
from support.trade import shipped, unit_of

from shiftlore.knowledge.forms import LOG_MEASURES
from shiftlore.tracing.log_findings import LogJudge, TracedFinding
from shiftlore.tracing.measured import Figures

UNIT = unit_of("long5")
RECORDING = as_recording(make_columns(rounds=1))


def judged(name: str, instance: str, *samples: float, exact: bool = False) -> dict[str, TracedFinding]:
    """LogJudge one measure."""
    figures = Figures(name, instance, np.array(samples), np.arange(len(samples)) * 10, exact=exact)
    return LogJudge(UNIT, RECORDING, [figures]).judge()


@pytest.mark.parametrize(
    ("samples", "grade", "doubt"),
    [
        ((250.0, 260.0, 255.0, 258.0), "yes", None),
        ((2.0, 3.0, 1.0, 2.0), "no", None),
        ((90.0, 150.0, 60.0, 160.0), "yes", "think_so"),
        ((250.0, 251.0, 252.0), "yes", None),
    ],
)
def test_judge__the_number_is_graded_as_one_typed_in(samples: tuple[float, ...], grade: str, doubt: str | None) -> None:
    found = judged("gear_slip", "3", *samples)["slip_live_3"]
    assert (grade, doubt, "slip_gear_3") == (found.is_grade, found.doubt, found.number)
    assert UNIT.dials.grade("slip_gear_3", found.measured)["slip_live_3"] == found.is_grade


def test_judge__what_has_no_limit_is_kept_with_its_figure() -> None:
    """Stall speeds from 1300 to 3200 rpm are usual, and the sheet says no more."""
    judge = LogJudge(UNIT, RECORDING, [Figures("stall_forward", "", np.array([2174.2]), np.array([5]))])
    assert "stall_speed_drive" not in judge.judge()
    assert {"stall_speed_drive": "2174 rpm"} == judge.ungraded


def test_judge__a_shudder_is_told_with_its_frequency() -> None:
    made = make_columns(rounds=2, shudder=(25.0, 9.0))
    found = trace_columns(made).findings["tcc_judders_on"]
    assert "yes" == found.is_grade
    assert pytest.approx(9.0, abs=0.8) == found.hertz


def test_judge__two_samples_are_doubted_however_plain() -> None:
    assert "think_so" == judged("upshift_flare", "2_3", 900.0, 905.0)["shift_flares_2_3"].doubt


def test_judge__a_count_is_not() -> None:
    found = judged("signal_drops", "input_speed", 4.0, exact=True)["speed_signal_drops_input_speed"]
    assert ("yes", None, 4.0) == (found.is_grade, found.doubt, found.measured)


def test_judge__what_shows_at_times_is_told_with_doubt_and_count() -> None:
    found = judged("gear_slip", "4", *[1.0] * 12, *[300.0] * 4)["slip_live_4"]
    assert ("yes", "think_so", 300.0, 4, 16) == (
        found.is_grade,
        found.doubt,
        found.measured,
        found.at_times,
        found.samples,
    )
    assert 122 == found.rows[0]


def test_judge__one_wild_sample_of_many_is_nothing() -> None:
    assert "no" == judged("gear_slip", "4", *[1.0] * 15, 900.0)["slip_live_4"].is_grade


def test_judge__too_few_samples_say_nothing() -> None:
    assert {} == judged("gear_slip", "3", 500.0, 500.0)


def test_judge__a_bound_from_above() -> None:
    assert "yes" == judged("unlocked_slip", "", *[3.0] * 6)["tcc_stays_on"].is_grade
    assert "no" == judged("unlocked_slip", "", *[180.0] * 6)["tcc_stays_on"].is_grade


def test_judge__of_two_measures_the_more_telling_one_counts() -> None:
    both = [
        Figures("lock_slip", "", np.full(5, 2.0), np.arange(5)),
        Figures("unlocked_slip", "", np.full(5, 2.0), np.arange(5)),
    ]
    assert "locked" == LogJudge(UNIT, RECORDING, both).judge()["tcc_slip_live"].is_grade
    assert "right" == LogJudge(UNIT, RECORDING, both[:1]).judge()["tcc_slip_live"].is_grade


def test_judge__what_is_silent_tells_no_sound_answer() -> None:
    assert {} == judged("gear_kept", "3", 12.0, exact=True)
    assert {"held_in_gear_3"} == set(judged("gear_kept", "3", 99.0, exact=True))


def test_judge__warmth_and_load_at_the_first_place() -> None:
    found = judged("gear_slip", "3", 250.0, 260.0, 255.0)["slip_live_3"]
    assert (80.0, 0.0, (2, 12, 22), (0.0, 0.2, 0.4)) == (found.warmth_c, found.throttle_percent, found.rows, found.at_s)


def test_judge__a_wide_limit_of_all_units_says_nothing_within() -> None:
    assert {} == judged("full_pressure", "", 1400.0)
    assert "low" == judged("full_pressure", "", 500.0)["line_pressure_stall"].is_grade


@pytest.mark.parametrize(
    ("made", "finding", "grade", "measured"),
    [
        ({"slip": {2: 250}}, "slip_live_3", "yes", 250),
        ({"flare": {(1, 2): 500}}, "shift_flares_2_3", "yes", 500),
        ({"shift_s": 1.5}, "shift_slow_2_3", "yes", 1.27),
        ({"had_instead": {2: 1}}, "shift_missing_2_3", "yes", 100),
        ({"lock_slip": 120}, "tcc_slip_live", "slips", 120),
        ({"lock_slip": 600}, "tcc_slip_live", "open", 600),
        ({"lock_percent": 0}, "tcc_not_commanded", "yes", 0),
        ({"shudder": (40, 8)}, "tcc_judders_on", "yes", 38.6),
        ({"engage_s": 2.2}, "engage_delay_drive", "delayed", 2.2),
        ({"engage_s": 4}, "engage_delay_drive", "long", 4),
    ],
)
def test_judge__a_fault_put_in_by_hand_is_found_at_its_size(
    made: dict, finding: str, grade: str, measured: float
) -> None:
    found = trace_columns(make_columns(rounds=3, rate_hz=25, **made)).findings[finding]
    assert (grade, None) == (found.is_grade, found.doubt)
    assert pytest.approx(measured, rel=0.05, abs=0.05) == found.measured
    assert found.low - 0.05 <= found.measured <= found.high + 0.05


@pytest.mark.parametrize("unit", ["long5", "long6", "long8", "trans4", "trans6"])
def test_judge__nothing_in_a_sound_drive(unit: str) -> None:
    assert {} == telling(sound_trace(unit))


def test_rules__every_measure_answers_a_finding_and_says_where_its_bound_comes_from() -> None:
    lines = [(record, line) for record in shipped().findings.values() for line in record.traced]
    assert set(LOG_MEASURES) == {line.by for _, line in lines}
    assert all(line.source and LOG_MEASURES[line.by].each == record.scope.each for record, line in lines)


def test_rules__a_road_test_with_a_recorder_reveals_what_a_log_alone_can_tell() -> None:
    knowledge = shipped()
    (check,) = [one for one in knowledge.checks.values() if one.recorded]
    by_scan = {key for key, record in knowledge.findings.items() if record.traced and record.got_by in ("scan", "road")}
    assert by_scan <= set(check.reveals)


def test_traced_finding__its_figures_are_what_a_case_can_hold() -> None:
    for one in sound_trace().findings.values():
        if one.number:
            assert one.unit in UNIT.dials.units[one.number]
        assert one == replace(one)
