"""`shiftlore rank`, `next` and `options`."""

import json
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from jsonschema import Draft202012Validator
from support.trade import EXAMPLES, ROOT

from shiftlore.basics import UnknownId
from shiftlore.cases import Case
from shiftlore.cli.on_case import change_case, change_shop
from shiftlore.reports.schemas import next_schema, options_schema, rank_schema

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


PLANNED = (
    "shiftlore: 1\nunit: long5\nodometer_km: 182000\n"
    "findings: {slips_gear_2: yes, fluid_level: right, ratio_code_gear_2: yes}\n"
)
SHOP = ROOT / "knowledge" / "shop.yaml"


@pytest.fixture
def plan(run: Callable) -> Callable:
    """Give a function that plans the case and reads the JSON."""

    def go(*options: str) -> dict:
        ended = run("next", "-", "--format", "json", *options, stdin=PLANNED)
        assert (0, "") == (ended.code, ended.err)
        return json.loads(ended.out)

    return go


def test_next__json_fits_the_schema(plan: Callable) -> None:
    found = plan()
    Draft202012Validator(next_schema()).validate(found)
    totals = [step["cost"]["total"] + step["expected_total_after"] for step in found["steps"]]
    assert totals[0] == min(totals)


def test_next__dearer_labour_costs_more(plan: Callable) -> None:
    assert plan()["expected_total_now"] < plan("--labour", "300")["expected_total_now"]


def test_next__a_missing_tool_takes_its_checks_away(run: Callable) -> None:
    def steps(*options: str) -> set[str]:
        failsafe = "shiftlore: 1\nunit: long5\nfindings: {failsafe_mode: yes}\n"
        ended = run("next", "-", "--format", "json", *options, stdin=failsafe)
        return {step["id"] for step in json.loads(ended.out)["steps"]}

    scanned, without = {"module_scan"}, ("--without", "generic_scan", "--without", "module_scan")
    assert scanned <= steps() and not scanned & steps(*without)


def test_next__what_is_open_already_is_not_paid_again(plan: Callable) -> None:
    def access(found: dict) -> float:
        return next(step["cost"]["access"] for step in found["steps"] if step["access_needed"] == "unit_out")

    # What stands open is only closed again.
    assert 0 < access(plan("--open", "lifted")) < access(plan()) - 1


def test_next__another_shop_sets_currency_and_rate(plan: Callable, write: Callable) -> None:
    path = write(SHOP.read_text(encoding="utf-8").replace("currency: EUR", "currency: CHF"), "other.yaml")
    assert "CHF" == plan("--shop", path)["currency"]


def test_next__text_says_what_next_whether_to_stop_and_the_cost(run: Callable) -> None:
    out = run("next", "-", "--budget", "2500", "--steps", "2", stdin=PLANNED).out
    assert "What to do next" in out and "Check further, or stop?" in out and "expected to cost from here" in out
    assert " 2. " in out and " 3. " not in out


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--open", "pan_of"), "pan_off"),
        (("--without", "pressure_gage"), "pressure_gauge"),
        (("--shop", "no_such.yaml"), "no shop file no_such.yaml"),
    ],
)
def test_next__a_wrong_value_is_told_with_what_to_write(run: Callable, options: tuple[str, ...], said: str) -> None:
    ended = run("next", "-", *options, stdin=PLANNED)
    assert (2, "") == (ended.code, ended.out)
    assert said in ended.err and "Traceback" not in ended.err


@pytest.mark.parametrize(
    ("form", "begins"),
    [
        ("text", "Check order (long5)"),
        ("mermaid", "flowchart TD"),
        ("dot", "digraph check_order"),
        ("json", "{"),
    ],
)
def test_next__tree_in_each_format(run: Callable, form: str, begins: str) -> None:
    options = ("--tree", "--tree-format", form, "--depth", "1", "--fold", "40")
    ended = run("next", "-", *options, stdin=PLANNED)
    assert (0, "") == (ended.code, ended.err)
    assert ended.out.startswith(begins)


