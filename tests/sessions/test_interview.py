"""The interview: what is asked next, what an answer does to the case, and taking it back."""

from dataclasses import replace

import pytest
from support.trade import shipped

from shiftlore.basics import UsageProblem
from shiftlore.cases import Answer, Case, Done
from shiftlore.sessions import Interview, Question
from shiftlore.sessions.interview import QUESTIONS_AT_ONCE
from shiftlore.sessions.questions import Choice, Proposal, Reply

FIRST = ("complaint", "codes", "odometer_km", "recent_events", "first_look")
LIFE = ("service_record", "usage", "replaced_parts")


HOT = Proposal("worse_hot", "yes")


def start(case: Case | None = None) -> Interview:
    """Begin an interview on the five-speed."""
    return Interview(shipped(), case or Case("long5"))


def take(interview: Interview, *replies: Reply) -> Interview:
    """Give replies to one question after the other."""
    for reply in replies:
        assert interview.question is not None, "still asking"
        interview = interview.answer(interview.question, reply)
    return interview


def opened(**more: object) -> Interview:
    """Give an interview whose opening questions are done, with room for many more."""
    case = Case("long5", odometer_km=180_000.0, complaint=("slips",), asked=(*FIRST, *LIFE), **more)  # type: ignore[arg-type]
    return start(case).ask_more(14)


def test_question__the_unit_comes_first_kinds_last() -> None:
    question = start(Case("")).question
    assert question is not None
    assert ("unit", False) == (question.id, question.optional)
    keys = [choice.key for choice in question.choices]
    assert keys.index("long5") < keys.index("step")


def test_question__the_opening_in_its_order_then_the_ranking() -> None:
    """Review of use: 16 to 26 inputs before any ranking; unit, words and their confirmation stand before these."""
    interview, ids = start(), []
    while interview.question is not None:
        ids.append(interview.question.id)
        interview = take(interview, Reply(known=False))
    assert (FIRST, QUESTIONS_AT_ONCE + 1) == (tuple(ids[: len(FIRST)]), len(ids))


def test_question__the_vehicles_life_where_more_is_asked_for() -> None:
    interview, ids = replace(start(Case("long5", 1.0, complaint=("slips",), asked=FIRST)), left=0), []
    assert interview.question is None
    interview = interview.ask_more(3)
    while interview.question is not None:
        ids.append(interview.question.id)
        interview = take(interview, Reply(known=False))
    assert LIFE == tuple(ids)


def test_question__what_the_case_holds_is_not_asked() -> None:
    case = Case("long5", odometer_km=9.0, complaint=("slips",), asked=("codes",))
    question = start(case).question
    assert question is not None
    assert "recent_events" == question.id


def test_question__every_one_says_why_and_what_it_costs() -> None:
    interview = start(Case(""))
    interview = take(interview, Reply(("long5",)))
    while (question := interview.question) is not None:
        assert question.text and question.why and question.cost
        interview = take(interview, Reply(known=False))


def test_answer__a_number_is_the_distance() -> None:
    case = take(start(Case("long5", complaint=("slips",), asked=("codes",))), Reply(text="182000")).case
    assert (182_000.0, ("codes", "odometer_km")) == (case.odometer_km, case.asked)


def test_answer__not_known_is_remembered_and_not_asked_again() -> None:
    interview = take(start(), Reply(known=False))
    assert ((), ("complaint",)) == (interview.case.complaint, interview.case.asked)
    assert interview.question is not None and "codes" == interview.question.id


def test_answer__several_of_a_list_are_all_answered() -> None:
    interview = start(Case("long5", 1.0, asked=FIRST[:3]))
    question = interview.question
    assert question is not None
    case = take(interview, Reply((question.members[0],))).case
    assert ["yes", *["no"] * (len(question.members) - 1)] == [case.background[key] for key in question.members]


@pytest.mark.parametrize(
    ("typed", "expected"),
    [
        ("p0732 and P0741", {"P0732": "yes", "P0741": "yes"}),
        ("none by generic scan", {"no_codes_generic_scan": "yes"}),
        ("none by module scan", {"no_codes_module_scan": "yes"}),
    ],
)
def test_answer__codes_or_that_there_are_none(typed: str, expected: dict[str, str]) -> None:
    interview = start(Case("long5", 1.0, complaint=("slips",), asked=FIRST[:1]))
    case = take(interview, Reply(text=typed)).case
    assert expected == {key: answer.grade for key, answer in case.findings.items()}


def test_answer__no_code_and_no_none_is_asked_again() -> None:
    interview = start(Case("long5", 1.0, complaint=("slips",), asked=FIRST[:1]))
    with pytest.raises(UsageProblem, match="P0732"):
        take(interview, Reply(text="Z9999"))


