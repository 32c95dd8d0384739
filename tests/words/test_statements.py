"""A sentence falls into parts, clauses and what was not read; what was said becomes a case that is read back."""

import pytest
from support.trade import shipped, unit_of

import shiftlore
from shiftlore.cases import render_case
from shiftlore.words import Report, SaidAnswer, choose_vocabulary, make_case, read_report
from shiftlore.words.statements import (
    Statement,
    keep_surest,
    list_unread,
    number_clauses,
    part_sentences,
    part_unread,
    rate_parts,
    tail_of,
    without_denied,
    write_spans,
)
from shiftlore.words.trained import Segment
from shiftlore.words.vocabulary import Token


def split(text):
    return choose_vocabulary(shipped()).split(text)


def of_words(*words):
    return Statement(Segment(0, len(words), "slips", 1.0), (), tuple(words))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("It slips. It bangs!", [("It slips", "."), ("It bangs", "!")]),
        ("slips, bangs", [("slips , bangs", "")]),
        ("", []),
        ("...", []),
        ("does it slip? yes", [("does it slip", "?"), ("yes", "")]),
    ],
)
def test_part_sentences__the_sign_stands_beside(text, expected):
    found = [(" ".join(token.written for token in part), sign) for part, sign in part_sentences(split(text))]
    assert expected == found


@pytest.mark.parametrize(
    ("text", "expected"),
    [("slips bangs", [0.0, 0.0]), ("slips, bangs", [0.0, 0.8]), ("slips but bangs", [0.0, 1.0, 0.0])],
)
def test_rate_parts__what_stands_between(text, expected):
    assert expected == rate_parts(split(text))


def test_rate_parts__another_row_of_gears_says_something_else():
    assert 1.0 < rate_parts(split("first fine, third slips"))[2]


@pytest.mark.parametrize("dash", ["—", "–"])
def test_rate_parts__a_dash_parts_as_a_full_stop_does(dash):
    assert 1.0 == rate_parts(split(f"whines {dash} slips"))[1]


@pytest.mark.parametrize(("least", "expected"), [(0.3, 2), (0.8, 1), (1.0, 0)])
def test_number_clauses__as_strongly_as_is_asked(least, expected):
    assert expected == max(number_clauses(split("slips when hot, bangs"), least).values())


def test_number_clauses__behind_a_bracket_the_clause_goes_on():
    tokens = split("slow in R (5 sec) cold, D normal")
    where = {token.written: number for token, number in zip(tokens, number_clauses(tokens, 0.8).values(), strict=True)}
    assert where["slow"] == where["cold"] != where["5 sec"]
    assert where["cold"] != where["normal"]


def test_list_unread__words_of_no_statement():
    words = split("slips and frobs")
    assert ["and", "frobs"] == [token.written for token in list_unread(words, [of_words(words[0])])]


@pytest.mark.parametrize(
    ("text", "expected"), [("frobs in 3rd", ["frobs", "in", "3rd"]), ("3rd", []), ("3rd, 2-3", []), ("-40 C", ["40 C"])]
)
def test_list_unread__a_gear_beside_a_word_that_was_not_read(text, expected):
    assert expected == [token.written for token in list_unread(split(text), [])]


def test_list_unread__what_was_read_by_itself_is_not_left():
    words = split("P0741 frobs")
    assert ["frobs"] == [token.written for token in list_unread(words, [], {words[0].start})]


def test_part_unread__where_something_parts_or_was_read():
    sentence = split("slips badly, whines loudly in third")
    used = {token.start for token in sentence if token.written == "loudly"}
    runs = [[token.written for token in run] for run in part_unread(sentence, used) if run]
    assert [["slips", "badly"], ["whines"], ["in", "third"]] == runs


def test_write_spans__neighbours_together_as_they_stand():
    text = "It frobs  the quux, slips"
    words = split(text)
    rest = list_unread(words, [of_words(words[-1])])
    assert ["frobs  the quux"] == write_spans(text, words, rest, frozenset())
    assert [] == write_spans(text, words, rest, frozenset({"frobs", "quux", "it", "the"}))


def test_keep_surest__where_it_was_said_first():
    told = [
        SaidAnswer("finding", key, key, answer="yes", score=score, matched=())
        for key, score in (("a", 0.5), ("b", 0.6), ("a", 0.9))
    ]
    assert [("a", 0.9), ("b", 0.6)] == [(one.id, one.score) for one in keep_surest(told)]


