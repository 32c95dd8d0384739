"""`shiftlore next`."""

import json
from collections.abc import Callable

import pytest
from jsonschema import Draft202012Validator
from support.trade import ROOT

from shiftlore.reports.schemas import next_schema

CASE = (
    "shiftlore: 1\nunit: long5\nodometer_km: 182000\n"
    "findings: {slips_gear_2: yes, fluid_level: right, ratio_code_gear_2: yes}\n"
)
SHOP = ROOT / "knowledge" / "shop.yaml"


@pytest.fixture
def plan(run: Callable) -> Callable:
    """Give a function that plans the case and reads the JSON."""

    def go(*options: str) -> dict:
        ended = run("next", "-", "--format", "json", *options, stdin=CASE)
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


def test_next__a_missing_tool_takes_its_checks_away(plan: Callable) -> None:
    with_lift = {step["id"] for step in plan()["steps"]}
    without = {step["id"] for step in plan("--without", "generic_scan", "--without", "module_scan")["steps"]}
    assert "module_scan" in with_lift and not {"codes_come_back", "module_scan"} & without


def test_next__what_is_open_already_is_not_paid_again(plan: Callable) -> None:
    def access(found: dict) -> float:
        return next(step["cost"]["access"] for step in found["steps"] if step["access_needed"] == "lifted")

    assert 0 == pytest.approx(access(plan("--open", "lifted")), abs=0.01)
    assert access(plan()) > 1


def test_next__another_shop_sets_currency_and_rate(plan: Callable, write: Callable) -> None:
    path = write(SHOP.read_text(encoding="utf-8").replace("currency: EUR", "currency: CHF"), "other.yaml")
    assert "CHF" == plan("--shop", path)["currency"]


def test_next__text_says_what_next_whether_to_stop_and_the_cost(run: Callable) -> None:
    out = run("next", "-", "--budget", "900", "--steps", "2", stdin=CASE).out
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
    ended = run("next", "-", *options, stdin=CASE)
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
    ended = run("next", "-", *options, stdin=CASE)
    assert (0, "") == (ended.code, ended.err)
    assert ended.out.startswith(begins)


def test_next__tree_in_json_names_what_it_holds(run: Callable) -> None:
    options = ("--tree", "--tree-format", "json", "--depth", "1", "--fold", "40")
    found = json.loads(run("next", "-", *options, stdin=CASE).out)
    assert set(found["tree"]["ids"]) <= set(found["labels"])
    assert 1.0 == pytest.approx(sum(branch["p"] for branch in found["tree"]["branches"]), abs=1e-6)
