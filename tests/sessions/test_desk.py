"""What is made of a typed line: words, steps, and what came of them."""

from types import SimpleNamespace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import shipped

from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.cases import Answer, Case
from shiftlore.sessions import (
    Command,
    Entry,
    Interview,
    Reply,
    follow_line,
    resume,
    take_outcome,
    take_reply,
    take_words,
)
from shiftlore.sessions.desk import CLEARLY_SAID, MOST_PERHAPS, NAME_FIRST, NOTHING_LEFT, NOTHING_NEW, read_said

CHECK = SimpleNamespace(id="pan_drop", kind="check", label="Drop the pan", together=("pan_drop",), cautions=())
JOB = SimpleNamespace(
    id="filter_renew",
    kind="job",
    label="Filter and more",
    together=("filter_renew", "plain_service"),
    cautions=("hot_fluid",),
)
STEPS = (CHECK, JOB)


def about(**more: object) -> Interview:
    """Give an interview about a five-speed that slips."""
    return Interview(shipped(), Case("long5", odometer_km=180_000.0, complaint=("slips",), **more))  # type: ignore[arg-type]


def test_take_words__are_held_until_they_are_confirmed() -> None:
    following = take_words(about(), "the fluid smells burnt")
    assert (("fluid_smell_burnt", "yes"),) == following.proposed
    assert about().case == following.case


def test_take_words__a_code_is_the_finding_that_it_answers() -> None:
    assert ("ratio_code_gear_2", "yes") in take_words(about(), "P0732 is stored").proposed


@pytest.mark.parametrize("text", ["", "12 34", "?!", "sings like a bird", "it slips"])
def test_take_words__nothing_new_is_told(text: str) -> None:
    with pytest.raises(UsageProblem) as told:
        take_words(about(), text)
    assert NOTHING_NEW == str(told.value)


def test_take_words__need_a_unit_first() -> None:
    with pytest.raises(UsageProblem, match=NAME_FIRST):
        take_words(Interview(shipped(), Case("")), "it slips")


def test_read_said__what_is_clear_leaves_out_what_may_be() -> None:
    clear = read_said(about(), "bangs into second when hot, fluid smells burnt")
    assert clear and all(one.score >= CLEARLY_SAID for one in clear)


def test_read_said__of_two_on_the_same_words_only_the_better() -> None:
    found = read_said(about(), "slips in second gear, no codes stored, fluid is dark")
    for place, one in enumerate(found):
        assert not any(set(one.matched) <= set(better.matched) for better in found[:place])


@settings(max_examples=25, deadline=None)
@given(st.text(max_size=60))
def test_read_said__any_text_is_read_without_a_fault(text: str) -> None:
    found = read_said(about(), text)
    assert all(one.score >= CLEARLY_SAID for one in found) or len(found) <= MOST_PERHAPS


def test_take_reply__a_complaints_words_are_confirmed_next() -> None:
    start = Interview(shipped(), Case("long5"))
    assert start.question is not None
    following = take_reply(start, start.question, Reply(text="slips in second"))
    assert following.question is not None and "confirm" == following.question.kind
    assert "slips in second" == following.case.note


def test_take_reply__not_known_needs_no_words() -> None:
    start = Interview(shipped(), Case("long5"))
    assert start.question is not None
    assert ("complaint",) == take_reply(start, start.question, Reply(known=False)).case.asked


def test_take_reply__an_answer_that_cannot_be_true_with_the_others_is_not_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from shiftlore.compiling import CompiledCase

    def clash(_: object) -> None:
        raise ImpossibleEvidence(["slips", "fluid_level"])

    start = about(asked=("odometer_km",))
    assert start.question is not None
    monkeypatch.setattr(CompiledCase, "p_faults", property(clash))
    with pytest.raises(ImpossibleEvidence, match="slips, fluid_level"):
        take_reply(start, start.question, Reply(known=False))


def test_resume__words_that_were_not_confirmed_are_read_again() -> None:
    cut_off = Interview(shipped(), Case("long5", note="slips in second", asked=("complaint",)))
    assert resume(cut_off).proposed