def test_answer__doubt_is_kept() -> None:
    interview = opened()
    assert interview.question is not None
    key, choice = interview.question.id, interview.question.choices[0].key
    if interview.question.kind == "which":
        key = interview.question.members[0]
    answered = take(interview, Reply((choice,), doubt="think_so"))
    assert "think_so" == answered.case.findings[key].doubt


def test_answer__the_owners_words_are_kept_until_they_are_read() -> None:
    interview = take(start(Case("long5", 1.0)), Reply(text="bangs into second"))
    assert ("bangs into second", "bangs into second") == ("; ".join(interview.case.said), interview.unread_words)
    confirmed = take(interview.propose((Proposal("slips", "yes"),)), Reply(("slips=yes",)))
    assert (("slips",), "") == (confirmed.case.complaint, confirmed.unread_words)


def test_propose__what_is_answered_drops_out() -> None:
    proposed = opened().propose((Proposal("slips", "yes"), HOT, HOT))
    assert (HOT,) == proposed.proposed
    assert proposed.question is not None
    assert ("confirm", "confirm") == (proposed.question.id, proposed.question.kind)


def test_propose__what_still_waits_is_shown_with_what_is_said_after_it() -> None:
    """Who goes on telling instead of confirming loses nothing; the later of two contrary words counts."""
    waiting, cold = opened().propose((HOT,), ("a first word",)), Proposal("worse_cold", "no")
    more = waiting.propose((cold,), ("another",))
    assert ((HOT, cold), ("a first word", "another")) == (more.proposed, more.unread)
    assert (Proposal("worse_hot", "no"),) == waiting.propose((Proposal("worse_hot", "no"),)).proposed


def test_answer__confirmed_words_become_the_complaint_only_at_the_beginning() -> None:
    first = take(start(Case("long5", asked=FIRST)).propose((Proposal("slips", "yes"),)), Reply(("slips=yes",)))
    assert (("slips",), {}) == (first.case.complaint, dict(first.case.findings))
    second = take(first.propose((HOT,)), Reply(("worse_hot=yes",)))
    assert {"worse_hot": Answer("worse_hot", "yes")} == second.case.findings


def test_answer__refused_words_leave_the_case_alone() -> None:
    interview = opened()
    assert interview.case == take(interview.propose((HOT,)), Reply()).case


def test_back__restores_the_session_step_by_step() -> None:
    interview = start(Case(""))
    path = [interview]
    for reply in (Reply(("long5",)), Reply(text="slips"), Reply(known=False), Reply(text="90000"), Reply(known=False)):
        path.append(take(path[-1], reply))
    here = path.pop()
    while path:
        here = here.back()
        assert path.pop().case == here.case
    assert here.back().case == Case("")


LIVED = (Proposal("slips", "yes"), Proposal("rebuilt", "just_now"), HOT)
LIVED_KEYS = ("slips=yes", "rebuilt=just_now", "worse_hot=yes")


def test_answer__maybe_at_a_confirmation_doubts_all_of_it() -> None:
    case = take(start(Case("long5", asked=FIRST)).propose(LIVED), Reply(LIVED_KEYS, doubt="think_so")).case
    assert {("rebuilt", "just_now"): "think_so"} == case.background_doubts
    assert {"slips": "think_so", "worse_hot": "think_so"} == {key: one.doubt for key, one in case.findings.items()}
    assert ("slips",) == case.complaint


def test_answer__doubt_of_the_words_is_kept_of_a_background_alone() -> None:
    doubted = Proposal("rebuilt", "just_now", "think_so")
    case = take(start(Case("long5", asked=FIRST)).propose((doubted, HOT)), Reply(LIVED_KEYS[1:])).case
    assert ({("rebuilt", "just_now"): "think_so"}, None) == (case.background_doubts, case.findings["worse_hot"].doubt)


def test_answer__a_background_said_again_for_sure_is_doubted_no_more() -> None:
    doubted = Case("long5", background={"rebuilt": "just_now"}, background_doubts={("rebuilt", "just_now"): "think_so"})
    interview = replace(start(doubted), proposed=(Proposal("rebuilt", "just_now"),))
    assert {} == take(interview, Reply(("rebuilt=just_now",))).case.background_doubts


def test_back__a_doubted_complaint_goes_as_a_whole() -> None:
    first = start(Case("long5", asked=FIRST))
    doubted = take(first.propose(LIVED[:1]), Reply(LIVED_KEYS[:1], doubt="think_so"))
    case = doubted.back().case
    assert ((), {}) == (case.complaint, dict(case.findings))


def test_back__after_a_confirmation_asks_it_again() -> None:
    proposed = opened().propose((HOT,))
    back = take(proposed, Reply(("worse_hot=yes",))).back()
    assert proposed.case == back.case
    assert (HOT,) == back.proposed


