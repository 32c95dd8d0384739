import json
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from support.drives import make_columns, sound_trace, telling, trace_columns, write_csv
from support.trade import shipped

import shiftlore
from shiftlore.basics import UnknownId
from shiftlore.driving import read_defect, simulate_drive
from shiftlore.knowledge.forms import LOG_MEASURES
from shiftlore.reports.schemas import render_json
from shiftlore.tracing import LogProblem, trace_log
from shiftlore.tracing.traces import NEEDS


def test_trace_log__a_file_from_end_to_end(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "log.csv", make_columns(rounds=2, slip={3: 300}, rate_hz=25))
    trace = trace_log(shipped(), path)
    assert ("long5", True, {"slip_live_4": "yes"}) == (trace.unit, trace.unit_found, telling(trace))
    assert (3500, 25.0) == (trace.rows_read, trace.rows_a_second)
    assert "long5" == trace.looks_like[0].unit


def test_trace_log__an_unknown_unit_is_named_with_its_nearest(tmp_path: Path) -> None:
    path = write_csv(tmp_path / "log.csv", make_columns(rounds=1, rate_hz=20))
    with pytest.raises(UnknownId, match="long5"):
        trace_log(shipped(), path, "lnog5")


def test_trace_recording__a_kind_is_judged_by_the_sheet_that_its_ratios_fit() -> None:
    trace = trace_columns(make_columns("trans6", rounds=2, rate_hz=25, slip={1: 260}), "step")
    assert ("trans6", False) == (trace.unit, trace.unit_found)
    assert {"slip_live_2": "yes"} == telling(trace)


def test_trace_recording__engine_and_road_speed_alone_tell_what_they_can() -> None:
    columns = make_columns(rounds=2, rate_hz=25)
    trace = trace_columns({name: columns[name] for name in ("time_s", "engine_rpm", "road_kmh")})
    assert {} == telling(trace)
    assert ("input speed", "commanded gear") == trace.not_told["slip_live"]
    assert ("input speed",) == trace.not_told["shift_flares"]
    assert 2 == len(trace.notes)
    top = trace.gears["5"].ratio_median
    assert top is not None and pytest.approx(0.745, rel=0.03) == top


def test_trace_recording__what_the_drive_did_not_show_is_told() -> None:
    assert ("not driven",) == sound_trace().not_told["stall_speed_drive"]
    assert sound_trace().not_told.keys() == sound_trace().names.keys()


def test_trace_recording__what_was_measured_and_has_no_limit_is_told_with_its_figure() -> None:
    """The unit's sheet states no stall speed, and what is usual is too wide to call one right."""
    sheet = shipped().sheets["long5"]
    trace = trace_columns(simulate_drive(sheet, seed=5).columns)
    reason, figure = trace.not_told["stall_speed_drive"]
    assert "no limit stated" == reason
    assert 1800 < float(figure.removesuffix(" rpm")) < 2600


def test_trace_recording__road_speed_that_fits_no_gear_for_sure_is_said() -> None:
    columns = make_columns(rounds=2, rate_hz=25)
    some = np.isin(columns["gear_commanded"], ["1", "2"])
    alone = {name: columns[name][some] for name in ("time_s", "engine_rpm", "road_kmh")}
    trace = trace_columns(alone)
    assert {} == telling(trace)
    assert any("no single way" in note for note in trace.notes)
    with pytest.raises(
        LogProblem, match=r'fit no single unit\. Name it with --unit\. Taken for: engine_rpm is "engine_rpm"'
    ):
        trace_columns(alone, None)


def test_trace_recording__every_shift_with_its_time() -> None:
    shifts = sound_trace().gear_changes
    assert ["1-2", "2-3", "3-4", "4-5"] == [one.gears for one in shifts[:4]]
    assert all(one.came and one.seconds is not None and one.seconds < 0.6 for one in shifts[:4])
    assert sorted(one.at_s for one in shifts) == [one.at_s for one in shifts]


def test_trace_recording__ratios_of_no_sheet_say_which() -> None:
    columns = make_columns(rounds=2, rate_hz=25)
    del columns["gear_commanded"]
    with pytest.raises(LogProblem, match=r"The ratios of this log \(3\.2, 2\.4|The ratios of this log \(3\.1"):
        trace_columns({**columns, "input_rpm": columns["input_rpm"] * 1.21}, None)


def test_trace__as_json_fits_its_schema() -> None:
    for trace in (sound_trace(), trace_columns(make_columns(rounds=2, rate_hz=25, slip={1: 300}), None)):
        plain = json.loads(render_json(trace))
        Draft202012Validator(shiftlore.schema("trace")).validate(plain)
        assert {"is", "doubt", "measured", "unit", "samples"} <= set(next(iter(plain["findings"].values())))
        assert "drive" not in plain


def test_needs__names_every_measure_and_no_other() -> None:
    assert set(LOG_MEASURES) == set(NEEDS)


@pytest.mark.parametrize(
    ("unit", "fault", "finding"),
    [("trans4", "slip:b1:0.8", "slip_live_2"), ("long5", "", "")],
)
def test_trace_recording__simulated_drives_from_the_gear_train(unit: str, fault: str, finding: str) -> None:
    """Source: `driving`, which integrates the unit's own gear train and knows nothing of this room."""
    sheet = shipped().sheets[unit]
    defects = [read_defect(fault, sheet)] if fault else []
    trace = trace_columns(simulate_drive(sheet, defects=defects, seed=5).columns, unit)
    found = telling(trace)
    assert (finding in found) if finding else found == {}
    for one in trace.gears.values():
        if not fault and one.samples and one.ratio_median is not None and one.ratio_nominal > 0:
            assert pytest.approx(one.ratio_nominal, rel=0.01) == one.ratio_median
