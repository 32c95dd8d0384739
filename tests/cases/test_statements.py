"""What was said of 62 published repairs and 57 workshop charts goes into a case; what of it is lost is listed.

Source: published reports and makers' symptom charts, each statement in own words; the fit is judged by reading the entry alone.
"""

from collections import Counter
from collections.abc import Mapping
from functools import cache
from pathlib import Path

import pytest
import yaml
from support.trade import shipped

import shiftlore
from shiftlore.cases import Case, render_case
from shiftlore.knowledge import Knowledge

KINDS = {"reports": 191, "charts": 64}
"""How many statements a second reader counted in each, before these were entered."""
FLOORS = {"reports": (0.82, 0.99), "charts": (0.90, 0.99), "both": (0.85, 0.97)}
"""The least share that goes in exactly, and at least nearly: what is reached; of both together, what is aimed at."""


@cache
def statements() -> tuple[Mapping[str, object], ...]:
    return tuple(
        yaml.load((Path(__file__).parent / "data/statements.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader)
    )


def kind_of(statement: Mapping[str, object]) -> str:
    name = str(statement["id"])
    return "reports" if name[0] == "R" and name[1:4].isdigit() else "charts"


@cache
def knowledge() -> Knowledge:
    return shipped()


def read_entry(statement: Mapping[str, object]) -> Case:
    vehicle = {key: statement[key] for key in ("unit", "speeds", "layout") if key in statement}
    return shiftlore.read_case(
        yaml.dump({"shiftlore": 1, **vehicle, **statement["entered"]}, Dumper=yaml.CSafeDumper), knowledge()
    )


@pytest.fixture(scope="module")
def read() -> dict[str, Case]:
    return {str(one["id"]): read_entry(one) for one in statements() if one["entered"]}


def test_statements__are_those_that_were_counted():
    assert KINDS == Counter(map(kind_of, statements()))
    assert len({one["id"] for one in statements()}) == sum(KINDS.values())


def test_statements__each_goes_in_without_a_warning(read):
    warned = {name: [problem.what for problem in case.warnings] for name, case in read.items() if case.warnings}
    assert {} == warned


def test_statements__each_entry_says_something(read):
    silent = [name for name, case in read.items() if case == Case(case.unit, speeds=case.speeds, layout=case.layout)]
    assert [] == silent


def test_statements__are_the_same_when_written_and_read_again(read):
    changed = [name for name, case in read.items() if shiftlore.read_case(render_case(case), knowledge()) != case]
    assert [] == changed


def test_statements__what_is_not_exact_says_what_is_lost():
    assert {"exact", "nearly", "lost"} == {one["fit"] for one in statements()}
    wrong = [one["id"] for one in statements() if (one["fit"] == "exact") == bool(one.get("lost"))]
    assert [] == wrong
    assert [one["id"] for one in statements() if one["fit"] == "lost"] == [
        one["id"] for one in statements() if not one["entered"]
    ]


@pytest.mark.parametrize("kind", FLOORS)
def test_statements__so_many_fit(kind):
    judged = [one for one in statements() if kind in (kind_of(one), "both")]
    fits = Counter(one["fit"] for one in judged)
    print(f"\n{kind}: {dict(fits)} of {len(judged)}")
    for one in judged:
        if one["fit"] != "exact":
            print(f"  {one['fit']} {one['id']}: {one['says']} -- {one['lost']}")
    exactly, nearly = FLOORS[kind]
    assert fits["exact"] >= exactly * len(judged)
    assert fits["exact"] + fits["nearly"] >= nearly * len(judged)
