"""What is asked of every vehicle: read from YAML, in its order, and what "none" means."""

from dataclasses import replace

import pytest
from support.trade import compiled_of, shipped, unit_of

from shiftlore.basics import UsageProblem
from shiftlore.cases import CODES, RECENT, REPLACED, Answer, Case
from shiftlore.compiling import compile_case, compile_unit
from shiftlore.sessions import Interview, Question
from shiftlore.sessions.choosing_questions import Asking
from shiftlore.sessions.first_questions import (
    ask_codes,
    ask_complaint,
    ask_first,
    ask_life,
    ask_unit,
    ask_what_it_has,
    hold_last_word,
    list_code_findings,
    list_events,
    shows_wrong,
    take_codes,
)
from shiftlore.sessions.questions import Reply

KNOWN = {"complaint": ("slips",), "odometer_km": 1.0}


def asked(case: Case) -> Question:
    """Give the question about the life of a vehicle that is not through with it."""
    question = ask_life(shipped(), case)
    assert question is not None
    return question


def test_ask_unit__every_sheet_once_and_kinds_are_for_who_does_not_know() -> None:
    choices = {choice.key: choice.label for choice in ask_unit(shipped()).choices}
    assert set(shipped().sheets) == set(choices)
    assert {key for key, label in choices.items() if label.startswith("Not known: ")} == {
        key for key, sheet in shipped().sheets.items() if sheet.kind_only
    }


def test_ask_life__backgrounds_in_the_order_that_the_knowledge_gives() -> None:
    knowledge = shipped()
    turned = {
        key: record.vary(opening=9 - record.opening) if record.opening else record
        for key, record in knowledge.backgrounds.items()
    }
    found = ask_life(replace(knowledge, backgrounds=turned), Case("long5", **KNOWN))
    assert ("service_record", "usage") == (asked(Case("long5", **KNOWN)).id, found.id if found else "")


def test_ask_life__a_background_without_a_place_is_not_asked_by_itself() -> None:
    plain = {key: record.vary(opening=None) for key, record in shipped().backgrounds.items()}
    question = ask_life(replace(shipped(), backgrounds=plain), Case("long5", **KNOWN))
    assert question is not None and "replaced_parts" == question.id


def test_ask_life__what_was_replaced_stands_in_a_list_of_its_own() -> None:
    through = ("service_record", "usage")
    recent = ask_first(compile_case(unit_of("long5"), Case("long5", asked=("codes",), **KNOWN)))
    replaced = asked(Case("long5", asked=through, **KNOWN))
    backgrounds = shipped().backgrounds
    assert recent is not None and not any(backgrounds[key].replaced for key in recent.members)
    assert set(replaced.members) == {key for key, record in backgrounds.items() if record.replaced}
    assert replaced.members, "the knowledge names parts that are often replaced in vain"


def test_ask_life__ends() -> None:
    through = ("service_record", "usage", "replaced_parts")
    assert ask_life(shipped(), Case("long5", asked=through, **KNOWN)) is None


def test_ask_complaint__unless_the_case_holds_it() -> None:
    question = ask_complaint(Case("long5"))
    assert question is not None and ("complaint", "words") == (question.id, question.kind)
    assert (
        ask_complaint(Case("long5", complaint=("slips",))) is None is ask_complaint(Case("long5", asked=("complaint",)))
    )


def test_ask_first__in_its_order_and_what_is_known_is_left_out() -> None:
    asked, ids = ("complaint",), []
    while (
        question := ask_first(compile_case(unit_of("long5"), Case("long5", complaint=("slips",), asked=asked)))
    ) is not None:
        ids.append(question.id)
        asked = (*asked, question.id)
    assert ["codes", "odometer_km", "recent_events", "first_look"] == ids
    known = Case("long5", complaint=("slips",), odometer_km=1.0, findings={"P0732": Answer("P0732", "yes")})
    following = ask_first(compile_case(unit_of("long5"), known))
    assert following is not None and "recent_events" == following.id


