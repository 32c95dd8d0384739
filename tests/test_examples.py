"""Every example runs, and the program says of it what a foreman would."""

import json
from pathlib import Path

import pytest
from support.trade import share_trade, shipped

import shiftlore
from shiftlore.cli.main import run_with

EXAMPLES = sorted((Path(__file__).parents[1] / "examples").glob("*.yaml"))

# Example -> areas of which one must come first; common practice for such a complaint.
EXPECTED = {
    "family_car": {"tcm_software_or_adaptation"},
    "mountain_minibus": {"converter_clutch_or_converter", "tcc_solenoid_or_valve"},
    "touring_camper": {"seal_leak_internal", "clutch_pack"},
}


@pytest.fixture(autouse=True)
def one_trade(monkeypatch: pytest.MonkeyPatch) -> None:
    """Load the knowledge once for all examples."""
    share_trade(monkeypatch)


def printed(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    """Run a command; give what it printed."""
    assert 0 == run_with(list(arguments))
    return capsys.readouterr().out


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example__begins_with_a_line_that_says_what_it_is(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("# An invented ")


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example__is_clean(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert "Clean." in printed(capsys, "validate", str(path))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example__is_ranked_as_a_foreman_would(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ranking = json.loads(printed(capsys, "rank", str(path), "--format", "json"))
    assert ranking["areas"][0]["area"] in EXPECTED[path.stem]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example__has_a_next_step_with_its_price(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = json.loads(printed(capsys, "next", str(path), "--format", "json"))
    assert plan["steps"][0]["why"] and plan["steps"][0]["cost"]["total"] > 0
    assert "What to do next" == printed(capsys, "next", str(path)).splitlines()[0]


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example__has_options_for_its_owner(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    offered = json.loads(printed(capsys, "options", str(path), "--format", "json"))
    assert any(option["advised"] for option in offered["options"])


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_example__says_the_same_from_python(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    knowledge = shipped()
    ranking = shiftlore.rank(knowledge, shiftlore.read_case(path, knowledge))
    shown = json.loads(printed(capsys, "rank", str(path), "--format", "json"))["causes"]
    assert [cause["id"] for cause in shown[:5]] == [cause.id for cause in ranking.causes[:5]]