def test_back__at_a_confirmation_drops_it() -> None:
    assert opened().question == opened().propose((HOT,)).back().question


def test_back__after_a_resumption_takes_the_last_answer() -> None:
    """A resumed interview knows only the file."""
    case = opened().case
    answered = take(opened(), Reply(known=False)).case
    assert case.asked == start(answered).back().case.asked


def test_back__after_a_resumption_takes_a_whole_list() -> None:
    before = start(Case("long5", 1.0, asked=FIRST[:3]))
    after = take(before, Reply())
    assert before.case == start(after.case).back().case


def test_back__a_file_written_by_hand_is_not_emptied() -> None:
    case = Case("long5", 5.0, complaint=("slips",))
    assert case == start(case).back().case


def test_ask_more__allows_more_questions() -> None:
    interview = opened()
    while interview.question is not None:
        interview = take(interview, Reply(known=False))
    more = interview.ask_more(2)
    assert more.question is not None or interview.compiled.p_causes.max() > 0.5


def test_start_check__asks_for_what_the_check_shows_and_then_counts_it_as_done() -> None:
    interview = opened().start_check("pan_drop")
    reveals = set(interview.compiled.expansion.reveals["pan_drop"])
    while interview.question is not None:
        assert {*(interview.question.members or (interview.question.id,))} <= reveals
        interview = take(interview, Reply(known=False))
    done = interview.finish_check()
    assert (("pan_drop",), shipped().checks["pan_drop"].access, "") == (
        done.case.done_ids,
        done.case.access,
        done.check,
    )


def test_back__at_the_first_question_of_a_check_leaves_it() -> None:
    before = opened()
    assert ("", before.case) == (before.start_check("pan_drop").back().check, before.case)


def test_question__answers_never_come_back() -> None:
    interview = opened()
    seen: set[str] = set()
    while (question := interview.question) is not None:
        assert not seen & {question.id, *question.members}
        seen |= {question.id, *question.members}
        interview = take(interview, Reply((question.choices[0].key,)) if question.kind == "choice" else Reply())
    assert 3 <= len(seen)


def test_answer__the_interview_before_is_left_alone() -> None:
    interview = opened()
    question = interview.question
    assert question is not None
    first = interview.answer(question, Reply(known=False))
    assert interview.case == opened().case
    assert first.case == interview.answer(replace(question), Reply(known=False)).case


def test_question__a_graded_finding_offers_its_grades() -> None:
    from shiftlore.sessions.choosing_questions import Asking

    question = opened().make_question(Asking(("fluid_level",), 0.1, 0.1))
    assert ["right", "high", "low", "very_low"] == [choice.key for choice in question.choices]
    assert isinstance(question, Question) and isinstance(question.choices[0], Choice)


def test_start_check__what_nobody_knew_is_asked_again() -> None:
    interview = opened(findings={"fluid_colour": Answer("fluid_colour", "dark")}).start_check("pan_drop")
    seen: set[str] = set()
    while (question := interview.question) is not None:
        seen |= {*(question.members or (question.id,))}
        interview = take(interview, Reply(known=False))
    assert "fluid_smell_burnt" in seen


def test_start_check__codes_in_one_line_and_the_others_absent() -> None:
    interview = opened().start_check("module_scan")
    assert interview.question is not None and "codes" == interview.question.id
    case = take(interview, Reply(text="p0732")).case
    assert "yes" == case.findings["P0732"].grade
    assert "no" == case.findings["ratio_code_gear_3"].grade
    assert "ratio_code_gear_2" not in case.findings and "code_electrical_any" not in case.findings


def test_start_check__signs_stand_in_one_short_list() -> None:
    question = opened().start_check("road_test_plain").question
    assert question is not None
    assert ("road_test_plain", "which") == (question.id, question.kind)
    assert 5 <= len(question.choices) <= 14


def test_question__a_general_no_settles_the_particulars() -> None:
    general = opened(findings={"shift_flares_any": Answer("shift_flares_any", "no")})
    while (question := general.question) is not None:
        assert "shift_flares" != question.id
        general = take(general, Reply(known=False))


def test_note_jobs__closes_the_vehicle_and_can_be_taken_back() -> None:
    interview = opened(access="pan_off")
    done = interview.note_jobs((Done("filter_renew", "not_cured"),))
    assert (("filter_renew",), "", "standing") == (done.case.done_ids, done.case.access, done.compiled.case.access)
    assert interview.case == done.back().case


def test_take_codes__beside_words_that_wait() -> None:
    waiting = opened().propose((HOT,))
    taken = waiting.take_codes({"P0732": None, "P0733": "think_so"})
    assert (waiting.proposed, {"P0732", "P0733"}) == (taken.proposed, set(taken.case.findings))
    assert ((), taken.case) == (taken.back().proposed, taken.back().case)


