"""The desk: what follows from a typed line, and that nothing is written that was not plainly said."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import rules_alone, shipped

import shiftlore
from shiftlore.basics import ImpossibleEvidence
from shiftlore.cases import Answer, Case, Done, Measured
from shiftlore.sessions import Command, Desk, Interview, Turn, offer_steps, open_desk, recap, take_line
from shiftlore.sessions.desk import (
    NO_LIMIT,
    NOTHING_LEFT,
    NOTHING_TYPED,
    NOTHING_WRONG,
    SAY_RESULT,
    STORED_NOW,
    tell_changes,
)
from shiftlore.sessions.interview import YES_NO
from shiftlore.sessions.questions import NAME_FIRST, NOTHING_NEW, Question
from shiftlore.sessions.telling_clashes import BOTH

THROUGH = ("complaint", "codes", "odometer_km", "recent_events", "first_look", "slips_gear")


def at(case: Case) -> Desk:
    """Open the desk on a case."""
    return open_desk(Interview(shipped(), case))


def asking(**more: object) -> Desk:
    """Give a desk where the distance is asked for."""
    return at(Case("long5", complaint=("slips",), asked=("complaint", "codes"), **more))  # type: ignore[arg-type]


def steps(**more: object) -> Desk:
    """Give a desk whose questions are done, with the steps that would be shown."""
    given = {"odometer_km": 180_000.0, "complaint": ("slips",), "asked": THROUGH, **more}
    desk = at(Case("long5", **given))  # type: ignore[arg-type]
    assert desk.question is None, "through with the questions"
    return offer_steps(desk, shiftlore.next_steps(shipped(), desk.interview.case).steps[:3])


def follow(desk: Desk, *lines: str) -> Turn:
    """Type lines one after the other and give the last turn."""
    for line in lines:
        turn = take_line(desk, line)
        desk = turn.desk
        if desk.question is None and not desk.offers and desk.entry is None and desk.interview.case.unit:
            desk = offer_steps(desk, shiftlore.next_steps(shipped(), desk.interview.case).steps[:3])
    return replace(turn, desk=desk)


def test_take_line__an_empty_line_answers_nothing_anywhere() -> None:
    before = [at(Case("")), at(Case("long5")), asking(), steps(), follow(steps(), "overhaul").desk]
    before.append(follow(asking(), "say fluid smells burnt").desk)
    before.append(at(Case("long5", odometer_km=1.0, complaint=("slips",), asked=THROUGH[:3])))
    for desk in before:
        turn = take_line(desk, "  ")
        assert desk.interview.case == turn.desk.interview.case and not turn.desk.is_over
        assert any("Nothing was typed" in text for text in turn.says)


def test_take_line__a_code_takes_back_that_there_was_none() -> None:
    turn = follow(at(Case("long5", complaint=("slips",), asked=("complaint",))), "none", "P0722")
    assert {"P0722"} == set(turn.desk.interview.case.findings)
    assert any("no longer: No codes by a generic scan" in text for text in turn.says)


def test_take_line__a_number_after_the_steps_goes_to_the_step() -> None:
    """Review of use: `c` and `1` wrote a distance of 1 km."""
    shown = take_line(asking(), "c")
    assert shown.desk.question is None and Command.CHECKS is shown.shows
    opened = follow(asking(), "c", "1")
    assert opened.desk.interview.case.odometer_km is None
    assert opened.desk.interview.check and opened.opened is not None


def test_take_line__enter_at_the_steps_goes_back_to_the_question() -> None:
    desk = follow(asking(), "c", "").desk
    assert desk.question is not None and "odometer_km" == desk.question.id


@pytest.mark.parametrize(("line", "shows"), [("r", Command.RANKING), ("h", Command.HELP), ("w", Command.WHY), ("k", Command.KNOWN), ("q", Command.STOP)])  # fmt: skip
def test_take_line__what_is_only_shown_leaves_the_question_where_it_is(line: str, shows: Command) -> None:
    desk = asking()
    turn = take_line(desk, line)
    assert (desk, shows) == (turn.desk, turn.shows)


def test_take_line__explain_takes_the_words_after_it() -> None:
    assert "pump worn" == take_line(asking(), "explain pump worn").explain


@pytest.mark.parametrize("line", ["r", "c", "k", "m", "say it slips"])
def test_take_line__the_unit_comes_first(line: str) -> None:
    assert (NAME_FIRST,) == take_line(at(Case("")), line).says or line.startswith("say")


@pytest.mark.parametrize("begin", [asking, steps, lambda: at(Case("long5"))])
def test_take_line__a_code_is_taken_wherever_it_is_typed(begin: Callable[[], Desk]) -> None:
    turn = take_line(begin(), "P0732, p0733?")
    assert Answer("P0732", "yes") == turn.desk.interview.case.findings["P0732"]
    assert "think_so" == turn.desk.interview.case.findings["P0733"].doubt
    assert "P0732" in turn.says[0]


def test_take_line__a_code_that_is_known_is_not_asked_for() -> None:
    desk = follow(at(Case("long5", complaint=("slips",), asked=("complaint",))), "P0732").desk
    assert desk.question is not None and "odometer_km" == desk.question.id


def test_take_line__words_are_held_until_they_are_confirmed() -> None:
    turn = take_line(asking(), "say fluid smells burnt")
    assert asking().interview.case == turn.desk.interview.case
    assert turn.desk.question is not None and "confirm" == turn.desk.question.kind
    case = take_line(turn.desk, "y").desk.interview.case
    assert "yes" == case.findings["fluid_smell_burnt"].grade


@pytest.mark.parametrize("line", ["the fluid is amber", "no, the fluid is amber", "say fluid is amber"])
def test_take_line__an_answer_is_corrected_in_words(line: str) -> None:
    dark = steps(findings={"fluid_colour": Answer("fluid_colour", "dark")})
    turn = take_line(dark, line)
    assert turn.desk.question is not None and "(not dark)" in turn.desk.question.choices[0].label
    case = take_line(turn.desk, "y").desk.interview.case
    assert ("amber", "dark") == (
        case.findings["fluid_colour"].grade,
        dark.interview.case.findings["fluid_colour"].grade,
    )


def test_take_line__a_complaint_that_is_denied_is_none_any_more() -> None:
    slips = steps(complaint=("slips", "shudder_light_throttle"))
    case = follow(slips, "say it does not shudder at light throttle", "y").desk.interview.case
    assert ("slips",) == case.complaint
    assert "no" == case.findings["shudder_light_throttle"].grade


def test_take_line__what_is_known_already_is_said() -> None:
    assert "Known already: Slips" in take_line(steps(), "say it slips").says[0]


def test_take_line__a_complaint_that_says_nothing_is_asked_again_and_kept() -> None:
    turn = take_line(at(Case("long5")), "my dog barks")
    assert ((NOTHING_NEW,), "my dog barks") == (turn.says, "; ".join(turn.desk.interview.case.said))
    assert turn.desk.question is not None and "complaint" == turn.desk.question.id


def test_take_line__where_nothing_wrong_was_understood_the_complaint_is_asked_again() -> None:
    turn = follow(open_desk(Interview(shipped(), Case("long5"))), "reverse ok, fluid level ok", "y")
    assert NOTHING_WRONG == turn.says[-1]
    assert turn.desk.question is not None and "complaint" == turn.desk.question.id
    assert ("slips",) == follow(turn.desk, "it slips", "y").desk.interview.case.complaint


@pytest.mark.parametrize("line", ["no whine", "it does not whine"])
def test_take_line__soundness_corrects_what_was_answered_before_and_names_no_check(line: str) -> None:
    turn = follow(steps(complaint=("slips", "noise_whine")), line)
    assert turn.desk.question is not None and "confirm" == turn.desk.question.id
    assert ("slips",) == follow(turn.desk, "y").desk.interview.case.complaint


def test_take_line__what_was_not_understood_is_shown_and_kept() -> None:
    turn = take_line(at(Case("long5")), "slips in third. My dog barks")
    assert turn.desk.question is not None and "dog barks" in turn.desk.question.why
    assert "dog barks" in turn.desk.interview.case.said[0]
    later = follow(steps(), "say fluid smells burnt. My dog barks", "y").desk.interview.case
    assert "dog barks" in later.note


def test_take_line__an_answer_that_cannot_be_true_with_the_others_is_not_taken(monkeypatch: pytest.MonkeyPatch) -> None:
    from shiftlore.compiling import CompiledCase

    def clash(_: object) -> None:
        raise ImpossibleEvidence(["slips", "fluid_level"])

    start = asking()
    monkeypatch.setattr(CompiledCase, "faults_now", property(clash))
    turn = take_line(start, "?")
    assert turn.desk is start and "slips, fluid_level" in turn.says[0]


def test_back__says_what_it_takes_back_and_asks_it_again() -> None:
    turn = follow(asking(), "182000", "b")
    assert ("Taken back: 182,000 km.",) == turn.says
    assert turn.desk.question is not None and "odometer_km" == turn.desk.question.id


def test_back__at_the_steps_asks_the_last_answer_of_a_check_again() -> None:
    """Review of use: two b's after a pan check removed findings without a word."""
    entered = follow(steps(), "pan_drop", "?", *["0"] * 3)
    while entered.desk.question is not None:
        entered = follow(entered.desk, "?")
    assert "pan_drop" in entered.desk.interview.case.done_ids
    resumed = offer_steps(at(entered.desk.interview.case), ())
    back = take_line(resumed, "b")
    assert back.says[0].startswith("Taken back: ") or back.desk.question is not None
    assert back.desk.interview.check == "pan_drop" and back.desk.question is not None