def test_ask_first__a_look_asks_only_for_what_is_open_and_each_answer_once() -> None:
    through = ("codes", "odometer_km", "recent_events")
    case = Case("long5", complaint=("slips",), asked=through, findings={"fluid_level": Answer("fluid_level", "low")})
    question = ask_first(compile_case(unit_of("long5"), case))
    assert question is not None and ("each", ("fluid_colour", "fluid_smell_burnt")) == (question.kind, question.members)
    assert "fluid_colour=dark" in [choice.key for choice in question.choices]


def test_list_code_findings__one_of_a_kind_some_of_a_kind_and_none() -> None:
    told = list_code_findings(shipped())
    assert {"ratio_code_gear", "code_solenoid_circuit_other", "code_electrical_any", "no_codes_module_scan"} <= told
    assert not {"engine_codes", "fluid_level", "shift_harsh_any"} & told


def test_list_code_findings__holds_whatever_a_trouble_code_answers() -> None:
    assert {code.finding for code in shipped().codes.values()} <= list_code_findings(shipped())


def test_ask_codes__names_the_scans_that_can_find_none() -> None:
    question = ask_codes(compiled_of())
    assert question is not None
    assert "or none by generic scan, or none by module scan; or ? if" in question.text


@pytest.mark.parametrize(
    ("typed", "members", "expected"),
    [
        ("none", (), "no_codes_generic_scan"),
        ("clean, module scan", (), "no_codes_module_scan"),
        ("nothing by the generic one", (), "no_codes_generic_scan"),
        ("none", ("no_codes_module_scan",), "no_codes_module_scan"),
        ("none", ("no_codes_generic_scan",), "no_codes_generic_scan"),
    ],
)
def test_take_codes__none_is_that_of_the_scan(typed: str, members: tuple[str, ...], expected: str) -> None:
    question = Question("codes", "words", "?", members=members)
    case = take_codes(compiled_of(), Case("long5"), question, Reply(text=typed))
    assert {expected: Answer(expected, "yes")} == case.findings


def test_take_codes__a_stored_code_leaves_open_what_follows_from_codes() -> None:
    reveals = unit_of("long5").expansion.reveals["module_scan"]
    question = Question("codes", "words", "?", members=tuple(reveals))
    found = take_codes(compiled_of(), Case("long5"), question, Reply(text="P0732", doubt="think_so")).findings
    assert Answer("P0732", "yes", "think_so") == found["P0732"]
    summaries = {"no_codes_module_scan", "no_codes_generic_scan", "code_electrical_any", "code_solenoid_circuit_other"}
    assert not summaries & set(found)
    assert {"no"} == {answer.grade for key, answer in found.items() if key != "P0732"}


def test_take_codes__an_answer_given_before_stays_unless_the_scan_says_otherwise() -> None:
    case = Case("long5", findings={"slips": Answer("slips", "yes")})
    found = take_codes(compiled_of(), case, Question("codes", "words", "?"), Reply(text="U0100")).findings
    assert ["slips", "U0100"] == list(found)


def holding(**answers: str) -> Case:
    """Give a case of the five-speed with these answers."""
    return Case("long5", findings={key: Answer(key, grade) for key, grade in answers.items()})


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ({"no_codes_generic_scan": "yes"}, {"no_codes_generic_scan": "yes", "P0722": "yes"}, {"P0722"}),
        ({"P0722": "yes"}, {"P0722": "yes", "no_codes_module_scan": "yes"}, {"no_codes_module_scan"}),
        ({}, {"P0722": "yes", "slips": "yes"}, {"P0722", "slips"}),
        (
            {"no_codes_generic_scan": "yes"},
            {"no_codes_generic_scan": "yes", "slips": "yes"},
            {"no_codes_generic_scan", "slips"},
        ),
        (
            {"no_codes_generic_scan": "yes"},
            {"no_codes_generic_scan": "yes", "P0722": "no"},
            {"no_codes_generic_scan", "P0722"},
        ),
    ],
)
def test_hold_last_word__a_code_and_that_there_is_none(
    before: dict[str, str], after: dict[str, str], expected: set[str]
) -> None:
    assert expected == set(hold_last_word(compiled_of(), holding(**before), holding(**after)).findings)


