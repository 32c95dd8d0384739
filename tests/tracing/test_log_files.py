import sys
import types
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from support.drives import make_columns, write_csv
from support.trade import shipped

from shiftlore.basics import UsageProblem
from shiftlore.tracing import LogProblem, Recording, TakenColumn, log_files
from shiftlore.tracing.log_files import read_log, tidy_gear, tidy_range

PHRASES = shipped().languages["en"].columns
DRIVE = make_columns(rounds=1, rate_hz=20)


@pytest.fixture
def read(tmp_path: Path) -> Callable[..., Recording]:
    """Give a function that writes a log, spoilt on the way by a function of its lines, and reads it."""

    def go(
        spoil: Callable[[list[str]], list[str]] = lambda lines: lines, encoding: str = "utf-8", **more: object
    ) -> Recording:
        path = write_csv(tmp_path / "log.csv", {**DRIVE, **more})  # type: ignore[arg-type]
        lines = spoil(path.read_text(encoding="utf-8").split("\n"))
        path.write_bytes("\n".join(lines).encode(encoding))
        return read_log(path, PHRASES)

    return go


def told(recording: Recording) -> list[tuple[int, int, str]]:
    """List what was refused."""
    return [(one.row, one.last_row, f"{one.channel} {one.why}".strip()) for one in recording.refused]


def test_read_log__a_sound_log_is_read_to_the_last_row(read: Callable[..., Recording]) -> None:
    found = read()
    assert (len(DRIVE["time_s"]), []) == (found.rows_read, told(found))
    assert np.allclose(DRIVE["input_rpm"], found.columns["input_rpm"], atol=0.006)
    assert DRIVE["gear_commanded"].tolist() == found.columns["gear_commanded"].tolist()
    assert [2, 3, 4] == found.rows[:3].tolist()


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
def test_read_log__in_any_letters(read: Callable[..., Recording], encoding: str) -> None:
    found = read(lambda lines: [lines[0].replace("fluid_temp_c", "fluid temp °C"), *lines[1:]], encoding)
    assert {80.0} == set(found.columns["fluid_temp_c"].tolist())


def test_read_log__semicolons_and_decimal_commas(read: Callable[..., Recording]) -> None:
    found = read(lambda lines: [line.replace(",", ";").replace(".", ",") for line in lines])
    assert np.allclose(DRIVE["engine_rpm"], found.columns["engine_rpm"], atol=0.006)


def test_read_log__rows_that_are_none_are_told_by_their_number(read: Callable[..., Recording]) -> None:
    def spoil(lines: list[str]) -> list[str]:
        lines[10] = lines[10].replace(lines[10].split(",")[1], "abc", 1)
        lines[20] += ",1,2"
        lines[30] = ""
        lines[40] = ",".join(["x", *lines[40].split(",")[1:]])
        lines[50] = ",".join([lines[50].split(",")[0], "99999", *lines[50].split(",")[2:]])
        lines[60:62] = [lines[61], lines[60]]
        lines[70] = lines[69]
        return lines

    found = read(spoil)
    assert [
        (11, 11, 'engine_rpm is no number: "abc"'),
        (21, 21, "the row has more than 11 cells"),
        (31, 31, "the row is empty"),
        (41, 41, 'time_s is no number: "x"'),
        (51, 51, "engine_rpm is beyond what a vehicle can show"),
        (62, 62, "the time runs backwards"),
        (71, 71, "the time is that of the row before"),
    ] == told(found)
    assert len(DRIVE["time_s"]) == found.rows_read
    assert found.rows_read - 7 == len(found.rows)


def test_read_log__an_empty_cell_keeps_the_last_value_for_a_second_and_no_longer(
    read: Callable[..., Recording],
) -> None:
    def spoil(lines: list[str]) -> list[str]:
        for place in range(300, 340):
            cells = lines[place].split(",")
            lines[place] = ",".join([*cells[:3], "", *cells[4:]])
        return lines

    found = read(spoil)
    output = found.columns["output_rpm"][299:339]
    assert 20 == int(np.isfinite(output).sum())
    assert 1 == len(set(output[np.isfinite(output)].tolist()))


def test_read_log__nul_bytes_of_a_recorder_that_lost_power_are_told(read: Callable[..., Recording]) -> None:
    found = read(lambda lines: [*lines[:500], "\x00" * 4000])
    assert 499 == len(found.rows)
    assert 501 == found.refused[-1].row


def test_read_log__a_lone_quote_swallows_no_rows(read: Callable[..., Recording]) -> None:
    found = read(lambda lines: [*lines[:700], '"' + lines[700], *lines[701:]])
    assert len(DRIVE["time_s"]) - 1 == len(found.rows)