def test_back__nothing_is_left_to_take_back() -> None:
    assert ("There is nothing to take back.",) == take_line(at(Case("long5", complaint=("slips",))), "b").says


def test_back__leaves_a_check_or_a_job_and_says_so() -> None:
    left = follow(steps(), "pan_drop", "b")
    assert "It does not count as made" in left.says[0] and () == left.desk.interview.case.done
    left = follow(steps(), "overhaul", "b")
    assert "Nothing was entered" in left.says[0] and () == left.desk.interview.case.done


def test_more__asks_as_long_as_one_tells_anything() -> None:
    more = take_line(steps(), "m").desk
    assert more.question is not None
    answered = tuple(more.interview.compiled.expansion.findings)
    through = ("service_record", "usage", "replaced_parts", *THROUGH, *answered)
    assert (NOTHING_LEFT,) == take_line(steps(asked=through), "more").says


@pytest.mark.parametrize("line", ["pan_drop", "Drop the pan", "pan"])
def test_steps__a_check_by_its_id_or_name(line: str) -> None:
    turn = take_line(steps(), line)
    record = shipped().checks["pan_drop"]
    assert turn.opened is not None and ("pan_drop", record.how) == (turn.opened.check, turn.opened.how)
    assert tuple(shipped().cautions[key].says for key in record.cautions) == turn.opened.cautions
    assert "entering pan_drop" in turn.desk.interview.case.asked


