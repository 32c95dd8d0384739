"""Reading unit sheets: what is taken, and where exactly what is refused."""

from pathlib import Path

from pytest import mark, raises

from shiftlore.basics import KnowledgeError
from shiftlore.knowledge import find_knowledge
from shiftlore.sheets import UnitSheet, is_sheet_file, load_sheet, read_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"

SMALL = """\
id: small
label: Two speeds
sets:
  main: {kind: simple, teeth: {sun: 30, ring: 72}}
input: main.sun
output: main.carrier
elements:
- {id: b1, type: brake, holds: main.ring}
- {id: c1, label: Direct clutch, type: clutch, between: [input, main.carrier]}
gears:
  1: {ratio: 3.4, on: [b1]}
  2: {ratio: 1, on: [c1]}
"""


def _places(text: str) -> list[tuple[int, int, str]]:
    _, problems = read_sheet(text, "small.yaml")
    return [(problem.mark.line, problem.mark.column, problem.code) for problem in problems]


def test_read_sheet__takes_bare_gear_names_and_makes_labels() -> None:
    sheet, problems = read_sheet(SMALL, "small.yaml")
    assert problems == []
    assert sheet is not None
    assert list(sheet.gears) == ["1", "2"]
    assert [item.label for item in sheet.elements.values()] == ["B1", "Direct clutch"]
    assert [join.members for join in sheet.joined] == [("input", "main.sun"), ("output", "main.carrier")]


@mark.parametrize("name", ["R", "R2", "Reverse", "R low"])
def test_read_sheet__reverse_needs_no_sign(name: str) -> None:
    sheet, _ = read_sheet(SMALL + f"  {name}: {{ratio: 2.1, on: [b1]}}\n", "small.yaml")
    assert sheet is not None
    assert (sheet.gears[name].kind, sheet.gears[name].ratio) == ("reverse", -2.1)


@mark.parametrize(
    ("old", "new", "expected"),
    [
        ("label: Two speeds", "lable: Two speeds", [(1, 1, "U011"), (2, 1, "U012")]),
        ("kind: simple", "kind: sinple", [(4, 16, "U014")]),
        ("holds: main.ring", "holds: main.rin", [(8, 3, "U121")]),
        ("on: [b1]", "on: [b2]", [(11, 3, "U121")]),
        ("between: [input, main.carrier]", "between: [input]", [(9, 57, "U109")]),
        ("holds: main.ring", "between: [main.sun, main.ring]", [(8, 34, "U110")]),
        ("id: c1", "id: b1", [(9, 8, "U105")]),
        ("ratio: 3.4", 'ratio: "3.4"', [(11, 14, "U017")]),
        ("output: main.carrier\n", "", [(1, 1, "U123")]),
    ],
)
def test_read_sheet__says_where(old: str, new: str, expected: list[tuple[int, int, str]]) -> None:
    assert old in SMALL
    assert expected == _places(SMALL.replace(old, new))


GEARS = SMALL[SMALL.index("gears:") :]
LAST, OUTPUT = "on: [c1]}\n", "output: main.carrier"


@mark.parametrize(
    ("old", "new", "expected"),
    [
        ("id: small", "id: Small-", [(1, 5, "U015")]),
        ("sets:\n  main: {kind: simple, teeth: {sun: 30, ring: 72}}", "sets: [main]", [(3, 7, "U013")]),
        (OUTPUT, f"{OUTPUT}\njoined: [main.sun]", [(7, 10, "U107")]),
        (OUTPUT, f"{OUTPUT}\nfluid: {{check_temp_c: [60, 40]}}", [(7, 23, "U106")]),
        (OUTPUT, f"{OUTPUT}\ntags: [Rwd]", [(7, 8, "U015")]),
        (OUTPUT, f"{OUTPUT}\nshafts: [input]", [(7, 9, "U122")]),
        ("holds: main.ring", "holds: main.ring, between: [case, main.ring]", [(8, 3, "U108")]),
        ("holds: main.ring", "holds: main.ring, fed_in: [2]", [(8, 3, "U115")]),
        ("holds: main.ring", "holds: case", [(4, 3, "U117"), (8, 3, "U124")]),
        (", holds: main.ring", "", [(4, 3, "U117"), (8, 3, "U125")]),
        ("type: clutch, between", "type: one_way_clutch, lets: forward, between", [(9, 62, "U111")]),
        (GEARS, "gears: [1, 2]\n", [(10, 8, "U013")]),
        (GEARS, "", [(1, 1, "U120")]),
        ("ratio: 3.4", "ratio: 0", [(11, 14, "U016")]),
        ("on: [b1]", "on: {b1: 1.5}", [(11, 28, "U016")]),
        ("on: [b1]", "on: [[b1]]", [(11, 24, "U013")]),
        ("  2: {", "  Low: {ratio: 4, on: [b1]}\n  low: {", [(12, 3, "U112"), (13, 3, "U112")]),
        ("  2: {", "  N: {ratio: 1}\n  2: {", [(12, 3, "U127")]),
        ("  2: {ratio: 1, on: [c1]}", "  2: {ratio: 1}", [(12, 3, "U126")]),
        (LAST, f"{LAST}ranges:\n  L: {{on: [b1]}}\n", [(14, 6, "U011")]),
        (LAST, f"{LAST}access: [pan_off]\n", [(13, 9, "U013")]),
        (LAST, f"{LAST}solenoids:\n- {{id: sa, type: on_off}}\n", [(14, 3, "U129")]),
        (LAST, f"{LAST}other_patterns:\n- {{on: [sa], gives: 1}}\n", [(14, 3, "U121")]),
    ],
)
def test_read_sheet__says_where_a_line_of_the_chart_or_train_is_wrong(
    old: str, new: str, expected: list[tuple[int, int, str]]
) -> None:
    assert old in SMALL
    assert expected == _places(SMALL.replace(old, new))


