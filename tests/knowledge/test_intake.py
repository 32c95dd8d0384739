"""What all record readers share."""

import pytest

from shiftlore.basics import Mark
from shiftlore.knowledge.intake import Intake, Opened
from shiftlore.reading import Fields, read_yaml


def opened(words, text):
    """Open a check that is called c."""
    node, problems = read_yaml(text, "a.yaml")
    record = Opened(Fields(node, problems, "check"), Intake(words, problems), "check")
    record.name("c")
    return record


def test_ids__notes_the_place_of_each(words):
    record = opened(words, "reveals: [one, two]\n")
    assert ("one", "two") == record.intake.ids(record.fields, "reveals", record.owner)
    assert "a.yaml:1:16" == str(record.intake.places["check", "c", "reveals", "two"])


def test_note__the_first_place_counts(words):
    intake = Intake(words)
    intake.note(("check", "c"), Mark("a", 1, 2))
    intake.note(("check", "c"), Mark("b", 3, 4))
    assert {("check", "c"): Mark("a", 1, 2)} == intake.places


def test_name__is_told_with_a_missing_key(words):
    record = opened(words, "id: c\n")
    record.fields.text("label")
    assert ["The check c has no label"] == [problem.what for problem in record.intake.problems]


@pytest.mark.parametrize(("text", "codes"), [("a: often", []), ("a: offen", ["K014"]), ("a: [often]", ["K013"])])
def test_strength__is_none_where_it_is_wrong(words, text, codes):
    record = opened(words, text)
    strength = record.intake.strength(record.fields.get("a"))
    assert (codes, bool(codes)) == ([problem.code for problem in record.intake.problems], strength is None)


@pytest.mark.parametrize(("text", "answer"), [("yes", "yes"), ("true", "yes"), ("no", "no"), ('"dark"', "dark")])
def test_answer__is_a_word_whatever_yaml_makes_of_it(words, text, answer):
    record = opened(words, f"a: {text}")
    assert (answer, []) == (record.intake.answer(record.fields.get("a")), record.intake.problems)
