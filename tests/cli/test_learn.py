"""`shiftlore learn`, and `rank` with what was learned."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

CASE = "shiftlore: 1\nunit: long6\nfindings: {slips: yes, fluid_smell_burnt: yes}\n"
ENDED = CASE + "outcome: {causes: [pump_worn], confirmed: cured}\n"
REPAIR = """\
- id: A1
  source: a page / sha1 0123456789
  record: repair
  kind: step
  presented: [slips in all gears when hot]
  confirmed_cause: pump worn
  area: pump
"""


@pytest.fixture
def cases(tmp_path: Path) -> Path:
    """Give a folder of four ended cases, one by a job that cured it, and an open one."""
    folder = tmp_path / "cases"
    folder.mkdir()
    for name in "abc":
        (folder / f"{name}.yaml").write_text(ENDED, encoding="utf-8")
    cured = "done: [{job: converter_exchange_job, result: cured}]\n"
    (folder / "d.yaml").write_text("unit: long6\nfindings: {shudder_under_load: yes}\n" + cured, encoding="utf-8")
    (folder / "e.yaml").write_text(CASE, encoding="utf-8")
    return folder


def p_of(ended: object, cause: str) -> float:
    return next(one["probability"] for one in json.loads(ended.out)["causes"] if one["id"] == cause)  # type: ignore[attr-defined]


def test_learn__what_was_often_the_cause_becomes_likelier(run: Callable, cases: Path, tmp_path: Path) -> None:
    overlay = tmp_path / "overlay.yaml"
    ended = run("learn", str(cases), "--into", str(overlay))
    assert 0 == ended.code and ended.out.startswith("Learned from 5 cases: 4 cured, 1 not told.")
    assert "Pump worn" in ended.out and f"Written to {overlay}" in ended.out
    before, after = (
        run("rank", "-", "--rules-alone", "--format", "json", *more, stdin=CASE)
        for more in ([], ["--overlay", str(overlay)])
    )
    assert p_of(after, "pump_worn") > 1.1 * p_of(before, "pump_worn")


def test_learn__writes_over_nothing_unasked(run: Callable, cases: Path, tmp_path: Path) -> None:
    target = tmp_path / "overlay.yaml"
    target.write_text("kept", encoding="utf-8")
    assert run("learn", str(cases), "--into", str(target)).code and "kept" == target.read_text()
    assert 0 == run("learn", str(cases), "--into", str(target), "--force").code


def test_learn__from_published_repairs(run: Callable, tmp_path: Path) -> None:
    (tmp_path / "lists").mkdir()
    (tmp_path / "lists" / "one.yaml").write_text(REPAIR, encoding="utf-8")
    ended = run("learn", str(tmp_path / "lists"), "--into", str(tmp_path / "o.yaml"))
    assert 0 == ended.code and "Learned from 1 case: 1 repair." in ended.out


@pytest.mark.parametrize(
    "case, says",
    [
        (ENDED.replace("pump_worn", "pump_wron"), 'a.yaml:4:20: error C020: There is no cause "pump_wron".'),
        ("unit: long6\nfindings: {slps: yes}\n", "a.yaml:2:12: error C0"),
    ],
)
def test_learn__a_bad_case_is_told_with_its_place_and_nothing_written(
    run: Callable, cases: Path, tmp_path: Path, case: str, says: str
) -> None:
    (cases / "a.yaml").write_text(case, encoding="utf-8")
    ended = run("learn", str(cases), "--into", str(tmp_path / "o.yaml"))
    assert 1 == ended.code and says in ended.err and not (tmp_path / "o.yaml").exists()


@pytest.mark.parametrize(
    "arguments, says",
    [
        (("learn", "nowhere", "--into", "o.yaml"), "There is no file or folder nowhere."),
        (("learn", "examples", "--into", "o.txt"), "o.txt will not do. Give a file name that ends in .yaml"),
        (("rank", "examples/touring_camper.yaml", "--overlay", "nowhere.yaml"), "There is no overlay nowhere.yaml."),
    ],
)
def test_learn__wrong_usage(run: Callable, arguments: tuple[str, ...], says: str) -> None:
    ended = run(*arguments)
    assert ended.code in (1, 2) and says in ended.err


def test_learn__an_empty_folder(run: Callable, tmp_path: Path) -> None:
    ended = run("learn", str(tmp_path), "--into", str(tmp_path / "o.yaml"))
    assert 1 == ended.code and "There is no case in this folder" in ended.err