def test_next__tree_in_json_names_what_it_holds(run: Callable) -> None:
    options = ("--tree", "--tree-format", "json", "--depth", "1", "--fold", "40")
    found = json.loads(run("next", "-", *options, stdin=PLANNED).out)
    assert set(found["tree"]["ids"]) <= set(found["labels"])
    assert 1.0 == pytest.approx(sum(branch["p"] for branch in found["tree"]["branches"]), abs=1e-6)


MINIBUS = "examples/mountain_minibus.yaml"


def knowledge() -> object:
    """Give the shipped knowledge."""
    from support.trade import shipped

    return shipped()


def test_change_shop__dearer_labour_and_a_missing_tool() -> None:
    shop = knowledge().shop  # type: ignore[attr-defined]
    tool = shop.tools[0]
    changed = change_shop(knowledge(), 250.0, (tool,))  # type: ignore[arg-type]
    assert changed is not None
    assert (250.0, False) == (changed.labour_per_hour, tool in changed.tools)
    assert tool in shop.tools, "the shop itself is left alone"


def test_change_shop__an_hour_is_named_without_the_tax() -> None:
    from dataclasses import replace

    taxed = replace(knowledge(), shop=knowledge().shop.vary(tax_percent=20.0))  # type: ignore[attr-defined, type-var]
    changed = change_shop(taxed, 100.0, ())  # type: ignore[arg-type]
    assert changed is not None and (120.0, ("parts",)) == (changed.labour_per_hour, changed.invented)


def test_change_shop__a_tool_that_nothing_uses() -> None:
    with pytest.raises(UnknownId, match="crystal_ball"):
        change_shop(knowledge(), None, ("crystal_ball",))  # type: ignore[arg-type]


def test_change_case__access_and_budget() -> None:
    case = change_case(knowledge(), Case("long5"), "pan_off", 300.0)  # type: ignore[arg-type]
    assert ("pan_off", 300.0) == (case.access, case.budget)
    with pytest.raises(UnknownId, match="pan_of"):
        change_case(knowledge(), Case("long5"), "pan_of", None)  # type: ignore[arg-type]


@pytest.mark.parametrize("arguments", [["--without", "crystal_ball"], ["--open", "pan_of"]])
def test_next__what_cannot_be_is_told(run: Callable, arguments: list[str]) -> None:
    ended = run("next", MINIBUS, *arguments)
    assert (2, "") == (ended.code, ended.out)
    assert ended.err


STEMS = sorted(path.stem for path in EXAMPLES.glob("*.yaml"))
DAY = "2026-03-02"
REGENERATE = "SHIFTLORE_REGENERATE"
NUMBERS = re.compile(r"-?\d+(?:[.,]\d+)*")


def near(wanted: str, found: str) -> bool:
    """Two pages are alike: the same words, and numbers that differ by rounding at most."""
    if NUMBERS.sub("#", wanted) != NUMBERS.sub("#", found):
        return False
    pairs = zip(NUMBERS.findall(wanted), NUMBERS.findall(found), strict=True)
    return all(abs(float(a.replace(",", "")) - float(b.replace(",", ""))) <= 1.01 for a, b in pairs if a != b)


@pytest.mark.parametrize("name", STEMS)
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


@pytest.mark.parametrize("name", STEMS)
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
    assert STEMS == sorted(
        path.name.removesuffix("-options.html") for path in (ROOT / "examples").glob("*-options.html")
    )


def test_options__danger_fits_the_schema_too(run: Callable) -> None:
    """A milky fluid and a budget that buys nothing: whoever reads the JSON learns that it should stand."""
    case = "shiftlore: 1\nunit: long6\nfindings: {fluid_milky: yes, shudder_light_throttle: yes}\nbudget: 80\n"
    found = json.loads(run("options", "-", "--format", "json", stdin=case).out)
    Draft202012Validator(options_schema()).validate(found)
    assert found["for_budget"] and found["danger"]["says"].startswith("Do not drive it")
    steps = json.loads(run("next", "-", "--format", "json", stdin=case).out)
    assert steps["stop"]["danger"].startswith("Do not drive it")
