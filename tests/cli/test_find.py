"""`shiftlore find` and `explain`."""

import json
from collections.abc import Callable

import pytest
from jsonschema import Draft202012Validator


def test_find__ids_that_match_plain_words(run: Callable) -> None:
    ended = run("find", "burnt", "smell")
    assert (0, "") == (ended.code, ended.err)
    assert "fluid_smell_burnt" in ended.out


def test_find__only_one_kind(run: Callable) -> None:
    hits = json.loads(run("find", "pump", "--kind", "cause", "--format", "json").out)["hits"]
    assert {"cause"} == {hit["kind"] for hit in hits}


def test_find__nothing_is_told_on_standard_error(run: Callable) -> None:
    ended = run("find", "xyzzyq")
    assert (0, "") == (ended.code, ended.out)
    assert "other words" in ended.err


def test_find__a_report_becomes_answers(run: Callable) -> None:
    ended = run("find", "--report", "P0732 stored, the fluid does not smell burnt", "--format", "json")
    answers = {one["code"] or one["id"]: one["answer"] for one in json.loads(ended.out)["answers"]}
    assert ("yes", "no") == (answers["P0732"], answers["fluid_smell_burnt"])


def test_find__at_most_so_many(run: Callable) -> None:
    assert 3 == len(run("find", "pressure", "--most", "3").out.splitlines())
    assert 2 == run("find", "pressure", "--most", "0").code


@pytest.mark.parametrize("wanted", ["slips", "pan_drop", "plain_service", "worn_element_lining", "P0741"])
def test_explain__json_fits_the_schema(run: Callable, wanted: str) -> None:
    ended = run("explain", wanted, "--format", "json")
    assert (0, "") == (ended.code, ended.err)
    Draft202012Validator(json.loads(run("schema", "explain").out)).validate(json.loads(ended.out))


def test_explain__words_are_looked_up(run: Callable) -> None:
    ended = run("explain", "drop", "the", "pan")
    assert 0 == ended.code and "[check pan_drop]" in ended.out


def test_explain__on_a_unit_of_ones_choice(run: Callable) -> None:
    assert "worked out on  trans6" in run("explain", "slips", "--unit", "trans6").out


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("worn_bnd",), "Nearest: worn_band"),
        (("dct_clutch_worn", "--unit", "long5"), "Leave --unit out"),
        (("slips", "--unit", "long55"), "long5"),
    ],
)
def test_explain__what_is_not_there_is_told(run: Callable, arguments: tuple[str, ...], said: str) -> None:
    ended = run("explain", *arguments)
    assert (2, "") == (ended.code, ended.out) and said in ended.err


def test_explain__needs_something_to_explain(run: Callable) -> None:
    assert 2 == run("explain").code