def test_steps__words_that_may_mean_several_are_listed_and_a_number_picks() -> None:
    turn = take_line(steps(), "solenoids")
    assert "Which one is meant?" == turn.says[0] and len(turn.says) > 2
    picked = take_line(turn.desk, "1")
    assert picked.desk.interview.check == turn.desk.offers[0].check


def test_steps__a_number_that_names_none_is_told() -> None:
    assert "from 1 to 3" in take_line(steps(), "9").says[0]


RESULT = [
    ("1", "cured", None),
    ("2", "not_cured", None),
    ("gone", "cured", None),
    ("still there", "not_cured", None),
    ("3 after 2 weeks", "came_back", 14.0),
    ("came back after 2 weeks", "came_back", 14.0),
    ("3", "came_back", None),
    ("4", "", None),
]


@pytest.mark.parametrize(("line", "result", "days"), RESULT)
def test_jobs__what_came_of_one_is_stored(line: str, result: str, days: float | None) -> None:
    """Review of use: cured and not cured were stored the same."""
    turn = follow(steps(access="pan_off"), "overhaul", line)
    case = turn.desk.interview.case
    assert (Done("overhaul", result, after_days=days),) == case.done
    assert ("", result == "cured") == (case.access, turn.desk.is_over)


@pytest.mark.parametrize("line", ["y", "n", "yes", "maybe", "6", "soon"])
def test_jobs__what_says_neither_is_asked_again(line: str) -> None:
    turn = follow(steps(), "overhaul", line)
    assert (SAY_RESULT,) == turn.says and () == turn.desk.interview.case.done and turn.desk.entry is not None


