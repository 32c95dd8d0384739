"""Writing a sheet by questions and answers."""

from pytest import mark

from shiftlore.gearing import check_sheet
from shiftlore.sessions.new_sheet import (
    SheetDraft,
    answer_question,
    check_draft,
    go_back,
    next_question,
    start_sheet,
    write_sheet,
)
from shiftlore.sheets import load_sheet

ANSWERS = [
    "lep6", "Six speeds: one set before two suns", "step rwd converter", "front simple", "rear ravigneaux", "",
    "front.ring", "rear.ring", "front.sun", "", "a clutch front.carrier rear.small_sun",
    "b clutch front.carrier rear.large_sun", "e clutch input rear.carrier", "c brake rear.large_sun",
    "d brake rear.carrier", "f one_way_clutch rear.carrier", "", "1 4.17 a f (d)", "2 2.34 a c", "3 1.52 a b",
    "4 1.14 a e", "5 0.87 b e", "6 0.69 e c", "R 3.40 b d", "N -", "", "1_held 1 a d", "",
    "sol_a pressure_control A a releases", "sol_1 on_off B on 1 2", "", "5", "4 5 6", "9.0",
]  # fmt: skip


def _answer(draft: SheetDraft, answers: list[str]) -> SheetDraft:
    for text in answers:
        draft, fault = answer_question(draft, text)
        assert fault == "", (text, fault)
    return draft


def test_answer_question__a_chart_becomes_a_sheet_that_validates() -> None:
    draft = _answer(start_sheet(), ANSWERS)
    assert next_question(draft) is None
    sheet = load_sheet(write_sheet(draft))
    assert check_sheet(sheet) == []
    assert sheet.gears["1"].coast == ("d",)
    assert sheet.ranges["1_held"].range_of == "1"


def test_answer_question__a_wrong_line_is_asked_again() -> None:
    wrong = [text.replace("3 1.52 a b", "3 1.52 a e") for text in ANSWERS]
    draft = _answer(start_sheet(), wrong)
    question = next_question(draft)
    assert question is not None and question.key == "repair"
    assert [problem.what[:6] for problem in check_draft(draft) if problem.severity == "error"] == ["Gear 3"]
    assert next_question(_answer(draft, ["gear 3 1.52 a b"])) is None


def test_answer_question__without_sets_the_ties_are_not_asked_for() -> None:
    start = ["bare", "Bare", "step", ""]
    draft = _answer(start_sheet(), start)
    question = next_question(draft)
    assert question is not None and question.key == "elements"
    rest = ["c1 clutch", "b1 band", "", "1 2.4 c1", "2 1.5 c1 b1", "", "", "", "", "", ""]
    draft = _answer(draft, rest)
    assert next_question(draft) is None
    assert check_draft(draft) == []


@mark.parametrize(
    ("so_far", "text", "part"),
    [
        (0, "Long 5", "small letters"),
        (1, "", "Something must stand here"),
        (3, "front sinple", "one of: simple"),
        (3, "front simple sun", "sun 40"),
        (6, "front.rin", "Nearest: front.ring"),
        (10, "a clutch front.carrier", "Name the member"),
        (10, "a clutch front.carrier rear.sun", "Nearest: rear."),
        (17, "1 4.17 a q", 'no element "q"'),
        (17, "1 a", "comes its ratio"),
        (26, "1_held 9 a", "one of: 1, 2"),
        (28, "sol_a valve", "its type"),
        (31, "7", 'no gear "7"'),
    ],
)
def test_answer_question__says_what_is_wrong_at_once(so_far: int, text: str, part: str) -> None:
    draft = _answer(start_sheet(), ANSWERS[:so_far])
    same, fault = answer_question(draft, text)
    assert same is draft
    assert part in fault


def test_go_back__takes_one_answer_back() -> None:
    draft = _answer(start_sheet(), ANSWERS[:12])
    assert list(go_back(draft).lines("elements")) == ANSWERS[10:11]
    assert go_back(start_sheet()) == start_sheet()


def test_answer_question__same_name_replaces_the_line() -> None:
    draft = _answer(start_sheet(), [*ANSWERS[:19], "1 4.20 a f"])
    assert draft.lines("gears")[0] == "1 4.20 a f"
    assert len(draft.lines("gears")) == 2


def test_next_question__lists_what_is_there() -> None:
    question = next_question(_answer(start_sheet(), ANSWERS[:5]))
    assert question is not None
    assert question.listed == ("front simple", "rear ravigneaux")
