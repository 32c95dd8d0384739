"""Every form of a line of `leads_to`."""

import pytest

from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.links import read_links
from shiftlore.reading import Fields, read_yaml


def links_of(words, text):
    node, problems = read_yaml(f"leads_to:\n  target: {text}\n", "a.yaml")
    links = read_links(Fields(node, problems, "cause"), Intake(words, problems))
    return links, [(str(problem.mark), problem.code) for problem in problems]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("often", {"yes": 0.65}),
        ("{low: often}", {"low": 0.65}),
        ("{counted: {hits: 7, of: 9}}", {"yes": 0.75}),
        ("{strength: often}", {"yes": 0.65}),
        ("{grades: {low: often, high: rarely}}", {"low": 0.65, "high": 0.06}),
        ("{strength: {counted: {hits: 7, of: 9}}, where: any}", {"yes": 0.75}),
    ],
)
def test_read_links__takes_short_and_long_forms(words, text, expected):
    links, told = links_of(words, text)
    assert [] == told
    assert [expected] == [{grade: strength.p for grade, strength in link.strengths.items()} for link in links]


@pytest.mark.parametrize(
    ("text", "place", "code"),
    [
        ("{strength: often, grades: {low: often}}", "2:11", "K011"),
        ("{where: any}", "2:11", "K011"),
        ("[]", "2:11", "K011"),
        ("{strength: often, wher: any}", "2:29", "K012"),
        ("{strength: often, by_torque: 2}", "2:40", "K014"),
        ("{low: offen}", "2:17", "K014"),
    ],
)
def test_read_links__tells_what_is_wrong(words, text, place, code):
    assert [(f"a.yaml:{place}", code)] == links_of(words, text)[1]


def test_read_links__a_list_keeps_each_place(words):
    links, told = links_of(words, "[{strength: often, where: any}, {strength: rarely, when: low}]")
    assert ([], ["a.yaml:2:12", "a.yaml:2:43"]) == (told, [str(link.mark) for link in links])
