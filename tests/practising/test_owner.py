"""The owner speaks as people do: no id, nothing that is not so, the same words each time."""

from dataclasses import replace

import pytest
from support.practice import exercise_of, undriven
from support.trade import shipped

from shiftlore.practising.exercises import Exercise
from shiftlore.practising.owner import (
    _UNSURE_NO,
    _UNSURE_YES,
    list_complaints,
    owner_can_tell,
    say_answer,
    say_complaint,
    say_finding,
)
from shiftlore.words import read_report

SEEDS = range(4)


def showing(*answer: str | int) -> Exercise:
    """Give the usual vehicle, sure of all, with the state given last of the findings named before."""
    *findings, state = answer
    exercise = exercise_of()
    readings = {**exercise.vehicle.readings, **dict.fromkeys(map(str, findings), int(state))}
    return replace(exercise, unsure={}, vehicle=replace(exercise.vehicle, readings=readings))


@pytest.mark.parametrize("seed", SEEDS)
def test_list_complaints__each_once_and_none_left_out(seed: int) -> None:
    exercise = exercise_of(2, seed)
    listed = [name for one in list_complaints(exercise) for name in (one.finding, *one.covers)]
    assert sorted(exercise.vehicle.complaints) == sorted(listed)


def test_list_complaints__what_does_not_move_at_all_is_said_once() -> None:
    """He came in with no drive at all, and with none forward."""
    both = ("no_drive_forward", "no_drive_any")
    exercise = showing(*both, 1)
    listed = list_complaints(replace(exercise, vehicle=replace(exercise.vehicle, complaints=both)))
    assert [("no_drive_any", ("no_drive_forward",))] == [(one.finding, one.covers) for one in listed]


@pytest.mark.parametrize("seed", SEEDS)
def test_say_complaint__shows_no_id_and_no_gap(seed: int) -> None:
    exercise = exercise_of(2, seed)
    ids = {*shipped().findings, *exercise.bench.compiled.expansion.findings}
    for one in list_complaints(exercise):
        said = say_complaint(exercise, one)
        assert said[0] == said[0].upper() and said.endswith(".")
        assert not {"{", "|", "_"} & set(said)
        assert not {word for word in said.lower().split() if "_" in word} & ids


def test_say_finding__says_nothing_else_that_is_not_so() -> None:
    """Held against the tool's own reader: what it reads besides in the owner's words is so on this vehicle."""
    for seed in SEEDS:
        exercise = exercise_of(3, seed)
        expansion, readings = exercise.bench.compiled.expansion, exercise.vehicle.readings
        for one in list_complaints(exercise):
            said = say_finding(exercise, one.finding, readings[one.finding])
            if said == expansion.findings[one.finding].label:
                continue
            template = expansion.finding_records[one.finding].id
            for told in read_report(shipped(), expansion, said).answers:
                if told.template != template:
                    assert told.answer == expansion.findings[told.id].grades[readings[told.id]], said


def test_say_finding__is_the_same_each_time_and_not_the_same_for_all() -> None:
    exercise = exercise_of(1, 11)
    assert say_finding(exercise, "slips", 1) == say_finding(exercise, "slips", 1)
    assert len({say_finding(undriven(1, seed), "slips", 1) for seed in range(8)}) > 2


def test_say_finding__never_as_a_workshop_writes_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """Common practice: an owner does not speak of himself as the customer."""
    knowledge = exercise_of().bench.compiled.knowledge
    ways = {"slips": {"yes": ("cust states trans slips", "veh slips per driver", "it slides away under me")}}
    monkeypatch.setitem(knowledge.sayings, "en", {**knowledge.sayings["en"], **ways})
    assert {"it slides away under me"} == {say_finding(undriven(1, seed), "slips", 1) for seed in SEEDS}


def test_say_finding__speaks_in_sentences_before_notes(monkeypatch: pytest.MonkeyPatch) -> None:
    """An owner spoke like a table: follows wheel speed."""
    knowledge = exercise_of().bench.compiled.knowledge
    ways = {"slips": {"yes": ("slips badly", "test drive: it slips away", "slipping", "it slides away under me")}}
    monkeypatch.setitem(knowledge.sayings, "en", {**knowledge.sayings["en"], **ways})
    assert {"it slides away under me"} == {say_finding(undriven(1, seed), "slips", 1) for seed in SEEDS}


def test_say_finding__what_never_was_is_not_said_to_be_better_now(monkeypatch: pytest.MonkeyPatch) -> None:
    """An owner who was asked for a clunk that the vehicle never had said "Clunk is better now"."""
    ways = ("slipping is better now", "slip is gone now", "does not slip any more", "it pulls clean through")
    slips = {"slips": {"no": ways, "yes": ("it slips now",)}}
    monkeypatch.setitem(shipped().sayings, "en", {**shipped().sayings["en"], **slips})
    assert {"it pulls clean through"} == {say_finding(undriven(1, seed), "slips", 0) for seed in SEEDS}
    assert "it slips now" == say_finding(exercise_of(), "slips", 1)


def test_say_finding__names_the_gear_that_is_meant() -> None:
    assert "gear 3" in say_finding(exercise_of(), "slips_gear_3", 1)