@pytest.mark.parametrize("line", ["5", "not done", "later"])
def test_jobs__one_that_was_not_done_changes_nothing(line: str) -> None:
    turn = follow(steps(), "overhaul", line)
    assert steps().interview.case == turn.desk.interview.case and turn.desk.entry is None


def test_jobs__the_last_one_can_come_back_later() -> None:
    done = steps(done=(Done("filter_renew", "not_cured"), Done("overhaul", "cured")))
    turn = take_line(done, "came back after 3 weeks")
    assert ("overhaul", "came_back", 21.0) == (
        turn.desk.interview.case.done[1].id, turn.desk.interview.case.done[1].result, turn.desk.interview.case.done[1].after_days)  # fmt: skip
    assert "Noted: Overhaul of the transmission: it came back after 21 days." == turn.says[0]
    assert Done("filter_renew", "not_cured") == turn.desk.interview.case.done[0]


def test_checks__what_is_known_and_forbids_one_is_told_before_it_is_opened() -> None:
    """Source: common practice; the caution of the stall test itself says so."""
    turn = take_line(steps(), "stall_test")
    assert turn.desk.entry is not None and "road speed: yes" in turn.desk.entry.against
    assert turn.opened is None and not turn.desk.interview.check
    assert take_line(turn.desk, "maybe").desk.entry == turn.desk.entry
    sure = take_line(turn.desk, "y")
    assert "stall_test" == sure.desk.interview.check and sure.opened is not None


def test_checks__one_that_needs_the_vehicle_together_counts_the_closing() -> None:
    open_pan = take_line(steps(access="pan_off"), "hot_drive").opened
    closed = take_line(steps(), "hot_drive").opened
    assert open_pan is not None and closed is not None
    assert open_pan.closing[0] > 50 and open_pan.closing[1] > 20
    assert (0.0, 0.0) == closed.closing
    code_scan = take_line(steps(access="pan_off"), "bus_poll").opened
    assert code_scan is not None and (0.0, 0.0) == code_scan.closing


def test_open_desk__a_check_half_entered_is_taken_up_again() -> None:
    begun = follow(steps(), "pan_drop").desk.interview
    assert begun.check == at(begun.case).interview.check
    finished = follow(Desk(begun), *["?"] * 12).desk.interview
    assert "" == finished.check == at(finished.case).interview.check
    assert "entering pan_drop" not in finished.case.asked


def test_open_desk__words_that_were_not_confirmed_are_read_again() -> None:
    cut_off = at(Case("long5", said=("slips in second",), asked=("complaint",)))
    assert cut_off.interview.proposed
    assert () == at(Case("long5", said=("my dog barks",), asked=("complaint",))).interview.case.asked


def test_open_desk__after_the_first_questions_come_the_steps() -> None:
    assert steps().question is None
    assert at(Case("long5", complaint=("slips",))).question is not None


def test_tell_changes__a_condition_stands_beside_its_finding() -> None:
    before = Case("long5")
    after = replace(before, findings={"slips_gear_2": Answer("slips_gear_2", "yes", "think_so", when=("hot",))})
    assert "Slips in gear 2: yes (when hot, think so)" == tell_changes(Interview(shipped(), after), before, after)


def test_tell_changes__the_loud_ones_by_name_the_others_by_number() -> None:
    interview = steps().interview
    more = {key: Answer(key, "no") for key in interview.compiled.expansion.of_template["slips_gear"]}
    after = replace(interview.case, findings={**more, "slips_gear_2": Answer("slips_gear_2", "yes", "think_so")})
    assert f"Slips in gear 2: yes (think so); the other {len(more) - 1}: no" == tell_changes(
        interview, interview.case, after
    )
    assert "" == tell_changes(interview, after, after)


