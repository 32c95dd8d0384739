"""`shiftlore simulate`."""

import json
from collections.abc import Callable

import pytest
from jsonschema import Draft202012Validator

from shiftlore.cli.simulate import POLICIES
from shiftlore.reports.schemas import simulate_schema


@pytest.fixture
def simulate(run: Callable) -> Callable:
    """Give a function that simulates a few vehicles and reads the JSON."""

    def go(*options: str) -> dict:
        ended = run("simulate", "long5", "--vehicles", "3", "--format", "json", *options)
        assert (0, "") == (ended.code, ended.err)
        return json.loads(ended.out)

    return go


def test_simulate__json_fits_the_schema_and_holds_every_policy(simulate: Callable) -> None:
    found = simulate()
    Draft202012Validator(simulate_schema()).validate(found)
    assert POLICIES == [policy["policy"] for policy in found["policies"]]
    assert all(one["low"] <= one["mean_total"] <= one["high"] for one in found["policies"])


def test_simulate__the_same_seed_gives_the_same(simulate: Callable) -> None:
    options = ("--policy", "likeliest_cause", "--seed", "5")
    assert simulate(*options)["policies"] == simulate(*options)["policies"]


def test_simulate__text_has_no_bar_in_a_pipe(run: Callable) -> None:
    ended = run("simulate", "long5", "--vehicles", "1", "--policy", "overhaul")
    assert (0, "") == (ended.code, ended.err)
    assert "overhaul at once" in ended.out and "this planner" not in ended.out


def test_simulate__an_unknown_unit_names_the_nearest(run: Callable) -> None:
    ended = run("simulate", "long55")
    assert 2 == ended.code
    assert "long5" in ended.err


@pytest.mark.parametrize("options", [("--vehicles", "0"), ("--seed", "-1"), ("--policy", "luck")])
def test_simulate__wrong_usage(run: Callable, options: tuple[str, ...]) -> None:
    assert 2 == run("simulate", "long5", *options).code