def test_read_sheet__an_empty_file_is_no_sheet() -> None:
    sheet, problems = read_sheet("", "small.yaml")
    assert sheet is None
    assert ["U001"] == [problem.code for problem in problems]


def test_read_sheet__nearest_name_is_offered() -> None:
    _, problems = read_sheet(SMALL.replace("on: [c1]", "on: [c11]"), "small.yaml")
    assert [problem.write_instead for problem in problems] == ["Nearest: c1."]


def test_read_sheet__chart_alone_is_enough() -> None:
    text = "id: bare\nlabel: Bare\nelements:\n- {id: c1, type: clutch}\ngears:\n  1: {ratio: 2.4, on: [c1]}\n"
    sheet, problems = read_sheet(text, "bare.yaml")
    assert problems == []
    assert sheet is not None and sheet.sets == {}


def test_read_sheet__brake_between_member_and_case_is_a_brake() -> None:
    sheet, problems = read_sheet(SMALL.replace("holds: main.ring", "between: [case, main.ring]"), "small.yaml")
    assert problems == []
    assert sheet is not None
    assert (sheet.elements["b1"].first, sheet.elements["b1"].second) == ("main.ring", "case")


def test_read_sheet__pattern_needs_a_gear_or_elements() -> None:
    assert _places(SMALL + "other_patterns:\n- {on: []}\n") == [(14, 3, "U113")]


def test_read_sheet__limits_come_in_base_units() -> None:
    sheet, problems = read_sheet(
        SMALL + "limits:\n  line_pressure_idle: {from: 5, to: 6.5, unit: bar}\n  tcc_slip: {to: 40, unit: rpm}\n"
    )
    assert [] == problems and sheet is not None
    assert ("pressure", 500.0, 650.0) == (sheet.limits["line_pressure_idle"].kind, *bounds(sheet, "line_pressure_idle"))
    assert (None, 40.0) == bounds(sheet, "tcc_slip")


def bounds(sheet: UnitSheet, name: str) -> tuple[float | None, float | None]:
    return sheet.limits[name].low, sheet.limits[name].high


@mark.parametrize(
    ("limit", "place", "code"),
    [
        ("{from: 5, to: 4, unit: bar}", 10, "U114"),
        ("{unit: bar}", 10, "U114"),
        ("{to: 4, unit: atm}", 24, "U014"),
        ("{to: 4}", 10, "U011"),
        ("{to: much, unit: bar}", 15, "U013"),
        ("{up_to: 4, unit: bar}", 11, "U012"),
    ],
)
def test_read_sheet__a_mistake_in_a_limit_has_its_place(limit: str, place: int, code: str) -> None:
    assert (14, place, code) in _places(SMALL + f"limits:\n  press: {limit}\n")


def test_read_sheet__two_solenoids_with_one_letter() -> None:
    more = "solenoids:\n- {id: sa, type: on_off, code_letter: A, on_in: [1]}\n"
    assert _places(SMALL + more + more.splitlines()[1].replace("sa", "sb") + "\n") == [(15, 3, "U128")]


def test_load_sheet__carries_every_problem() -> None:
    with raises(KnowledgeError) as caught:
        load_sheet(SMALL.replace("on: [b1]", "on: [b2]").replace("on: [c1]", "on: [c2]"), "small.yaml")
    assert len(caught.value.problems) == 2


@mark.parametrize("path", sorted(UNITS.glob("*.yaml")), ids=lambda path: path.stem)
def test_read_sheet__our_own_sheets_are_clean(path: Path) -> None:
    sheet, problems = read_sheet(path)
    assert problems == []
    assert sheet is not None and sheet.id == path.stem


def test_read_sheet__shortest_sheet_of_the_guide_is_taken() -> None:
    guide = (UNITS / "README.md").read_text()
    shortest = guide.partition("```yaml\n")[2].partition("```")[0]
    _, problems = read_sheet(shortest, "my4.yaml")
    assert problems == []


def test_read_sheet__possible_tags_stand_apart() -> None:
    sheet = load_sheet(UNITS / "step-rwd.yaml")
    assert sheet.tags == ("step", "rwd")
    assert "converter" in sheet.possible_tags


@mark.parametrize(
    ("text", "expected"),
    [
        ("id: x\nlabel: X\ngears: {}\nelements: []\n", True),
        ("id: x\nkind_only: yes\n", True),
        ("shiftlore: 1\nunit: long5\n", False),
        ("unit: long5\nfindings: {}\n", False),
        ("[1, 2]", False),
        ("a: [", False),
        ("", False),
    ],
)
def test_is_sheet_file__goes_by_the_keys(tmp_path, text, expected):
    (tmp_path / "a.yaml").write_text(text)
    assert expected == is_sheet_file(tmp_path / "a.yaml")


def test_is_sheet_file__knows_every_sheet_that_came_with_the_program():
    assert all(is_sheet_file(path) for path in (find_knowledge() / "units").glob("*.yaml"))