def test_recap__short_unless_everything_is_asked_for() -> None:
    given = {
        key: Answer(key, "yes") for key in ("worse_hot", "fluid_smell_burnt", "slips_gear_2", "slips_gear_3", "P0732")
    }
    interview = steps(findings=given, done=(Done("overhaul", "not_cured"),)).interview
    short, full = recap(interview), recap(interview, everything=True)
    assert ["Complaint", "Known", "Done"] == [line.split(":")[0] for line in short]
    assert "more" in short[1] and len(full[1]) > len(short[1])
    assert "the complaint is still there" in short[2]


def test_numbers__in_words_are_confirmed_and_kept_with_their_unit() -> None:
    turn = take_line(steps(), "line pressure is 1.8 bar at idle")
    assert turn.desk.question is not None and "Line pressure idle: 1.8 bar" == turn.desk.question.choices[0].label
    case = take_line(turn.desk, "y").desk.interview.case
    assert {"line_pressure_idle": Measured(1.8, "bar")} == case.measured


def test_numbers__one_that_says_otherwise_takes_the_place_of_an_answer_and_the_reverse() -> None:
    """Source of the limit: findings/hydraulics.yaml; below 250 kPa it is too low on any unit."""
    right = steps(findings={"line_pressure_idle": Answer("line_pressure_idle", "right")})
    low = follow(right, "line pressure is 1.8 bar at idle", "y")
    assert {} == low.desk.interview.case.findings and "too low" in low.says[0]
    again = follow(low.desk, "say line pressure at idle is right", "y").desk.interview.case
    assert ({}, "right") == (again.measured, again.findings["line_pressure_idle"].grade)


def test_numbers__at_a_question_of_a_check_answer_it() -> None:
    desk = follow(steps(), "line_pressure_gauge", "y").desk  # its caution names the stall test, and the vehicle slips
    while desk.question is not None and desk.question.id != "line_pressure_idle":
        desk = follow(desk, "?").desk
    turn = follow(desk, "1.8 bar")
    assert {"line_pressure_idle": Measured(1.8, "bar")} == turn.desk.interview.case.measured
    assert "low" == turn.desk.interview.given["line_pressure_idle"]
    assert turn.desk.question is None or turn.desk.question.id != "line_pressure_idle"
    unknown = follow(desk, "6 bar")
    assert NO_LIMIT in unknown.says and unknown.desk.question is not None
    assert "line_pressure_idle" == unknown.desk.question.id


@pytest.mark.parametrize(("line", "budget"), [("budget 400", 400.0), ("Budget EUR 1,200", 1200.0), ("budget is 400 EUR", 400.0), ("budget none", None)])  # fmt: skip
def test_budget__is_told_in_words(line: str, budget: float | None) -> None:
    turn = take_line(steps(budget=250.0), line)
    assert budget == turn.desk.interview.case.budget and "budget" in turn.says[0]


def test_explain__a_number_is_the_step_on_the_screen() -> None:
    desk = steps()
    assert (desk.offers[1].check or desk.offers[1].jobs[0]) == take_line(desk, "explain 2").explain


def test_steps__a_question_mark_answers_nothing_and_says_so() -> None:
    assert "No question is open" in take_line(steps(), "?").says[0]


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.sampled_from(["", "1", "3", "?", "b", "c", "r", "h", "m", "y", "pan", "P0732", "say", "2nd", "no"]),
        max_size=5,
    )
)
def test_take_line__whatever_is_typed_the_desk_goes_on(lines: list[str]) -> None:
    desk = asking()
    for line in lines:
        turn = take_line(desk, line)
        desk = turn.desk
        assert desk.question or desk.entry or desk.interview.case.unit
        assert all(text for text in turn.says)
    assert NOTHING_TYPED


EITHER = "it either slips in third or slips in fourth gear"
THIRD_OR_FOURTH = (Answer("slips_gear_3", "yes"), Answer("slips_gear_4", "yes"))


