"""Names that point nowhere, and parts that say too little."""

from shiftlore.knowledge import read_sheet, says_ties
from shiftlore.knowledge.sheet_checks import check_links, list_members

CHART = """\
id: chart
label: Chart
sets:
  main: {kind: ravigneaux}
elements:
- {id: c1, type: clutch}
gears:
  1: {ratio: 2.4, on: [c1]}
"""


def test_says_ties__sets_alone_are_still_a_bare_chart() -> None:
    sheet, problems = read_sheet(CHART)
    assert problems == []
    assert sheet is not None and not says_ties(sheet)


def test_check_links__ties_must_then_be_complete() -> None:
    _, problems = read_sheet(CHART + "input: main.small_sun\noutput: main.ring\n")
    assert [problem.code for problem in problems] == ["U125"]


def test_list_members__names_every_part_of_a_set() -> None:
    sheet, _ = read_sheet(CHART)
    assert sheet is not None
    assert {"input", "case", "main.small_sun", "main.second_ring"} <= set(list_members(sheet))


def test_check_links__switch_and_failsafe_must_exist() -> None:
    more = "failsafe_gear: 3\npressure_switches:\n- {id: p1, monitors: [c9]}\n"
    sheet, problems = read_sheet(CHART + more)
    assert [problem.code for problem in problems] == ["U121", "U121"]
    assert sheet is not None and check_links(sheet) == problems


def test_check_links__ring_must_be_larger_than_its_sun() -> None:
    text = CHART.replace("{kind: ravigneaux}", "{kind: simple, teeth: {sun: 72, ring: 30}}")
    _, problems = read_sheet(text)
    assert [(problem.code, problem.mark.line) for problem in problems] == [("U119", 4)]


def test_check_links__swapped_suns_are_told() -> None:
    text = CHART.replace("{kind: ravigneaux}", "{kind: ravigneaux, teeth: {small_sun: 38, large_sun: 31, ring: 85}}")
    _, problems = read_sheet(text)
    assert [(problem.code, problem.severity) for problem in problems] == [("U118", "warning")]