@pytest.mark.parametrize(
    "write",
    [
        lambda s: f"{int(s // 3600)}:{int(s % 3600 // 60):02d}:{s % 60:06.3f}",
        lambda s: f"{int(s // 60):02d}:{s % 60:06.3f}",
        lambda s: f"2024-03-01T23:{58 + int(s // 60):02d}:{s % 60:06.3f}" if s < 120 else "",
        lambda s: f"{s * 1000:.0f}",
        lambda s: f"{45000 + s / 86400:.10f}",
        lambda s: (
            f"{(23, 0)[s >= 30]:02d}:{(59, 0)[s >= 30] + int((s - 30 * (s >= 30)) // 60):02d}:{(30 + s) % 60:06.3f}"
        ),
        lambda s: (
            f"{(11, 12)[s >= 30]:02d}:{(59, 0)[s >= 30] + int((s - 30 * (s >= 30)) // 60):02d}:{(30 + s) % 60:06.3f} "
            + ("PM", "AM")[s >= 30]
        ),
        lambda s: f"04.03.2026 12:{int(s // 60):02d}:{s % 60:06.3f}",
        lambda s: f"{1_772_668_800 + s:.3f}",
    ],
    ids=["h:m:s", "m:s", "iso", "ms", "days", "midnight", "am and pm", "dots", "unix"],
)
def test_read_log__any_form_of_time(read: Callable[..., Recording], write: Callable[[float], str]) -> None:
    found = read(
        lambda lines: [lines[0].replace("time_s", "time"), *lines[1:]],
        time_s=np.array([write(s) for s in DRIVE["time_s"].tolist()]),
    )
    times = found.columns["time_s"]
    assert pytest.approx(DRIVE["time_s"][-1], abs=0.01) == times[-1] - times[0]
    assert 0.05 == pytest.approx(float(np.median(np.diff(times))), abs=1e-3)


def test_read_log__times_of_a_clock_are_counted_from_the_first_row(read: Callable[..., Recording]) -> None:
    found = read(time_s=np.array([f"{1_772_668_800 + s:.3f}" for s in DRIVE["time_s"].tolist()]))
    assert 0.0 == found.columns["time_s"][0]
    assert ("Times are counted from the first row.",) == found.notes
    assert () == read().notes


def test_read_log__thousands_with_a_comma_are_read_whole(read: Callable[..., Recording]) -> None:
    grouped = {name: np.array([f'"{v:,.1f}"' for v in DRIVE[name].tolist()]) for name in ("input_rpm", "output_rpm")}
    found = read(**grouped)
    assert () == found.refused
    assert np.allclose(DRIVE["input_rpm"], found.columns["input_rpm"], atol=0.06)
    assert float(found.columns["output_rpm"].max()) > 2900


def test_read_log__a_clock_past_midnight_goes_on() -> None:
    import pandas as pd

    column = pd.Series(["23:59:59.5", "0:00:00.5", "0:00:01.5"])
    layout = types.SimpleNamespace(decimal=".", grouped=False, samples=[("23:59:59.5",)])
    taken = [TakenColumn("time_s", "time", 1, "s", "name")]
    values, wrong = log_files._read_times(column, layout)  # type: ignore[arg-type]
    assert [86399.5, 0.5, 1.5] == values.tolist()
    assert [86399.5, 86400.5, 86401.5] == log_files._pass_midnight(values, layout, taken).tolist()  # type: ignore[arg-type]
    assert not wrong.any()


def test_read_log__in_pieces_it_reads_the_same(read: Callable[..., Recording], monkeypatch: pytest.MonkeyPatch) -> None:
    whole = read()
    monkeypatch.setattr(log_files, "_PIECE", 333)
    pieces = read()
    assert whole.rows.tolist() == pieces.rows.tolist()
    assert whole.columns["input_rpm"].tolist() == pieces.columns["input_rpm"].tolist()