@pytest.mark.parametrize(("is_checking", "kept"), [(False, {"P0730"}), (True, {"P0730", "no_codes_generic_scan"})])
def test_hold_last_word__a_code_that_another_scan_read(is_checking: bool, kept: set[str]) -> None:
    before, after = holding(no_codes_generic_scan="yes"), holding(no_codes_generic_scan="yes", P0730="yes")
    assert kept == set(hold_last_word(compiled_of(), before, after, is_checking=is_checking).findings)


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        ({}, False),
        ({"fluid_level": "right", "no_reverse": "no"}, False),
        ({"slips": "yes"}, True),
        ({"P0730": "yes"}, True),
    ],
)
def test_shows_wrong__soundness_alone_does_not(answers: dict[str, str], expected: bool) -> None:
    assert expected == shows_wrong(compiled_of(), holding(**answers))


WEAK = {"sluggish_uphill": "yes", "sluggish_generally": "yes", "fluid_level": "right", "warning_lamp": "yes"}
FIRST = {"no_upshift": "yes", "slips": "no"}


@pytest.mark.parametrize(
    ("unit", "speeds", "answers", "life", "expected"),
    [
        ("long6", None, WEAK, {}, "charged_engine"),
        ("cvt", None, WEAK, {}, "charged_engine"),
        ("long6", None, WEAK, {"charged_engine": "no"}, None),
        ("long6", None, {"slips": "yes", "fluid_smell_burnt": "yes"}, {}, None),
        ("long6", None, {"park_does_not_hold": "yes"}, {}, None),
        ("step-rwd", 4, FIRST, {}, "shift_control"),
        ("step-rwd", 4, FIRST, {"load_told_by": "cable"}, "shift_control"),
        ("step-rwd", 8, FIRST, {}, None),
    ],
)
def test_ask_what_it_has__where_it_tells(
    unit: str, speeds: int | None, answers: dict[str, str], life: dict[str, str], expected: str | None
) -> None:
    findings = {key: Answer(key, grade) for key, grade in answers.items()}
    case = Case(unit, findings=findings, background=life, speeds=speeds)
    compiled = compile_case(compile_unit(shipped(), case.vehicle), case)
    question = ask_what_it_has(compiled, None)
    assert expected == (question and question.id)
    told = Asking(("slips",), nats=9.0, worth=9.0)
    assert ask_what_it_has(compiled, told) is None


def test_list_events__what_is_asked_alone_stands_in_no_list() -> None:
    alone = {key for key, one in shipped().backgrounds.items() if one.guessed}
    assert "engine_work" in list_events(shipped(), RECENT) and "replaced_unit" in list_events(shipped(), REPLACED)
    assert set() == alone & {*list_events(shipped(), RECENT), *list_events(shipped(), REPLACED)}


@pytest.mark.parametrize(
    "text",
    [
        "not scanned, no tool here",
        "no scanner",
        "haven't scanned it yet",
        "tool would not connect",
        "we could not read them",
        "nobody looked",
    ],
)
def test_take_codes__where_nobody_scanned_nothing_is_taken(text):
    case = Case("long5")
    compiled = Interview(shipped(), case).compiled
    assert case == take_codes(compiled, case, Question(CODES, "words", ""), Reply(text=text))


def test_take_codes__a_bare_no_is_asked_back():
    case = Case("long5")
    compiled = Interview(shipped(), case).compiled
    question, given = (
        Question(CODES, "words", ""),
        ("no codes", "none", "scan found nothing", "no codes, engine light not on"),
    )
    with pytest.raises(UsageProblem, match="Was it scanned"):
        take_codes(compiled, case, question, Reply(text="no"))
    assert all(take_codes(compiled, case, question, Reply(text=text)).findings for text in given)


def test_shows_wrong__that_there_are_no_codes_is_no_complaint():
    case = Case("long5", findings={"no_codes_module_scan": Answer("no_codes_module_scan", "yes")})
    assert not shows_wrong(Interview(shipped(), case).compiled, case)
