"""`shiftlore schema`."""

import json
from collections.abc import Callable

import pytest
from jsonschema import Draft202012Validator

from shiftlore.cli.schema import NAMES


@pytest.mark.parametrize("name", NAMES)
def test_schema__each_is_itself_valid(run: Callable, name: str) -> None:
    ended = run("schema", name)
    assert (0, "") == (ended.code, ended.err)
    schema = json.loads(ended.out)
    assert "https://json-schema.org/draft/2020-12/schema" == schema["$schema"]
    Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("name", ["rank", "next", "options", "validate", "simulate", "unit"])
def test_schema__an_empty_object_does_not_fit(run: Callable, name: str) -> None:
    assert not Draft202012Validator(json.loads(run("schema", name).out)).is_valid({})