def test_resume__words_that_say_nothing_are_asked_for_again() -> None:
    cut_off = Interview(shipped(), Case("long5", note="sings", asked=("complaint",)))
    assert () == resume(cut_off).case.asked


@pytest.mark.parametrize(
    "case", [Case(""), Case("long5"), Case("long5", complaint=("slips",), note="slips", asked=("complaint",))]
)
def test_resume__a_case_with_nothing_in_between_goes_on_as_it_is(case: Case) -> None:
    start = Interview(shipped(), case)
    assert start is resume(start)


@pytest.mark.parametrize(
    ("line", "command"),
    [
        ("q", Command.STOP),
        (" Quit ", Command.STOP),
        ("r", Command.RANKING),
        ("ranking", Command.RANKING),
        ("C", Command.CHECKS),
    ],
)
def test_follow_line__what_is_only_shown_changes_nothing(line: str, command: Command) -> None:
    assert command is follow_line(about(), STEPS, line)


def test_follow_line__back_takes_the_last_answer() -> None:
    start = about(asked=("service_record",), background={"service_record": "never"})
    following = follow_line(start, STEPS, "b")
    assert isinstance(following, Interview) and {} == following.case.background


def test_follow_line__words_become_a_proposal() -> None:
    following = follow_line(about(), STEPS, "Say fluid smells burnt")
    assert isinstance(following, Interview) and following.proposed


@pytest.mark.parametrize(("line", "check"), [("1", "pan_drop"), ("pan_drop", "pan_drop"), ("fluid_look", "fluid_look")])
def test_follow_line__a_check_by_its_number_or_its_id(line: str, check: str) -> None:
    entry = follow_line(about(), STEPS, line)
    assert isinstance(entry, Entry)
    record = shipped().checks[check]
    assert (check, (), record.how) == (entry.check, entry.jobs, entry.how)
    assert tuple(shipped().cautions[key].says for key in record.cautions) == entry.cautions


def test_follow_line__a_job_tells_all_that_is_done_together() -> None:
    entry = follow_line(about(), STEPS, "2")
    assert isinstance(entry, Entry)
    assert ("", JOB.together, JOB.label) == (entry.check, entry.jobs, entry.label)
    assert " ".join(shipped().jobs[job].says for job in JOB.together) == entry.how
    assert (shipped().cautions["hot_fluid"].says,) == entry.cautions


@pytest.mark.parametrize("line", ["", "0", "3", "w", "h", "filter_renewal", "-1", "1 2"])
def test_follow_line__anything_else_is_told_with_what_can_be_typed(line: str) -> None:
    with pytest.raises(UsageProblem, match="Write a number from 1 to 2"):
        follow_line(about(), STEPS, line)


def test_follow_line__more_questions_as_long_as_one_tells_anything() -> None:
    start = about()
    more = follow_line(start, STEPS, "m")
    assert isinstance(more, Interview) and more.extra > start.extra
    answered = tuple(start.compiled.expansion.findings)
    through = ("service_record", "usage", "recent_events", "replaced_parts", "codes", *answered)
    with pytest.raises(UsageProblem) as told:
        follow_line(about(asked=through), STEPS, "more")
    assert NOTHING_LEFT == str(told.value)


JOB_ENTRY = Entry("", ("filter_renew",), "Filter", "Renew it.", ())


@pytest.mark.parametrize(("line", "cured"), [("y", True), (" YES", True), ("n", False), ("no", False)])
def test_take_outcome__a_job_that_was_done_is_in_the_case(line: str, cured: bool) -> None:
    following, is_cured = take_outcome(about(), JOB_ENTRY, line)
    assert (("filter_renew",), cured) == (following.case.done_ids, is_cured)


@pytest.mark.parametrize("line", ["b", "", "later", "y?"])
def test_take_outcome__a_job_that_was_not_done_changes_nothing(line: str) -> None:
    start = about(findings={"fluid_level": Answer("fluid_level", "right")})
    assert (start, False) == take_outcome(start, JOB_ENTRY, line)