def test_say__findings_backgrounds_distance_and_codes() -> None:
    say = opened().say
    assert "Distance: 182,000 km" == say("odometer_km", "182000")
    assert "Use: taxi, delivery or bus" == say("usage", "taxi_or_delivery")
    assert "P0732 (Ratio code for gear 2): yes" == say("P0732", "yes")
    assert "P1999: yes" == say("P1999", "yes")
    assert "Fluid colour: dark" == say("fluid_colour", "dark")


def test_question__a_gear_is_typed_by_its_name() -> None:
    from shiftlore.sessions.choosing_questions import Asking

    gears = opened().compiled.expansion.of_template["slips_gear"]
    question = opened().make_question(Asking(gears[2:5], 0.1, 0.1))
    assert ("3", "4", "5") == question.marks
    shifts = opened().compiled.expansion.of_template["shift_flares"]
    assert "2-3" in opened().make_question(Asking(shifts, 0.1, 0.1)).marks


def test_start_check__a_sign_keeps_its_number_while_others_are_answered() -> None:
    interview = opened().start_check("road_test_plain")
    while (question := interview.question) is not None and question.kind != "which":
        interview = take(interview, Reply(known=False))
    assert question is not None
    told = interview.propose((Proposal(question.choices[1].key, "yes"),))
    after = told.answer(told.question, Reply((f"{question.choices[1].key}=yes",))).question  # type: ignore[arg-type]
    assert after is not None
    marks = dict(zip((choice.key for choice in question.choices), question.marks, strict=True))
    assert all(marks[choice.key] == mark for choice, mark in zip(after.choices, after.marks, strict=True))
    assert len(after.choices) == len(question.choices) - 1


def test_answer__what_is_left_out_stays_open_where_it_was_said() -> None:
    question = start(Case("long5", 1.0, complaint=("slips",), asked=FIRST[:3])).question
    assert question is not None and "recent_events" == question.id
    interview = start(Case("long5", 1.0, complaint=("slips",), asked=FIRST[:3]))
    case = interview.answer(question, Reply((question.members[0],), rest_known=False)).case
    assert {question.members[0]: "yes"} == case.background


def test_answer__a_look_writes_only_what_was_picked() -> None:
    interview = start(Case("long5", 1.0, complaint=("slips",), asked=FIRST[:4]))
    case = take(interview, Reply(("fluid_level=low",))).case
    assert {"fluid_level": Answer("fluid_level", "low")} == case.findings
    assert (*FIRST, "fluid_level") == case.asked
    assert interview.case == start(case).back().case


def test_question__an_engine_finding_does_not_silence_the_codes() -> None:
    """`engine_codes` is about the engine; whether the transmission's codes were read is not answered by it."""
    for grade in ("no", "yes"):
        asked = tuple(key for key in FIRST if key != "codes")
        case = Case(
            "long5", 1.0, complaint=("slips",), asked=asked, findings={"engine_codes": Answer("engine_codes", grade)}
        )
        question = start(case).question
        assert question is not None and "codes" == question.id


@pytest.mark.parametrize("key", ["P0732", "c0040", "ratio_code_gear_2", "no_codes_generic_scan", "code_electrical_any"])
def test_question__codes_that_are_in_the_case_are_not_asked_for(key: str) -> None:
    asked = tuple(name for name in FIRST if name != "codes")
    case = Case("long5", 1.0, complaint=("slips",), asked=asked, findings={key: Answer(key, "no")})
    question = start(case).question
    assert question is not None and "codes" != question.id


@pytest.mark.parametrize("replies", [["?"] * 4, ["none", "0", "2 8 10", "0"], ["P0733", "?", "?", "?"]])
def test_resume__after_every_answer_asks_what_would_have_been_asked(replies: list[str]) -> None:
    """Found in a real terminal: what was read out of words counted as questions, so a resumed case asked fewer."""
    from shiftlore.sessions import open_desk, take_line

    going = open_desk(Interview(shipped(), Case("long6")))
    for line in ("slips in third when hot, fluid is dark, 184000 km", "y", *replies):
        going = take_line(going, line).desk
        resumed = open_desk(Interview(shipped(), going.interview.case))
        assert (going.question, going.interview.left) == (resumed.question, resumed.interview.left)


def test_keep_words__a_bare_number_or_letter_is_nothing_that_the_owner_said() -> None:
    interview = Interview(shipped(), Case("long6"))
    for text in ("90000", "164,000", "y", " ", ""):
        assert () == interview.keep_words(text).case.said
    for text in ("slips in 3rd", "P0730", "3rd gear"):
        assert (text,) == interview.keep_words(text).case.said
