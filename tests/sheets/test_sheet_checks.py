"""Names that point nowhere, and parts that say too little."""

from shiftlore.sheets import read_sheet, says_ties
from shiftlore.sheets.sheet_checks import check_links, has_sound_ties, list_members

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


TIED = """\
id: tied
label: Two speeds
sets:
  main: {kind: simple}
input: main.sun
output: main.carrier
elements:
- {id: b1, type: brake, holds: main.ring}
- {id: c1, type: clutch, between: [input, main.carrier], fed_in: forward}
gears:
  1: {ratio: 3.4, on: [b1]}
  2: {ratio: 1, on: [c1]}
"""


def test_check_links__set_with_a_member_tied_to_nothing() -> None:
    loose = TIED.replace("holds: main.ring", "holds: main.sun")
    sheet, problems = read_sheet(loose)
    assert [(problem.code, "main.ring" in problem.what) for problem in problems] == [("U117", True)]
    assert sheet is not None and not has_sound_ties(sheet)


def test_check_links__a_misspelt_member_is_told_once() -> None:
    sheet, problems = read_sheet(TIED.replace("holds: main.ring", "holds: main.rign"))
    assert [problem.code for problem in problems] == ["U121"]
    assert sheet is not None and not has_sound_ties(sheet)


def test_check_links__solenoid_on_in_neutral_that_the_chart_leaves_out() -> None:
    sheet, problems = read_sheet(TIED + "solenoids:\n- {id: s1, type: on_off, on_in: [1, N, P]}\n")
    assert problems == []
    assert sheet is not None and has_sound_ties(sheet)


def test_check_links__pattern_that_two_gears_share() -> None:
    _, problems = read_sheet(TIED + "solenoids:\n- {id: s1, type: on_off, on_in: [1, 2]}\n")
    assert [(problem.code, problem.severity) for problem in problems] == [("U116", "warning")]


def test_check_links__element_applied_where_it_gets_no_oil() -> None:
    _, problems = read_sheet(TIED.replace("fed_in: forward", "fed_in: [1]"))
    assert [(problem.code, "2" in problem.what) for problem in problems] == [("U115", True)]
    _, problems = read_sheet(TIED.replace("fed_in: forward", "fed_in: [3]"))
    assert [problem.code for problem in problems] == ["U121", "U115"]
