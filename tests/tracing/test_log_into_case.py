from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from support.drives import make_columns, sound_trace, trace_columns, write_csv
from support.trade import shipped, unit_of

import shiftlore
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.basics.holding import Hold
from shiftlore.cases import Answer, Case, read_case, render_case
from shiftlore.compiling import list_known
from shiftlore.tracing import Trace, trace_into
from shiftlore.tracing.log_into_case import add_to_case

UNIT = unit_of("long5")
KNOWN = list_known(shipped(), "long5")


@cache
def slipping() -> Trace:
    """Give the trace of a drive that slips in third."""
    return trace_columns(make_columns(rounds=3, rate_hz=25, slip={2: 250}))


def read(text: str) -> Case:
    """Read a case of the unit."""
    return read_case(text, KNOWN)


def test_add_to_case__answers_with_their_figures() -> None:
    case, added = add_to_case(Case("long5"), slipping(), UNIT, read)
    assert "yes" == case.findings["slip_live_3"].grade
    assert (pytest.approx(250, abs=2), "rpm") == (case.measured["slip_gear_3"].value, case.measured["slip_gear_3"].unit)
    assert set(added.findings) == set(slipping().findings)
    assert case.findings == read(render_case(case)).findings


def test_add_to_case__the_ranking_then_points_at_what_slips_in_third() -> None:
    case, _ = add_to_case(Case("long5"), slipping(), UNIT, read)
    first = shiftlore.rank(shipped(), case).causes[0]
    assert "b1" in first.id


def test_add_to_case__never_overwrites_an_answer() -> None:
    before = Case(
        "long5",
        findings={"slip_live_3": Answer("slip_live_3", "no"), "shift_flares_1_2": Answer("shift_flares_1_2", "no")},
    )
    case, added = add_to_case(before, slipping(), UNIT, read)
    assert "no" == case.findings["slip_live_3"].grade
    assert {"slip_live_3": "no"} == added.kept
    assert "slip_gear_3" not in case.measured
    assert "shift_flares_1_2" not in added.findings


def test_add_to_case__nor_a_complaint() -> None:
    before = Case("long5", complaint=("shift_flares_2_3",))
    case, added = add_to_case(before, sound_trace(), UNIT, read)
    assert {"shift_flares_2_3": "yes"} == added.kept
    assert "shift_flares_2_3" not in case.findings


def test_add_to_case__a_second_time_adds_nothing() -> None:
    case, _ = add_to_case(Case("long5"), slipping(), UNIT, read)
    again, added = add_to_case(case, slipping(), UNIT, read)
    assert (case, ()) == (again, added.findings)


def test_add_to_case__what_the_case_cannot_hold_beside_itself_is_left_out_and_told() -> None:
    before = Case("long5", findings={"tcc_never_applies": Answer("tcc_never_applies", "no")})
    trace = slipping()
    spoilt = replace(trace, findings={"slip_live_3": replace(trace.findings["slip_live_3"], is_grade="purple")})
    case, added = add_to_case(before, spoilt, UNIT, read)
    assert (before.findings, ["slip_live_3"]) == (case.findings, list(added.refused))


def test_add_to_case__the_road_test_is_done_where_it_told_most_of_what_it_can() -> None:
    (check,) = [one.id for one in shipped().checks.values() if one.recorded]
    full, _ = add_to_case(Case("long5"), slipping(), UNIT, read)
    assert (check,) == full.done_ids
    columns = make_columns(rounds=2, rate_hz=25)
    poor = trace_columns({name: columns[name] for name in ("time_s", "engine_rpm", "road_kmh", "gear_commanded")})
    assert () == add_to_case(Case("long5"), poor, UNIT, read)[0].done_ids


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path]:
    """Write a case with a comment and a log; give both places."""
    case = tmp_path / "case.yaml"
    case.write_text(
        "shiftlore: 1\nunit: long5\nodometer_km: 150000   # by the clock\nfindings: {slips_gear_3: yes}\n",
        encoding="utf-8",
    )
    return case, write_csv(tmp_path / "log.csv", make_columns(rounds=2, rate_hz=25, slip={2: 250}))


def test_trace_into__keeps_what_a_person_wrote(files: tuple[Path, Path]) -> None:
    case, log = files
    trace = trace_into(case)(shipped(), log, None, ())
    text = case.read_text(encoding="utf-8")
    assert "# by the clock" in text and "slip_live_3" in text
    assert trace.added is not None and "slip_live_3" in trace.added.findings
    assert "yes" == read(text).findings["slips_gear_3"].grade
    assert not list(case.parent.glob(".*"))


def test_trace_into__another_units_log_leaves_the_case_alone(files: tuple[Path, Path], tmp_path: Path) -> None:
    case, _ = files
    before = case.read_bytes()
    other = write_csv(tmp_path / "other.csv", make_columns("long8", rounds=2, rate_hz=25))
    with pytest.raises(ShiftloreError, match="fit no gears of long5"):
        trace_into(case)(shipped(), other, None, ())
    assert before == case.read_bytes()


def test_trace_into__a_unit_that_is_not_the_cases_is_refused(files: tuple[Path, Path]) -> None:
    with pytest.raises(UsageProblem, match="The case is about long5"):
        trace_into(files[0])(shipped(), files[1], "long6", ())


def test_trace_into__a_case_that_somebody_has_open_is_left_to_him(files: tuple[Path, Path]) -> None:
    case, log = files
    hold = Hold(case.resolve())
    assert "" == hold.take()
    try:
        with pytest.raises(ShiftloreError, match="open in another session"):
            trace_into(case)(shipped(), log, None, ())
    finally:
        hold.release()


def test_trace_into__a_case_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(UsageProblem, match="There is no case"):
        trace_into(tmp_path / "none.yaml")(shipped(), tmp_path / "log.csv", None, ())
