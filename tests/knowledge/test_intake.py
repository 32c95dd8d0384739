"""What all record readers share."""

from shiftlore.knowledge.intake import Intake
from shiftlore.reading import Fields, read_yaml


def opened(words, text):
    node, problems = read_yaml(text, "a.yaml")
    return Fields(node, problems, "check"), Intake(words, problems)


def test_ids__notes_the_place_of_each(words):
    fields, intake = opened(words, "reveals: [one, two]\n")
    assert ("one", "two") == intake.ids(fields, "reveals", ("check", "c"))
    assert "a.yaml:1:16" == str(intake.places["check", "c", "reveals", "two"])


def test_scope__reads_tags_and_types(words):
    fields, intake = opened(words, "each: element\ntypes: [clutch]\nneeds: [step]\nnot_with: [cvt]\n")
    scope = intake.scope(fields, ("check", "c"))
    assert ("element", ("clutch",), ("step",), ("cvt",)) == (scope.each, scope.types, scope.needs, scope.not_with)


def test_source_of__the_files_source_stands_in(words):
    fields, intake = opened(words, "id: x\n")
    intake.source = "common practice"
    assert "common practice" == intake.source_of(fields)
    assert [] == intake.problems


def test_raised_by__a_hundredfold_is_the_most(words):
    fields, intake = opened(words, "raised_by: {usage: {towing: 101}}\n")
    assert () == intake.raised_by(fields)
    assert ["a.yaml:1:29"] == [str(problem.mark) for problem in intake.problems]
