"""`shiftlore rank`."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from support.trade import EXAMPLES

from shiftlore.reports.schemas import rank_schema

CASES = sorted(path.name for path in EXAMPLES.glob("*.yaml"))
CASE = "examples/touring_camper.yaml"


@pytest.mark.parametrize("name", CASES)
def test_rank__json_fits_the_schema(run: Callable, name: str) -> None:
    ended = run("rank", f"examples/{name}", "--format", "json")
    assert (0, "") == (ended.code, ended.err)
    Draft202012Validator(rank_schema()).validate(json.loads(ended.out))


def test_rank__json_is_sorted_and_within_its_spread(run: Callable) -> None:
    causes = json.loads(run("rank", CASE, "--format", "json").out)["causes"]
    p = [cause["probability"] for cause in causes]
    assert p == sorted(p, reverse=True)
    assert all(cause["low"] <= cause["probability"] <= cause["high"] for cause in causes)


@pytest.mark.parametrize("command", ["rank", "next", "options"])
def test_rank__equal_cases_give_equal_bytes_and_the_time_only_where_asked(run: Callable, command: str) -> None:
    """Source: CONTRACT, `seconds` with `--timing` only."""
    case = "unit: cvt\nfindings: {slips: yes}\n"
    plain = [run(command, "-", "--format", "json", stdin=case).out for _ in range(2)]
    timed = json.loads(run(command, "-", "--format", "json", "--timing", stdin=case).out)
    assert plain[0] == plain[1] and "seconds" not in json.loads(plain[0])
    assert timed["seconds"] > 0 and {**json.loads(plain[0]), "seconds": timed["seconds"]} == timed


@pytest.mark.parametrize("command", ["rank", "next", "options"])
def test_rank__the_time_of_a_text_goes_to_standard_error(run: Callable, command: str) -> None:
    ended = run(command, "-", "--timing", stdin="unit: cvt\nfindings: {slips: yes}\n")
    assert 0 == ended.code and "Worked out in" in ended.err and "Worked out in" not in ended.out


def test_rank__a_case_in_json_ranks_the_same(run: Callable, write: Callable) -> None:
    yaml_out = run("rank", "-", stdin="unit: long5\nfindings:\n  slips: yes\n  P0732: yes\n").out
    path = write(json.dumps({"unit": "long5", "findings": {"slips": "yes", "P0732": True}}), "case.json")
    assert yaml_out == run("rank", path).out


@pytest.mark.filterwarnings("ignore")
def test_rank__audit_agrees_with_the_general_library(run: Callable, write: Callable) -> None:
    """Source: pgmpy, variable elimination."""
    path = write("unit: step\nodometer_km: 200000\nfindings: {slips: yes, fluid_smell_burnt: yes}\n")
    audit = json.loads(run("rank", path, "--audit", "--format", "json").out)["audit"]
    assert audit["max_abs_difference"] < 1e-9
    assert "pgmpy" in audit["engine"]


def test_rank__audit_without_the_library_is_wrong_usage_and_says_what_to_install(
    run: Callable, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    ended = run("rank", CASE, "--audit")
    assert (2, "") == (ended.code, ended.out)
    assert "python -m pip install pgmpy" in ended.err


def test_rank__all_shows_more(run: Callable) -> None:
    assert len(run("rank", CASE, "--all").out) > len(run("rank", CASE).out)


def test_rank__what_carries_no_weight_is_told(run: Callable, write: Callable) -> None:
    ended = run("rank", write("unit: long5\nfindings: {P0805: yes, slips: yes}\n"))
    assert 0 == ended.code
    assert "P0805" in ended.out


def test_rank__an_impossible_pair_names_the_clash(run: Callable, write: Callable, tmp_path: Path) -> None:
    """A lamp that is on and off at once cannot be written; contradicting answers get a low fit instead."""
    path = write("unit: long5\nfindings: {moves_not_at_all: yes, no_codes_module_scan: yes, P0732: yes, P0741: yes}\n")
    ended = run("rank", path)
    assert ended.code in (0, 1)
    assert "Traceback" not in ended.err


def test_rank__another_knowledge_folder(run: Callable, write: Callable, tmp_path: Path) -> None:
    from support.trade import write_small

    folder = write_small(tmp_path / "small")
    path = write("unit: long5\nfindings: {gear_slips_2: yes}\n")
    ended = run("rank", path, "--knowledge", str(folder), "--format", "json")
    assert 0 == ended.code, ended.err
    assert "worn_pump" in {cause["id"] for cause in json.loads(ended.out)["causes"]}


def test_rank__a_broken_knowledge_folder_says_where(run: Callable, tmp_path: Path) -> None:
    from support.trade import write_small

    folder = write_small(tmp_path / "small")
    (folder / "states/all.yaml").write_text("source: judgement\nstates:\n- {id: a, leads_to: {nothing: often}}\n")
    ended = run("rank", CASE, "--knowledge", str(folder))
    assert (1, "") == (ended.code, ended.out)
    assert "states/all.yaml:3:" in ended.err


OWN = """\
id: own3
label: Three speeds of our own
tags: [step, rwd, converter]
elements: [{id: c1, type: clutch}, {id: b1, type: band}]
gears: {1: {ratio: 2.40, on: [c1]}, 2: {ratio: 1.47, on: [c1, b1]}, 3: {ratio: 1.00, on: [c1]}, R: {ratio: 2, on: [b1]}}
"""


@pytest.mark.parametrize("command", ["rank", "next", "options", "validate"])
def test_own_sheet__its_path_is_seen_from_the_case(run: Callable, tmp_path: Path, command: str) -> None:
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "own3.yaml").write_text(OWN)
    (tmp_path / "car.yaml").write_text("shiftlore: 1\nunit: sheets/own3.yaml\ncomplaint: [slips_gear_3]\n")
    ended = run(command, str(tmp_path / "car.yaml"))
    assert (0, "") == (ended.code, ended.err) and ended.out
    (tmp_path / "car.yaml").write_text("shiftlore: 1\nunit: sheets/own3.yaml\ncomplaint: [slips_gear_4]\n")
    ended = run(command, str(tmp_path / "car.yaml"))
    assert "slips_gear_4" in ended.out + ended.err


def test_own_sheet__its_own_problems_are_told_at_their_place(run: Callable, tmp_path: Path) -> None:
    (tmp_path / "own3.yaml").write_text(OWN.replace("type: band", "type: bandage"))
    (tmp_path / "car.yaml").write_text("shiftlore: 1\nunit: own3.yaml\ncomplaint: [slips]\n")
    ended = run("rank", str(tmp_path / "car.yaml"))
    assert 1 == ended.code and "own3.yaml:4:" in ended.err and "bandage" in ended.err


def test_speeds__a_gear_that_it_has_not_is_told(run: Callable, write: Callable) -> None:
    ended = run("rank", write("shiftlore: 1\nunit: step\nspeeds: 4\nlayout: rwd\ncomplaint: [slips_gear_6]\n"))
    assert 0 == ended.code and "slips_gear_6" in ended.err and "does not stand on this unit" in ended.err
    ended = run("rank", write("shiftlore: 1\nunit: long5\nspeeds: 4\ncomplaint: [slips]\n"))
    assert 1 == ended.code and ":3:9: error C024: long5 has 5 forward gears, not 4." in ended.err


MILKY = "unit: step-fwd\nfindings: {fluid_milky: yes, shudder_light_throttle: yes}\n"


def test_rank__names_published_repairs_that_looked_like_it(run: Callable) -> None:
    ended = run("rank", "-", stdin=MILKY)
    assert "Looked alike" in ended.out and "Published repair" in ended.out and "It was:" in ended.out
    found = json.loads(run("rank", "-", "--format", "json", stdin=MILKY).out)
    assert {"coolant_in_fluid"} & {one["area"] for one in found["alike"]}
    assert all("published" == one["source"] and one["factor_decibans"] >= 12 for one in found["alike"])
    assert "fluid_milky" in {sign["finding"] for one in found["alike"] for sign in one["shared"]}
    assert any(
        one["finding"] == "published_repairs" for cause in found["causes"] for one in (*cause["for"], *cause["against"])
    )


def test_rank__a_case_that_was_entered_from_a_repair_does_not_name_it(run: Callable, write: Callable) -> None:
    first = json.loads(run("rank", "-", "--format", "json", stdin=MILKY).out)["alike"][0]["id"]
    found = json.loads(run("rank", write(MILKY, f"{first}.yaml"), "--format", "json").out)["alike"]
    assert found and first not in {one["id"] for one in found}


def test_rank__the_shop_comes_first_and_a_closed_case_does_not_name_itself(
    run: Callable, write: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = tmp_path / "casebook.db"
    monkeypatch.setenv("SHIFTLORE_CASEBOOK", str(book))
    closed = write(MILKY, "closed.yaml")
    ended = run(
        "close", closed, "--cause", "water_through_vent", "--did", "fluid_exchange_lines", "--outcome", "cured", "--yes"
    )
    assert 0 == ended.code, ended.err
    first = json.loads(run("rank", "-", "--format", "json", stdin=MILKY).out)["alike"][0]
    assert ("shop", "coolant_in_fluid") == (first["source"], first["area"])
    itself = json.loads(run("rank", closed, "--format", "json").out)["alike"]
    assert "shop" not in {one["source"] for one in itself}
    book.write_bytes(b"no casebook")
    ended = run("rank", "-", "--format", "json", stdin=MILKY)
    assert 0 == ended.code and "Your own cases were not looked through." in ended.err
    assert {"published"} == {one["source"] for one in json.loads(ended.out)["alike"]}


def test_rank__by_the_rules_alone_on_request(run: Callable) -> None:
    case = "unit: step-fwd\nfindings: {fluid_milky: yes, shudder_light_throttle: yes}\n"
    alone, both = (
        json.loads(run("rank", "-", "--format", "json", *more, stdin=case).out) for more in (["--rules-alone"], [])
    )
    assert [] == alone["alike"] and both["alike"]
    assert alone["areas"] != both["areas"]
    assert "published_repairs" not in json.dumps(alone)


@pytest.mark.filterwarnings("ignore")
def test_rank__audit_holds_with_what_repairs_taught(run: Callable) -> None:
    """Source: pgmpy: what was learned shapes the priors, so the general library must find the same."""
    case = "unit: step-fwd\nfindings: {slips: yes, fluid_smell_burnt: yes}\n"
    audit = json.loads(run("rank", "-", "--audit", "--format", "json", stdin=case).out)["audit"]
    assert audit["max_abs_difference"] < 1e-9
