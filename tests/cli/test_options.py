"""`shiftlore options`: text, JSON, and the page for the owner."""

import json
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from support.trade import EXAMPLES, ROOT

from shiftlore.reports.schemas import options_schema

CASES = sorted(path.stem for path in EXAMPLES.glob("*.yaml"))
CASE = "examples/touring_camper.yaml"
DAY = "2026-03-02"
REGENERATE = "SHIFTLORE_REGENERATE"
NUMBERS = re.compile(r"-?\d+(?:[.,]\d+)*")


def near(wanted: str, found: str) -> bool:
    """Two pages are alike: the same words, and numbers that differ by rounding at most."""
    if NUMBERS.sub("#", wanted) != NUMBERS.sub("#", found):
        return False
    pairs = zip(NUMBERS.findall(wanted), NUMBERS.findall(found), strict=True)
    return all(abs(float(a.replace(",", "")) - float(b.replace(",", ""))) <= 1.01 for a, b in pairs if a != b)


@pytest.mark.parametrize("name", CASES)
def test_options__the_examples_page_is_as_kept(run: Callable, name: str, tmp_path: Path) -> None:
    """Golden files; with SHIFTLORE_REGENERATE=yes they are written anew."""
    kept, page = EXAMPLES / f"{name}-options.html", tmp_path / "page.html"
    ended = run("options", f"examples/{name}.yaml", "--sheet", str(page), "--date", DAY)
    assert (0, "") == (ended.code, ended.out), ended.err
    if os.environ.get(REGENERATE):
        kept.write_text(page.read_text(encoding="utf-8"), encoding="utf-8")
    assert near(kept.read_text(encoding="utf-8"), page.read_text(encoding="utf-8")), (
        f"The page of {name} has changed. If that is meant, run the tests with {REGENERATE}=yes and look at the page."
    )


def test_options__json_fits_the_schema_and_the_contract(run: Callable) -> None:
    found = json.loads(run("options", CASE, "--format", "json").out)
    Draft202012Validator(options_schema()).validate(found)
    promised = {
        "id",
        "label",
        "jobs",
        "cost",
        "p_cured",
        "p_cured_low",
        "p_cured_high",
        "expected_total",
        "on_frontier",
        "within_budget",
        "follow_ups",
        "not_covered",
        "if_nothing_done",
        "cautions",
    }
    assert all(promised <= set(option) for option in found["options"])
    assert {"low", "typical", "high"} <= set(found["options"][0]["cost"]) and "EUR" == found["currency"]


@pytest.mark.parametrize("name", CASES)
def test_options__names_the_check_that_next_names_first(run: Callable, name: str) -> None:
    """Two of the examples have a budget: both commands plan within it."""
    steps = json.loads(run("next", f"examples/{name}.yaml", "--format", "json").out)["steps"]
    found = json.loads(run("options", f"examples/{name}.yaml", "--format", "json").out)
    check = next(option for option in found["options"] if option["kind"] == "check")
    assert next(step["together"] for step in steps if step["kind"] == "check") == check["checks"]
    assert (steps[0]["kind"] == "check") == (found["advised"] == check["id"])


def test_options__text_fits_eighty_columns(run: Callable) -> None:
    ended = run("options", CASE)
    assert 0 == ended.code and max(map(len, ended.out.splitlines())) <= 80


def test_options__a_budget_on_the_line_outweighs_the_cases(run: Callable) -> None:
    found = json.loads(run("options", CASE, "--budget", "60", "--format", "json").out)
    assert 60 == found["budget"]["amount"] and found["budget"]["buys_little"]


@pytest.mark.parametrize("asked", ["overhaul", "fluid change", "new solenoid"])
def test_options__a_job_is_priced_by_id_or_in_words(run: Callable, asked: str) -> None:
    options = json.loads(run("options", CASE, "--job", asked, "--format", "json").out)["options"]
    (found,) = [option for option in options if option["asked"]]
    assert found["cost"]["typical"] > 0 and found["jobs"] and found["follow_ups"] is not None


