"""Names that point nowhere, and parts that say too little."""

import re

from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import mark
from support.layouts import LAYOUTS
from support.mutations import mutate

from shiftlore.sheets import SET_KINDS, SHAFTS, load_sheet, read_sheet, says_ties
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


WHOLE = (
    TIED
    + """\
  N: {on: []}
ranges:
  L: {gear: 1, on: [b1]}
lockup_gears: [2]
failsafe_gear: 2
solenoids:
- {id: s1, type: on_off, code_letter: A, on_in: [1]}
- {id: s2, type: pressure_control, code_letter: B, controls: [c1], unpowered: applies}
other_patterns:
- {on: [s1, s2], gives: 2}
pressure_switches:
- {id: p1, monitors: [b1]}
"""
)


def test_check_links__a_whole_sheet_is_clean() -> None:
    assert read_sheet(WHOLE, "w.yaml")[1] == []


@mark.parametrize(
    ("old", "new", "expected"),
    [
        ("main: {kind: simple}", "main: {kind: simple, teeth: {sun: 72, ring: 30}}", "w.yaml:4:3 U119 error"),
        ("main: {kind: simple}", "main: {kind: simple, ring_to_sun: 0.9}", "w.yaml:4:3 U119 error"),
        ("input: main.sun", "input: main.son", "w.yaml:5:8 U121 error"),
        ("output: main.carrier", "output: [main.carrier, main.ringg]", "w.yaml:6:9 U121 error"),
        ("output: main.carrier", "output: main.carrier\nheld: [main.x]", "w.yaml:7:7 U121 error"),
        ("output: main.carrier", "output: main.carrier\njoined:\n- [main.carrier, huub]", "w.yaml:8:3 U121 error"),
        ("input: main.sun", "shafts: [case]\ninput: main.sun", "w.yaml:5:9 U122 error"),
        ("input: main.sun", "shafts: [a.b]\ninput: main.sun", "w.yaml:5:9 U122 error"),
        ("between: [input, main.carrier]", "between: [input, input]", "w.yaml:9:35 U109 error"),
        ("holds: main.ring", "holds: case", "w.yaml:8:3 U124 error"),
        (", holds: main.ring", "", "w.yaml:8:3 U125 error"),
        ("{ratio: 1, on: [c1]}", "{ratio: 1, on: []}", "w.yaml:12:3 U126 warning"),
        ("N: {on: []}", "N: {ratio: 2, on: []}", "w.yaml:13:3 U127 error"),
        ("L: {gear: 1,", "L: {gear: 7,", "w.yaml:15:3 U121 error"),
        ("L: {gear: 1, on: [b1]}", "L: {gear: 1, on: [b7]}", "w.yaml:15:3 U121 error"),
        ("lockup_gears: [2]", "lockup_gears: [7]", "w.yaml:16:15 U121 error"),
        ("failsafe_gear: 2", "failsafe_gear: 7", "w.yaml:17:16 U121 error"),
        ("code_letter: A, on_in: [1]", "code_letter: A, on_in: [7]", "w.yaml:19:3 U121 error"),
        ("code_letter: B", "code_letter: A", "w.yaml:20:3 U128 error"),
        ("controls: [c1]", "controls: [c7]", "w.yaml:20:3 U121 error"),
        (", on_in: [1]", "", "w.yaml:19:3 U129 warning"),
        ("on: [s1, s2]", "on: [s1, s9]", "w.yaml:22:3 U121 error"),
        ("gives: 2", "gives: 9", "w.yaml:22:3 U121 error"),
        ("gives: 2", "applies: [c9]", "w.yaml:22:3 U121 error"),
        ("on: [s1, s2], gives: 2", "on: [s1], gives: 2", "w.yaml:22:3 U114 warning"),
        ("on: [s1, s2], gives: 2", "on: [], applies: [b1]", "w.yaml:22:3 U114 warning"),
        ("monitors: [b1]", "monitors: [b9]", "w.yaml:24:3 U121 error"),
        ("on_in: [1]", "on_in: [1, 2]", "w.yaml:19:3 U116 warning"),
        ("fed_in: forward", "fed_in: [R]", "w.yaml:9:3 U121 error"),
    ],
)
def test_check_links__tells_each_at_its_place(old: str, new: str, expected: str) -> None:
    assert WHOLE.count(old) >= 1
    _, problems = read_sheet(WHOLE.replace(old, new, 1), "w.yaml")
    told = [f"{problem.mark} {problem.code} {problem.severity}" for problem in problems]
    assert expected in told
    assert all(problem.what and problem.write_instead.endswith((".", "?")) for problem in problems)


def test_check_links__nothing_on_the_shafts_is_told_at_the_top() -> None:
    _, problems = read_sheet(
        WHOLE.replace("input: main.sun\n", "").replace("[input, main.carrier]", "[main.sun, main.carrier]")
    )
    assert [(problem.code, problem.mark.line) for problem in problems] == [("U123", 1)]


@mark.parametrize("kind", sorted(SET_KINDS))
def test_list_members__are_those_of_the_kind(kind: str) -> None:
    sheet, problems = read_sheet(f"id: x\nlabel: X\nsets:\n  a: {{kind: {kind}}}\ngears:\n  1: {{ratio: 2}}\n")
    assert sheet is not None and problems == []
    assert list_members(sheet) == [*SHAFTS, *(f"a.{part}" for part in SET_KINDS[kind].members)]


@given(st.sampled_from(sorted(LAYOUTS)), st.integers(0, 40), st.randoms(use_true_random=False))
@settings(max_examples=60, deadline=None)
def test_read_sheet__a_spoiled_sheet_ends_in_problems_at_lines_of_it(name: str, changes: int, dice) -> None:
    text = LAYOUTS[name]
    for _ in range(changes % 5):
        text = mutate(text, dice)
    _, problems = read_sheet(text.encode("utf-8", "surrogatepass"), "x.yaml")
    for problem in problems:
        assert problem.code[0] == "U" and problem.what and problem.write_instead
        assert problem.mark.line <= len(text.splitlines()) + 1


@mark.parametrize("name", sorted(LAYOUTS))
def test_read_sheet__a_name_that_points_nowhere_is_always_found(name: str) -> None:
    sheet = load_sheet(LAYOUTS[name])
    for element in sheet.elements:
        spoiled = re.sub(rf"\{{id: {element},", f"{{id: {element}_gone,", LAYOUTS[name], count=1)
        if spoiled == LAYOUTS[name]:
            continue
        _, problems = read_sheet(spoiled)
        used = any(element in (*line.on, *line.coast) for line in (*sheet.gears.values(), *sheet.ranges.values()))
        told = {problem.what for problem in problems if problem.severity == "error"}
        assert (f'There is no element "{element}" in this sheet' in told) >= used