def test_say_finding__without_a_saying_the_label_says_it(monkeypatch: pytest.MonkeyPatch) -> None:
    compiled = exercise_of().bench.compiled
    monkeypatch.setitem(compiled.knowledge.sayings["en"], "slips", {})  # type: ignore[arg-type]
    assert compiled.expansion.findings["slips"].label == say_finding(exercise_of(), "slips", 1)
    assert "" == say_finding(exercise_of(), "slips", 0)


def test_say_answer__a_denial_and_a_yes_begin_with_the_word() -> None:
    exercise = exercise_of()
    assert 0 == exercise.vehicle.readings["slips"]
    assert say_answer(exercise, ["slips"]).startswith("No. ")
    assert say_answer(exercise, ["gear_missing_5"]).startswith("Yes. ")


@pytest.mark.parametrize(("finding", "state"), [("no_reverse", 0), ("no_reverse", 1), ("slips", 0), ("slips", 1)])
def test_say_answer__yes_and_no_answer_the_question_as_it_was_asked(finding: str, state: int) -> None:
    """Asked whether reverse works, the owner of a vehicle without it said "Yes. Doesn't take reverse any more"."""
    exercise = showing(finding, state)
    assert say_answer(exercise, [finding], ["no"]).startswith("No. " if state else "Yes. ")
    assert say_answer(exercise, [finding], ["yes"]).startswith("Yes. " if state else "No. ")
    assert not say_answer(exercise, [finding], [""]).startswith(("Yes.", "No."))


def test_say_answer__whether_several_gears_work() -> None:
    gears = ["gear_missing_3", "gear_missing_4"]
    assert "Yes, all of that." == say_answer(showing(*gears, 0), gears, ["no", "no"])
    assert say_answer(showing(gears[1], 1), gears, ["no", "no"]).startswith("No. ")


def test_say_answer__what_cannot_be_is_answered_with_what_rules_it_out() -> None:
    """Who has no reverse was said to wait no time for it."""
    for finding, agrees, begins in (("engage_delay_reverse", "", ""), ("reverse_slips", "yes", "No. ")):
        said = say_answer(showing("no_reverse", 1), [finding], [agrees])
        assert f"{begins}{say_answer(showing('no_reverse', 1), ['no_reverse'], [''])}" == said


def test_say_answer__when_it_happens_does_not_decide_whether_it_does() -> None:
    exercise = showing("slips", 1)
    exercise = replace(
        exercise, vehicle=replace(exercise.vehicle, readings={**exercise.vehicle.readings, "worse_cold": 0})
    )
    asked = ["slips", "worse_cold"]
    assert say_answer(exercise, asked, ["yes", "yes"]).startswith("Yes. ")
    assert say_answer(exercise, ["worse_cold", "grew_slowly"], ["yes", "yes"]).startswith("No. ")


def test_say_answer__that_it_is_not_worse_then_is_said_once() -> None:
    """Cold and hot denied one after the other, he said no better once warm, and fine once it has warmed up."""
    exercise, whens = showing("worse_cold", "worse_hot", 0), ["worse_cold", "worse_hot"]
    alone = say_answer(exercise, whens[:1], ["no"]).removeprefix("Yes. ")
    assert f"Yes. {alone}" == say_answer(exercise, whens, ["no", "no"])


def test_say_answer__an_unsure_owner_answers_the_question_too() -> None:
    exercise = replace(exercise_of(), unsure={"no_reverse": 1})
    assert say_answer(exercise, ["no_reverse"], ["no"]) in _UNSURE_NO
    assert say_answer(exercise, ["no_reverse"], ["yes"]) in _UNSURE_YES


def test_say_answer__a_grade_is_said_without_yes_or_no() -> None:
    assert not say_answer(exercise_of(), ["engage_delay_reverse"]).startswith(("Yes. ", "No. "))


def test_say_answer__several_things_get_an_answer_each() -> None:
    exercise = exercise_of()
    both = say_answer(exercise, ["slips", "worse_cold"])
    for name in ("slips", "worse_cold"):
        assert say_answer(exercise, [name]).removeprefix("No. ").removeprefix("Yes. ") in both


def test_say_answer__several_gears_of_which_none_is_so() -> None:
    exercise = exercise_of()
    gears = [name for name in exercise.vehicle.readings if name.startswith("slips_gear_")]
    assert not any(exercise.vehicle.readings[name] for name in gears)
    assert "No, none of that." == say_answer(exercise, gears)


def test_say_answer__an_unsure_owner_says_so() -> None:
    exercise = exercise_of(4, 3)
    name = next(name for name, state in exercise.unsure.items() if not state)
    said = say_answer(exercise, [name])
    assert any(word in said for word in ("don't think", "not sure", "would not think"))


def test_owner_can_tell__what_is_felt_and_not_what_is_measured() -> None:
    exercise = exercise_of()
    assert owner_can_tell(exercise, "slips")
    assert not owner_can_tell(exercise, "fluid_smell_burnt")
    assert not owner_can_tell(exercise, "line_pressure_idle")
    assert not owner_can_tell(exercise, "no_such_finding")