def test_either__one_of_two_is_kept_as_such_and_not_as_two_guesses() -> None:
    asked = follow(at(Case("long5")), EITHER).desk.question
    assert asked is not None and ["Either Slips in gear 3, or Slips in gear 4"] == [it.label for it in asked.choices]
    turn = follow(at(Case("long5")), EITHER, "y")
    case = turn.desk.interview.case
    assert ((THIRD_OR_FOURTH,), {}, ()) == (case.either, case.findings, case.complaint)
    assert ("Noted: Either Slips in gear 3, or Slips in gear 4.",) == turn.says
    assert "Known: Either Slips in gear 3, or Slips in gear 4." in recap(turn.desk.interview)


def test_either__the_causes_stand_as_after_a_case_file_that_says_so() -> None:
    from shiftlore import rank, read_case

    said = follow(at(Case("long5")), EITHER, "y").desk.interview.case
    written = read_case("shiftlore: 1\nunit: long5\neither:\n- [slips_gear_3, slips_gear_4]\n", shipped())
    alone = rules_alone()
    assert rank(alone, written).causes == rank(alone, said).causes


def test_either__is_refused_taken_back_and_not_asked_again() -> None:
    begun = at(Case("long5"))
    assert () == follow(begun, EITHER, "n").desk.interview.case.either
    desk = follow(begun, EITHER, "y").desk
    assert "Known already" in follow(desk, f"say {EITHER}").says[0] or NOTHING_NEW in follow(desk, f"say {EITHER}").says
    assert () == follow(desk, "b").desk.interview.case.either
    assert () == follow(at(desk.interview.case), "b").desk.interview.case.either, "from the file too"
    assert not at(desk.interview.case).interview.proposed, "it is not read again on the next day"


def test_either__what_is_denied_later_is_dropped_so_that_the_file_can_be_read(tmp_path: Path) -> None:
    from shiftlore.cases import render_case
    from shiftlore.cases.saving import save_text

    desk = follow(at(Case("long5")), EITHER, "y", "say does not slip in 3rd", "y", "say does not slip in 4th", "y").desk
    case = desk.interview.case
    assert ((), {"no"}) == (case.either, {one.grade for one in case.findings.values()})
    save_text(tmp_path / "case.yaml", render_case(case))
    assert case.findings == shiftlore.read_case(tmp_path / "case.yaml", shipped()).findings
    one_left = follow(at(Case("long5")), EITHER, "y", "say does not slip in 3rd", "y").desk.interview
    assert "yes" == one_left.given["slips_gear_4"]


def test_either__of_two_events_before() -> None:
    lines = ("slips", "y", "say either the engine oil was changed or the brakes were repaired shortly before", "y")
    case = follow(at(Case("long5")), *lines).desk.interview.case
    assert ((Answer("engine_oil_service", "yes"), Answer("brake_repair", "yes")),) == case.either


def test_take_line__a_check_that_is_half_entered_is_begun_once_more() -> None:
    """It stood twice among what was asked, and the file could not be read any more."""
    turn = follow(steps(), "module scan", "c", "module scan")
    assert 1 == turn.desk.interview.case.asked.count("entering module_scan")


def at_question(question: str, **more: object) -> Desk:
    """Give a desk with a yes/no question, on a vehicle that has lost its forward drive and not its reverse."""
    found = {"no_reverse": Answer("no_reverse", "no")}
    case = Case("trans4", complaint=("no_drive_forward",), findings=found, asked=THROUGH[:5], odometer_km=1e5)
    desk = at(case)
    asked = replace(desk.interview, left=5)
    asked.__dict__["question"] = Question(question, "choice", "Is it so?", YES_NO, members=(question,))
    return replace(desk, interview=asked)


def test_take_line__a_contradiction_is_told_at_once_with_what_can_be_taken_back() -> None:
    turn = take_line(at_question("no_drive_any"), "y")
    assert "No drive forward or in reverse: yes, and No reverse: no." in turn.says and BOTH in turn.says
    back = take_line(turn.desk, "b")
    assert "no_drive_any" not in back.desk.interview.case.findings


