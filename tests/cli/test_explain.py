"""`shiftlore explain`: by id, code or words; text and JSON."""

import json
from collections.abc import Callable

import pytest
from jsonschema import Draft202012Validator


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