def test_options__a_job_that_nobody_knows_is_told(run: Callable) -> None:
    ended = run("options", CASE, "--job", "fluid_servise")
    assert (2, "") == (ended.code, ended.out) and 'no job "fluid_servise"' in ended.err
    assert 2 == run("options", CASE, "--job", "xyzzy").code


def test_options__an_existing_page_is_kept_unless_forced(run: Callable, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    page.write_text("mine")
    ended = run("options", CASE, "--sheet", str(page))
    assert 2 == ended.code and "--force" in ended.err and "mine" == page.read_text()
    assert 0 == run("options", CASE, "--sheet", str(page), "--force").code
    assert page.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


def test_options__a_page_of_another_kind_is_refused_at_once(run: Callable, tmp_path: Path) -> None:
    ended = run("options", CASE, "--sheet", str(tmp_path / "page.doc"))
    assert 2 == ended.code and ".pdf" in ended.err


def test_options__a_folder_that_is_not_there_is_told(run: Callable, tmp_path: Path) -> None:
    ended = run("options", CASE, "--sheet", str(tmp_path / "none" / "page.html"))
    assert 2 == ended.code and "There is no folder" in ended.err


def test_options__an_unknown_language_names_those_there_are(run: Callable, tmp_path: Path) -> None:
    ended = run("options", CASE, "--sheet", str(tmp_path / "page.html"), "--language", "tlh")
    assert 2 == ended.code and "de, en" in ended.err and not list(tmp_path.iterdir())


def test_options__a_shop_whose_language_is_not_there_gets_english_and_is_told(run: Callable, tmp_path: Path) -> None:
    folder, page = tmp_path / "knowledge", tmp_path / "page.html"
    shutil.copytree(ROOT / "knowledge", folder)
    text = (folder / "shop.yaml").read_text(encoding="utf-8")
    (folder / "shop.yaml").write_text(text.replace("locale: en", "locale: sv"), encoding="utf-8")
    ended = run("options", CASE, "--sheet", str(page), "--knowledge", str(folder))
    assert 0 == ended.code and '"sv"' in ended.err and '<html lang="en">' in page.read_text(encoding="utf-8")


def test_options__a_pdf_without_the_means_says_what_to_install(
    run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from shiftlore.reports import page_files

    monkeypatch.setattr(page_files.util, "find_spec", lambda name: None)
    monkeypatch.setenv("PATH", "")
    ended = run("options", CASE, "--sheet", str(tmp_path / "page.pdf"))
    assert 2 == ended.code and "shiftlore[pdf]" in ended.err and not list(tmp_path.iterdir())


def test_options__a_german_page_on_letter(run: Callable, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    run("options", CASE, "--sheet", str(page), "--language", "de", "--paper", "letter", "--date", DAY)
    text = page.read_text(encoding="utf-8")
    assert '<html lang="de">' in text and "size:Letter" in text and "2. März 2026" in text


@pytest.mark.parametrize(
    "text",
    [
        "unit: cvt\nfindings: {slips: yes}\n",
        "unit: dct\nfindings: {shift_harsh_any: yes}\n",
        "unit: step\n",
        "unit: long5\naccess: pan_off\ndone: [pan_drop, plain_service]\nfindings: {slips: yes}\n",
    ],
)
def test_options__every_kind_of_unit_and_state_gets_options(run: Callable, text: str) -> None:
    ended = run("options", "-", "--format", "json", stdin="shiftlore: 1\n" + text)
    assert (0, "") == (ended.code, ended.err)
    options = json.loads(ended.out)["options"]
    assert 3 <= len(options) <= 6 and "nothing" == options[0]["id"]


def test_options__a_bad_case_is_told_with_its_place(run: Callable) -> None:
    ended = run("options", "-", stdin="unit: long5\nfindings: {slipps: yes}\n")
    assert (1, "") == (ended.code, ended.out) and "slips" in ended.err


def test_near__numbers_may_round_otherwise_and_words_may_not() -> None:
    assert near("about 1,240 km", "about 1,241 km")
    assert not near("about 1,240 km", "about 1,250 km") and not near("a 1", "b 1")


def test_examples__have_their_pages() -> None:
    assert CASES == sorted(
        path.name.removesuffix("-options.html") for path in (ROOT / "examples").glob("*-options.html")
    )
