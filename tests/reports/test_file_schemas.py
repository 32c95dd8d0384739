"""The schemas of the files that people write."""

import json

import pytest
import yaml
from jsonschema import Draft202012Validator

from shiftlore.cases import Case, render_case
from shiftlore.knowledge import FORMS, SHOP, find_knowledge
from shiftlore.knowledge.files import collect_files
from shiftlore.reading import REQUIRED
from shiftlore.reports.file_schemas import case_schema, knowledge_schema

CASE = Draft202012Validator(case_schema())
KNOWLEDGE = knowledge_schema()


def test_case_schema__is_a_valid_schema():
    Draft202012Validator.check_schema(case_schema())


def test_case_schema__is_json():
    assert case_schema() == json.loads(json.dumps(case_schema()))


def test_case_schema__accepts_what_is_rendered():
    assert CASE.is_valid(yaml.safe_load(render_case(Case("long5", 5.0, {"usage": "no"}, ("burnt",), budget=3.5))))


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"unit": ""},
        {"unit": "a", "odometer_km": -1},
        {"unit": "a", "x": 1},
        {"unit": "a", "findings": {"b": {}}},
        {"unit": "a", "findings": {"B-c": True}},
        {"unit": "a", "done": ["b", "b"]},
        {"unit": "a", "shiftlore": 2},
        {"unit": "a", "either": [["b", {"c": {"is": True, "when": ["hot"]}}]]},  # as the reader does
    ],
)
def test_case_schema__refuses(values):
    assert not CASE.is_valid(values)


def validator_of(kind):
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": KNOWLEDGE["$defs"]})


def test_knowledge_schema__is_a_valid_schema_and_json():
    Draft202012Validator.check_schema(KNOWLEDGE)
    assert KNOWLEDGE == json.loads(json.dumps(KNOWLEDGE))


def test_knowledge_schema__takes_every_file_that_came_with_the_program():
    validators = {kind: validator_of(kind) for kind in KNOWLEDGE["$defs"]}
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


@pytest.mark.parametrize("kind", FORMS)
def test_knowledge_schema__names_the_keys_that_the_reader_knows(kind):
    schema, form = KNOWLEDGE["$defs"][kind], FORMS[kind]
    record = schema if schema["properties"].get("id") else next(iter(schema["properties"].values()))
    if "items" not in record and record is not schema:
        record = list(schema["properties"].values())[1]
    record = record.get("items", record)
    assert not record["additionalProperties"]
    assert {key.name for key in form.keys} == set(record["properties"])
    required = {key.name for key in form.keys if key.default is REQUIRED}
    assert required - {"source"} == set(record["required"]) - {"source"}


def test_knowledge_schema__a_file_of_one_record_needs_its_source_a_list_does_not():
    needy = {kind for kind in FORMS if "source" in KNOWLEDGE["$defs"][kind]["required"]}
    assert {"causes", "textbook"} == needy


def test_knowledge_schema__a_shop_stands_alone_or_under_its_heading():
    plain, headed = KNOWLEDGE["$defs"]["shop"]["anyOf"]
    assert {key.name for key in SHOP.keys} == set(plain["properties"])
    assert (["name", "currency", "labour_per_hour"], ["shop"]) == (plain["required"], headed["required"])


def test_knowledge_schema__what_is_referred_to_is_there():
    text = json.dumps(KNOWLEDGE)
    referred = {part.split('"')[0] for part in text.split('"#/$defs/')[1:]}
    assert set() == referred - set(KNOWLEDGE["$defs"])


@pytest.mark.parametrize(
    ("kind", "text", "taken"),
    [
        ("jobs", "jobs: [{id: x, label: X, says: X, kind: service, minutes: 5, days: ~, cures: ~}]", True),
        ("jobs", "jobs: [{id: x, label: X, says: X, kind: wash, minutes: 5}]", False),
        ("jobs", "jobs: [{id: x, label: X, says: X, kind: service, minutes: -5}]", False),
        ("follow_ups", "follow_ups: [{id: x, label: X, says: X, who: ~}]", True),
        ("follow_ups", "follow_ups: [{id: x, label: X, says: X, who: nobody}]", False),
        ("states", "states: [{id: x, label: X, leads_to: {y: [{strength: often, where: any}]}}]", True),
        ("states", "states: [{id: x, label: X, leads_to: {y: []}}]", False),
        ("states", "states: [{id: x, label: X, each: wheel}]", False),
        ("findings", "findings: [{id: x, label: X, ask: X, group: g, got_by: look, complaint: 1}]", False),
        ("backgrounds", "backgrounds: [{id: x, label: X, ask: X, answers: {a: {share: 2}}}]", False),
        ("shop", "name: A\ncurrency: EUR\nlabour_per_hour: 90\nquote_days: 2.5\n", False),
        ("retired", "id: x\nreplaced_by: ~\nwhy: gone\n", True),
    ],
)  # fmt: skip
def test_knowledge_schema__agrees_with_the_reader(kind, text, taken):
    assert taken == validator_of(kind).is_valid(yaml.safe_load(text))
