import csv
import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from jsonschema import Draft202012Validator
from support.drives import make_columns, write_csv
from support.trade import ROOT

import shiftlore
from shiftlore.cli.trace import write_columns

Run = Callable[..., object]


@pytest.fixture(scope="module")
def log(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Write the log of a drive that slips in third."""
    made = make_columns(rounds=2, rate_hz=25, slip={2: 250})
    return str(write_csv(tmp_path_factory.mktemp("log") / "log.csv", made))


def test_trace__tells_what_a_log_shows(run, log: str) -> None:
    ended = run("trace", log)
    assert (0, "") == (ended.code, ended.err)
    assert "it looks like long5" in ended.out and "Slip in gear 3 by scan: yes" in ended.out
    assert "\x1b" not in ended.out and ended.out.isascii()


def test_trace__json_fits_the_schema_and_is_the_same_each_time(run, log: str) -> None:
    first, second = run("trace", log, "--format", "json"), run("trace", log, "--format", "json")
    assert first.out == second.out
    told = json.loads(first.out)
    Draft202012Validator(shiftlore.schema("trace")).validate(told)
    assert ("yes", "rpm") == (told["findings"]["slip_live_3"]["is"], told["findings"]["slip_live_3"]["unit"])


def test_trace__into_a_case_that_rank_then_reads(run, write, log: str) -> None:
    case = write("shiftlore: 1\nunit: long5\nodometer_km: 150000\n")
    ended = run("trace", log, "--into", case)
    assert 0 == ended.code and "Into the case" in ended.out
    ranked = run("rank", case)
    assert "band B1" in ranked.out.split("What it may be")[1].split("\n")[1]
    assert "slip_gear_3: {value: 2" in Path(case).read_text(encoding="utf-8")


def test_trace__page(run, log: str, tmp_path: Path) -> None:
    page = tmp_path / "log.html"
    ended = run("trace", log, "--page", str(page))
    assert 0 == ended.code and "The page stands in" in ended.err
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    assert 2 == run("trace", log, "--page", str(page)).code
    assert 0 == run("trace", log, "--page", str(page), "--force").code
    assert 2 == run("trace", log, "--page", str(tmp_path / "log.txt")).code


@pytest.mark.parametrize(
    ("arguments", "code", "said"),
    [
        ((), 2, "Name the file of a recording"),
        (("nowhere.csv",), 2, "is not there"),
        (("LOG", "--map", "engin_rpm=a"), 2, "There is no \"engin_rpm\" to map. Write one of: engine_rpm"),
        (("LOG", "--map", "engine_rpm=zz"), 2, 'The log has no column "zz"'),
        (("LOG", "--map", "engine_rpm=input_rpm:furlong"), 2, '"furlong" is no unit of engine_rpm'),
        (("LOG", "--map", "output_rpm=", "--map", "road_kmh="), 1, "Neither output nor road speed"),
        (("LOG", "--unit", "long6"), 1, "fit no gears of long6"),
        (("LOG", "--unit", "nothing"), 2, "nothing"),
        (("LOG", "--into", "nowhere.yaml"), 2, "There is no case"),
        (("LOG", "--simulate", "long5"), 2, "leave LOG out"),
        (("LOG", "--fault", "slip:c1"), 2, "go with --simulate"),
        (("--simulate", "step"), 2, "is a kind"),
        (("--simulate", "long5", "--fault", "slip:zz"), 2, "c1"),
        (("--simulate", "long5", "--fault", "slipp:c1"), 2, "slip"),
        (("--simulate", "lnog5"), 2, "long5"),
    ],
)  # fmt: skip
def test_trace__wrong_usage_says_what_to_write(run, log: str, arguments: tuple[str, ...], code: int, said: str) -> None:
    ended = run("trace", *(log if word == "LOG" else word for word in arguments))
    assert code == ended.code
    assert "" == ended.out
    assert said in ended.err and "Traceback" not in ended.err


def test_trace__hostile_headers_are_not_obeyed(run, tmp_path: Path) -> None:
    made = make_columns(rounds=2, rate_hz=25)
    made["\x1b[31mred\x07"] = made["fluid_temp_c"]
    ended = run("trace", str(write_csv(tmp_path / "log.csv", made)))
    assert 0 == ended.code
    assert "\x1b" not in ended.out and "\\x1b[31mred" in ended.out


def test_trace__faults_that_can_be_simulated_are_listed(run) -> None:
    ended = run("trace", "--simulate", "long5", "--fault", "help")
    assert 0 == ended.code and "lockup_slip" in ended.out
    assert max(map(len, ended.out.split("\n"))) <= 110


def test_trace__simulate_writes_a_log_that_it_reads(run, tmp_path: Path) -> None:
    path = tmp_path / "made.csv"
    ended = run("trace", "--simulate", "trans4", "--fault", "lockup_never", "--seed", "3", "--out", str(path))
    assert (0, "") == (ended.code, ended.out)
    assert "lockup_never, stands in" in ended.err
    told = json.loads(run("trace", str(path), "--format", "json").out)
    assert ("trans4", "yes") == (told["unit"], told["findings"]["tcc_never_applies"]["is"])
    assert 2 == run("trace", "--simulate", "trans4", "--out", str(path)).code


def test_write_columns__figures_can_be_read_back() -> None:
    columns = {
        "time_s": np.array([0.0, 0.02, 1.0 / 3]),
        "lever": np.array(["P", "D", ""]),
        "engine_rpm": np.array([700.0, 0.1236, -0.0]),
    }
    rows = list(csv.reader("".join(write_columns(columns)).splitlines()))
    assert [["time_s", "lever", "engine_rpm"], ["0", "P", "700"], ["0.02", "D", "0.124"], ["0.333", "", "-0"]] == rows


def test_trace__a_key_stops_it_with_a_word(run, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("shiftlore.trace", stop)
    ended = run("trace", str(ROOT / "examples" / "road_test.csv"))
    assert (130, "", "Stopped.") == (ended.code, ended.out, ended.err.strip().splitlines()[-1])