def test_take_line__words_behind_a_no_are_taken_at_a_yes_no_question() -> None:
    """It was refused, although what is known already is no reason against the no."""
    turn = take_line(at_question("slips"), "no, reverse works")
    assert ("Noted: Slips: revs rise without road speed: no.",) == turn.says
    new = take_line(at_question("slips"), "no, the warning lamp is on")
    assert "no" == new.desk.interview.case.findings["slips"].grade
    assert ["warning_lamp"] == [one.key for one in new.desk.interview.proposed]
    yes = take_line(at_question("slips"), "yes - the warning lamp is on")
    assert "yes" == yes.desk.interview.case.findings["slips"].grade and yes.desk.interview.proposed


def test_take_line__words_that_are_the_answer_or_correct_one_are_confirmed_first() -> None:
    for line in ("no, it slips", "no, reverse is gone"):
        turn = take_line(at_question("slips"), line)
        assert turn.desk.interview.proposed and "slips" not in turn.desk.interview.case.findings


def test_take_line__words_behind_a_no_that_say_nothing_are_refused_with_it() -> None:
    desk = at_question("slips")
    turn = take_line(desk, "no, only on sundays")
    assert '"only on sundays" was not understood' in turn.says[0] and desk.interview.case == turn.desk.interview.case


def test_take_line__what_is_known_already_is_said_at_a_question_too() -> None:
    assert ("Known already: No reverse: no.",) == take_line(at_question("slips"), "reverse works").says


CODES_NEXT = Case("trans6", complaint=("shift_harsh_2_3",), asked=("complaint", "shift_harsh_2_3"))


def test_codes__with_words_around_them_are_confirmed_first() -> None:
    desk = at(CODES_NEXT)
    while desk.question is not None and desk.question.id != "codes":
        desk = follow(desk, "?").desk
    held = follow(desk, "P0741 maybe")
    assert held.desk.question is not None and "confirm" == held.desk.question.kind
    assert desk.interview.case.findings == held.desk.interview.case.findings
    key = desk.interview.compiled.unit.aliases.get("P0741", "P0741")
    taken = follow(held.desk, "y").desk.interview.case.findings[key]
    assert ("yes", "think_so") == (taken.grade, taken.doubt)
    refused = follow(desk, "there was P0741 once but that was last year and is gone")
    assert (STORED_NOW,) == refused.says and refused.desk.interview.case == desk.interview.case
    assert "P0741" in follow(desk, "P0741").desk.interview.case.findings


def test_confirm__when_one_of_them_is_so_is_tied_to_that_one() -> None:
    said = follow(asking(), "say bangs into second and it whines in third").desk
    first = said.interview.proposed[0]
    tied = follow(said, "the first is only when warm").desk
    assert ("hot",) == tied.interview.proposed[0].when and first.key == tied.interview.proposed[0].key
    assert len(said.interview.proposed) == len(tied.interview.proposed)
    assert said.interview.proposed[1:] == tied.interview.proposed[1:]


def test_steps__not_known_goes_back_to_the_question_that_waits() -> None:
    desk = asking()
    waiting = replace(desk, at_steps=True)
    assert desk.question == follow(waiting, "?").desk.question


def test_take_line__what_waits_for_a_yes_is_asked_before_a_check_is_entered() -> None:
    desk = follow(steps(), "actually the scan says P0730", "pan").desk
    assert desk.interview.check == "pan_drop" and desk.question is not None
    assert "confirm" == desk.question.kind, "nothing waiting is dropped"
    assert "yes" == follow(desk, "y").desk.interview.case.findings["ratio_code"].grade


def test_take_line__not_known_is_no_answer_to_what_was_understood() -> None:
    turn = follow(asking(), "about 93k miles", "?")
    assert "Write y if all of it is right" in turn.says[0]
    assert 149_669 == follow(turn.desk, "y").desk.interview.case.odometer_km


def test_take_line__nothing_in_it() -> None:
    desk = follow(steps(), "pan").desk
    assert desk.question is not None
    assert "hardly anything" in {choice.label for choice in desk.question.choices}
    assert (
        follow(desk, "nothing in it").desk.interview.case.findings[desk.question.id].grade
        == desk.question.choices[0].key
    )
