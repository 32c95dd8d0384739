"""Spoiled knowledge ends in problems, never in another error, and never with an unknown key let through."""

import random

import yaml
from jsonschema import Draft202012Validator
from support.mutations import mutate

from shiftlore.basics import Problem
from shiftlore.knowledge import collect_knowledge
from shiftlore.reports.file_schemas import knowledge_schema

SCHEMA = knowledge_schema()
SKIPPED = ("words.yaml", "areas.yaml")


def schema_of(name):
    kind = name.split("/")[0].removesuffix(".yaml")
    return Draft202012Validator({"$ref": f"#/$defs/{kind}", "$defs": SCHEMA["$defs"]})


def spoil_and_check(path, count, seed):
    """Spoil one file at a time; an accepted file must also pass the schema. Gives how many were accepted."""
    names = sorted(file.relative_to(path).as_posix() for file in path.rglob("*.yaml"))
    names = [name for name in names if name not in SKIPPED and not name.startswith("units/")]
    validators = {name: schema_of(name) for name in names}
    sound = {name: (path / name).read_text(encoding="utf-8") for name in names}
    dice = random.Random(seed)
    accepted = 0
    for _ in range(count):
        name = dice.choice(names)
        text = mutate(sound[name], dice)
        (path / name).write_bytes(text.encode("utf-8", "surrogatepass"))
        _, problems = collect_knowledge(path)
        for problem in problems:
            assert isinstance(problem, Problem)
            assert problem.what and problem.write_instead and problem.code[0] in "KU"
        if not [problem for problem in problems if problem.mark.file == name and problem.severity == "error"]:
            accepted += 1
            errors = [error.message for error in validators[name].iter_errors(yaml.load(text, yaml.CSafeLoader))]
            assert [] == errors, text
        (path / name).write_text(sound[name], encoding="utf-8")
    return accepted


def test_collect_knowledge__spoiled_300_times(folder):
    accepted = spoil_and_check(folder(), 300, 5)
    assert 10 < accepted < 150
