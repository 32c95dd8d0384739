"""What the other commands print with `--format json` fits the schemas."""

import json
from collections.abc import Callable
from itertools import dropwhile

import pytest
from jsonschema import Draft202012Validator
from support.trade import EXAMPLES, shipped

from shiftlore.planning.choosing import NEARLY

CASES = sorted(path.name for path in EXAMPLES.glob("*.yaml"))


def check(run: Callable, name: str, *arguments: str) -> dict:
    """Run a command and hold its JSON against the schema that the program prints."""
    ended = run(*arguments, "--format", "json")
    assert (0, "") == (ended.code, ended.err)
    found = json.loads(ended.out)
    Draft202012Validator(json.loads(run("schema", name).out)).validate(found)
    assert 1 == found["shiftlore"]
    return found


@pytest.mark.parametrize("name", CASES[1:])
def test_next__fits_the_schema(run: Callable, name: str) -> None:
    found = check(run, "next", "next", f"examples/{name}")
    # They go before dear work, what they are made for, and work that waits for them.
    looks = {key for key, one in shipped().checks.items() if one.visit_order or one.made_for or one.before}
    within = [
        step for step in found["steps"] if not step["beyond_budget"]
    ]  # best if more is agreed: saves less without
    savings = [step["expected_saving"] for step in dropwhile(lambda step: {*step["together"]} <= looks, within)]
    nearly = NEARLY * found["expected_total_now"]  # of nearly equal steps what opens less is first
    assert savings and savings[0] >= max(savings) - nearly


@pytest.mark.parametrize("name", CASES[:1])
def test_options__fits_the_schema(run: Callable, name: str) -> None:
    found = check(run, "options", "options", f"examples/{name}")
    assert [] in [option["jobs"] for option in found["options"]], "doing nothing is always offered"


def test_simulate__fits_the_schema(run: Callable) -> None:
    """That every way of working stands in it, and that it repeats itself, is held in `test_simulate`."""
    found = check(run, "simulate", "simulate", "long5", "--vehicles", "2", "--seed", "3", "--policy", "overhaul")
    assert ["overhaul"] == [policy["policy"] for policy in found["policies"]]


def test_unit__fits_the_schema(run: Callable) -> None:
    found = check(run, "unit", "unit", "long5", "--lost", "c1", "--stuck", "sol_a=off")
    assert {"lost", "stuck", "gears", "missing"} <= set(found)


def test_validate__a_clean_case_and_a_bad_one(run: Callable, write: Callable) -> None:
    assert {"shiftlore": 1, "problems": []} == check(run, "validate", "validate", "examples/touring_camper.yaml")
    ended = run("validate", write("unit: long5\nfindings: {nothing_such: yes}\n"), "--format", "json")
    assert 1 == ended.code
    found = json.loads(ended.out)
    Draft202012Validator(json.loads(run("schema", "validate").out)).validate(found)
    assert [(2, "error")] == [(problem["line"], problem["severity"]) for problem in found["problems"]]


def test_case_schema__accepts_the_examples(run: Callable) -> None:
    """Source: PyYAML as another reader; it takes a bare yes for true, which the schema allows."""
    import yaml

    validator = Draft202012Validator(json.loads(run("schema", "case").out))
    for path in EXAMPLES.glob("*.yaml"):
        validator.validate(yaml.safe_load(path.read_text(encoding="utf-8")))
