"""Spoiled knowledge ends in problems, never in another error, and never with an unknown key let through."""

import random
from collections.abc import Mapping

import yaml
from jsonschema import Draft202012Validator
from support.mutations import mutate
from support.trade import SMALL, write_small

from shiftlore.basics import Mark, Problem
from shiftlore.basics.structs import Record
from shiftlore.knowledge import Knowledge, collect_knowledge
from shiftlore.knowledge.rulebook import KEPT_FIELDS
from shiftlore.reports.file_schemas import knowledge_schema

SCHEMA = knowledge_schema()


def schema_of(name):
    kind = name.split("/")[0].removesuffix(".yaml")
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]})


def says(value):
    """Give what a record says as plain values, without the places where it stands."""
    if isinstance(value, Mark):
        return None
    if isinstance(value, Knowledge | Record):
        names = value.__struct_fields__ if isinstance(value, Record) else KEPT_FIELDS
        return [says(getattr(value, name)) for name in names if name != "places"]
    if isinstance(value, Mapping):
        return [(key, says(member)) for key, member in value.items()]
    return [says(member) for member in value] if isinstance(value, tuple | list) else value


def check_accepted(name, text, before, knowledge, sheets):
    """Hold an accepted file against its schema; a sheet, which has none, must say something new where its YAML does."""
    loaded = yaml.load(text, yaml.CSafeLoader)
    if not name.startswith("units/"):
        assert [] == [error.message for error in schema_of(name).iter_errors(loaded)], text
    elif loaded != yaml.load(before, yaml.CSafeLoader):
        assert says(knowledge.sheets[loaded["id"]]) not in sheets, text


def spoil_and_check(path, count, seed, at_once=1, skipped=("words.yaml", "areas.yaml")):
    """Spoil some files at a time; each that is accepted must be what it was read as. Gives how many were accepted."""
    names = sorted(file.relative_to(path).as_posix() for file in path.rglob("*.yaml"))
    names = [name for name in names if name not in skipped and not name.startswith("phrases/") and "/_" not in name]
    sound = {name: (path / name).read_text(encoding="utf-8") for name in names}
    sheets = [says(sheet) for sheet in collect_knowledge(path)[0].sheets.values()]
    dice = random.Random(seed)
    accepted = 0
    for _ in range(count // at_once):
        spoiled = {name: mutate(sound[name], dice) for name in dice.sample(names, at_once)}
        for name, text in spoiled.items():
            (path / name).write_bytes(text.encode("utf-8", "surrogatepass"))
        knowledge, problems = collect_knowledge(path)
        for problem in problems:
            assert isinstance(problem, Problem)
            assert problem.what and problem.write_instead and problem.code[0] in "KU"
        wrong = {problem.mark.file for problem in problems if problem.severity == "error"}
        for name, text in spoiled.items():
            if name not in wrong:
                accepted += 1
                check_accepted(name, text, sound[name], knowledge, sheets)
            (path / name).write_text(sound[name], encoding="utf-8")
    return accepted


def test_collect_knowledge__spoiled_300_times(folder):
    accepted = spoil_and_check(folder(), 300, 5)
    assert 10 < accepted < 150


def test_collect_knowledge__unit_sheets_spoiled_100_times(tmp_path):
    """All that came with the program but its sheets is left out, so that every load is short."""
    write_small(tmp_path, "long5")
    accepted = spoil_and_check(tmp_path, 100, 7, skipped=("words.yaml", "areas.yaml", *SMALL))
    assert 5 < accepted < 70