def test_statement__from_its_first_word_to_its_last():
    words = split("it slips badly")
    assert (3, 14) == (of_words(*words[1:]).start, of_words(*words[1:]).end)


UNIT = "step"
LONG = (
    "Came in on the hook. Owner says it slips in third. Low on fluid. "
    "Codes P0733 and P0741 stored, 182 000 km, used as a taxi."
)


def report(text):
    return read_report(shipped(), unit_of(UNIT).expansion, text)


@pytest.mark.parametrize(
    "answers, kept",
    [
        ([("no_codes_generic_scan", "yes"), ("code_misfire", "yes")], {"code_misfire"}),
        ([("no_codes_generic_scan", "yes"), ("code_misfire", "no")], {"no_codes_generic_scan", "code_misfire"}),
        ([("no_codes_generic_scan", "yes"), ("slips", "yes")], {"no_codes_generic_scan", "slips"}),
    ],
)
def test_make_case__what_contradicts_what_was_said_to_be_there_is_left_out(answers, kept):
    said = tuple(SaidAnswer("finding", key, key, grade, 1.0, (), template=key) for key, grade in answers)
    case = make_case(shipped(), Report(said, said="no codes, but a misfire code"), "step-fwd")
    assert kept == set(case.findings)
    assert ("no codes, but a misfire code",) == case.said


def test_make_case__an_either_or_of_a_sign_and_a_history_is_no_answer():
    both = (
        SaidAnswer("finding", "slips", "", "yes", 1.0, ()),
        SaidAnswer("background", "rebuilt", "", "used", 1.0, ()),
    )
    assert () == make_case(shipped(), Report(either=(both,)), "step-fwd").either


@pytest.mark.parametrize(
    ("text", "after"),
    [
        ("slips in third since the fluid change", ("recent_service",)),
        ("slips in third. New battery fitted just before.", ("battery_work",)),
        ("slips in third. New battery fitted.", None),
    ],
)
def test_make_case__what_it_began_after(text, after):
    case = make_case(shipped(), report(text), UNIT)
    assert after == (case.onset.after if case.onset else None)


def test_make_case__is_a_case_that_is_read_back(tmp_path):
    path = tmp_path / "case.yaml"
    path.write_text(render_case(make_case(shipped(), report(LONG), UNIT)), encoding="utf-8")
    case = shiftlore.read_case(path, shipped())
    assert (182000, "low", "yes") == (
        case.odometer_km,
        case.findings["fluid_level"].grade,
        case.findings["P0733"].grade,
    )
    assert "slips_gear_3" in case.complaint


def said_of(*answers):
    return [
        Statement(Segment(0, 1, key, 1.0), (SaidAnswer("finding", key, key, answer, 1.0, ()),), ())
        for key, answer in answers
    ]


def test_without_denied__what_is_so_elsewhere_in_the_sentence():
    found = said_of(("flexplate_cracked", "yes"), ("flexplate_cracked", "no"), ("slips", "no"))
    assert [found[0], found[2]] == without_denied(found)


@pytest.mark.parametrize(
    "answers",
    [[("slips", "no")], [("slips", "no"), ("slips_gear", "yes")], [("fluid_level", "low"), ("fluid_level", "right")]],
)
def test_without_denied__anything_else_stays(answers):
    found = said_of(*answers)
    assert found == without_denied(found)


def test_without_denied__as_it_is_read():
    said = read_report(shipped(), unit_of("step").expansion, "Flexplate cracked, converter bolts tight.").answers
    assert [("flexplate_cracked", "yes")] == [(one.id, one.answer) for one in said]


def test_tail_of__what_stands_behind_and():
    words = tuple(
        Token(text, text, start=place, end=place + 1) for place, text in enumerate(("replaced", "and", "shudder"))
    )
    one = Statement(Segment(0, 3, "x", 1.0), (), words)
    assert ["shudder"] == [token.written for token in tail_of(one, frozenset({"and"}))]
    assert [] == tail_of(one, frozenset({"but"}))


def test_read_report__the_complaint_behind_a_cure_that_was_none():
    said = read_report(shipped(), None, "the converter was replaced last year and the shudder is still there").answers
    assert {"replaced_converter", "shudder_any"} <= {one.id for one in said}