def test_read_log__too_many_rows_are_refused(read: Callable[..., Recording], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(log_files, "MOST_ROWS", 100)
    with pytest.raises(LogProblem, match="more than 100 rows"):
        read()


@pytest.mark.parametrize(
    ("keep", "match"),
    [(("engine_rpm", "output_rpm"), "No column says the time"), (("time_s", "lever"), "No column is known")],
)
def test_read_log__what_it_cannot_do_without_is_named(tmp_path: Path, keep: tuple[str, ...], match: str) -> None:
    path = write_csv(tmp_path / "log.csv", {name: DRIVE[name] for name in keep})
    with pytest.raises(LogProblem, match=match):
        read_log(path, PHRASES)


def test_read_log__a_file_that_is_not_there_or_a_folder(tmp_path: Path) -> None:
    with pytest.raises(UsageProblem, match="is not there"):
        read_log(tmp_path / "none.csv", PHRASES)
    with pytest.raises(UsageProblem, match="no ordinary file"):
        read_log(tmp_path, PHRASES)


def test_read_log__an_mdf_file_without_the_library_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "log.mf4"
    path.write_bytes(b"MDF     4.10    ")
    monkeypatch.setitem(sys.modules, "asammdf", None)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    with pytest.raises(LogProblem, match="python -m pip install asammdf"):
        read_log(path, PHRASES)


class FakeMdf:
    """Stands for asammdf.MDF as its manual has it: channels_db, get, and a context manager."""

    def __init__(self, path: str):
        step = slice(None, None, 4)
        names = {
            "Time": "time_s",
            "EngineSpeed": "engine_rpm",
            "TurbineSpeed": "input_rpm",
            "OutputSpeed": "output_rpm",
        }
        self.signals = {
            name: types.SimpleNamespace(name=name, samples=DRIVE[column], timestamps=DRIVE["time_s"], unit="rpm")
            for name, column in names.items()
        }
        warm, times = DRIVE["fluid_temp_c"] * 1.8 + 32, DRIVE["time_s"]
        self.signals["TransTemp"] = types.SimpleNamespace(
            name="TransTemp", samples=warm[step], timestamps=times[step] + 0.01, unit="degF"
        )
        gears = np.array([gear.encode() for gear in DRIVE["gear_commanded"]])
        self.signals["TargetGear"] = types.SimpleNamespace(name="TargetGear", samples=gears, timestamps=times, unit="")
        self.channels_db = {name: [(0, place)] for place, name in enumerate(self.signals)}

    def __enter__(self) -> "FakeMdf":
        return self

    def __exit__(self, *error: object) -> None:
        return None

    def get(self, name: str, group: int, index: int) -> object:
        """Give a signal."""
        return self.signals[name]


class MdfException(Exception):
    """Stands for the error of the library's own, which is none of the usual ones."""


def stand_in(monkeypatch: pytest.MonkeyPatch, reader: object) -> None:
    """Let something stand for asammdf.MDF."""
    modules = {name: types.ModuleType(name) for name in ("asammdf", "asammdf.blocks", "asammdf.blocks.utils")}
    modules["asammdf"].MDF = reader  # type: ignore[attr-defined]
    modules["asammdf.blocks.utils"].MdfException = MdfException  # type: ignore[attr-defined]
    for name, module in modules.items():
        monkeypatch.setitem(sys.modules, name, module)
    monkeypatch.setattr("importlib.util.find_spec", lambda name: object())


@pytest.mark.parametrize("error", [MdfException("no block."), ValueError("seek out of range"), KeyError("x")])
def test_read_log__a_damaged_mdf_file_is_told_in_a_sentence_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], error: Exception
) -> None:
    """What asammdf 8.8 does over a file that was cut short, or of which bytes were changed, as seen by hand."""

    class Broken:
        def __init__(self, path: str):
            print("MDF ======")
            raise error

        def __del__(self) -> None:
            raise AttributeError("_file")

    path = tmp_path / "log.mf4"
    path.write_bytes(b"MDF     4.10    ")
    stand_in(monkeypatch, Broken)
    with pytest.raises(LogProblem, match=r"This MDF file is damaged or cut short: .*[^.]\. Export the recording again"):
        read_log(path, PHRASES)
    assert ("", "") == capsys.readouterr()


def test_read_log__mdf_channels_on_one_raster(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A real file was read by hand with asammdf 8.8; here stands a fake of the part of it that is used."""
    path = tmp_path / "log.mf4"
    path.write_bytes(b"MDF     4.10    ")
    stand_in(monkeypatch, FakeMdf)
    found = read_log(path, PHRASES)
    assert DRIVE["input_rpm"].tolist() == found.columns["input_rpm"].tolist()
    assert DRIVE["gear_commanded"].tolist() == found.columns["gear_commanded"].tolist()
    warm = found.columns["fluid_temp_c"]
    assert np.isnan(warm[0]) and 80.0 == pytest.approx(float(warm[-1]))


@pytest.mark.parametrize(
    ("text", "gear"),
    [("1", "1"), ("3.0", "3"), ("D4", "4"), ("Gear 5", "5"), ("2nd", "2"), ("-1", "R"), ("Reverse", "R"), ("0", "N"),
     ("P", "P"), ("99", ""), ("?", ""), ("nan", "")],
)  # fmt: skip
def test_tidy_gear__as_sheets_name_it(text: str, gear: str) -> None:
    assert gear == tidy_gear(text)


@pytest.mark.parametrize(("text", "lever"), [("D", "D"), ("drive", "D"), ("S", "D"), ("rev", "R"), ("3", ""), ("", "")])
def test_tidy_range__the_four_ranges(text: str, lever: str) -> None:
    assert lever == tidy_range(text)
