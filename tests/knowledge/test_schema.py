"""The schema takes what came with the program and refuses unknown keys."""

import json

import pytest
import yaml
from jsonschema import Draft202012Validator

from shiftlore.knowledge import find_knowledge
from shiftlore.knowledge.folders import collect_files
from shiftlore.knowledge.schema import knowledge_schema

SCHEMA = knowledge_schema()


def validator_of(kind):
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]})


def test_knowledge_schema__is_a_valid_schema_and_json():
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA == json.loads(json.dumps(SCHEMA))


def test_knowledge_schema__takes_every_file_that_came_with_the_program():
    validators = {kind: validator_of(kind) for kind in SCHEMA["$defs"]}
    files, _ = collect_files(find_knowledge())
    for file in files:
        if file.kind != "units":
            values = yaml.load(file.content, yaml.CSafeLoader)
            assert [] == [f"{file.name}: {error.message}" for error in validators[file.kind].iter_errors(values)]


@pytest.mark.parametrize(
    ("kind", "text"),
    [("causes", "id: x\nlabel: X\n"), ("states", "states: [{id: x, label: X, colour: red}]"), ("states", "state: []"),
     ("codes", "codes: [{code: P07, means: x, finding: y}]"), ("prices", "prices: [{id: x, label: X, typical: -1}]"),
     ("words", "strengths: {often: 0.6}"), ("textbook", "id: X-y")],
)  # fmt: skip
def test_knowledge_schema__refuses(kind, text):
    assert not validator_of(kind).is_valid(yaml.safe_load(text))
