"""Practice as text: what a mechanic would say, on 80 columns, nothing computed."""

from dataclasses import replace
from functools import cache
from typing import NamedTuple

import pytest
from support.practice import exercise_of, round_of
from support.trade import shipped

from shiftlore.practising import (
    HELP_LINES,
    Appraisal,
    JudgedAct,
    Move,
    Planned,
    Round,
    list_checks,
    list_known,
    open_act,
    price_act,
)
from shiftlore.practising.appraising import NotAsked
from shiftlore.reports.practise_text import (
    CURED,
    LOG_SOUND,
    NO_LOG,
    NO_SCORES,
    NOT_CURED,
    render_end,
    render_hint,
    render_known,
    render_list,
    render_log,
    render_made,
    render_opened,
    render_owner,
    render_recap,
    render_score_line,
    render_scores,
    render_start,
    render_what_next,
    render_why,
    say_spent,
    sum_shown,
)
from shiftlore.reports.trace_text import list_telling, say_answer
from shiftlore.reports.wording import render_help
from shiftlore.simulating import Run

SCAN, CURE = Move("check", ("module_scan",)), Move("job", ("replace_shift_solenoid_sol_c",))
IDLE = Move("job", ("level_correction",))


class Played(NamedTuple):
    rounds: int
    found: int
    spent: float
    planned: float


def _planned(act: Move = SCAN, total: float = 400.0) -> Planned:
    return Planned(act, "Codes of every module", "It tells most.", total, ((0.4, "A code: yes. Then much."),))


def _judged(act: Move, dearer: float, planned: Planned | None = None) -> JudgedAct:
    planned = planned or _planned()
    return JudgedAct(act, "Some work", planned.expected_total + dearer, planned, "", ((0.25, "This. Then that."),))


@cache
def ended() -> Round:
    return round_of(SCAN, IDLE, CURE)


def _verdict(luck: float = 170.0) -> Appraisal:
    choices = (_judged(SCAN, 0.0), _judged(IDLE, 120.0), _judged(CURE, 1.0, _planned(IDLE)))
    run = Run(390.0, True, 0, 60.0, ())
    asked = (NotAsked("No upshift 1-2: yes", 7.4),)
    return Appraisal(
        ("A thing broken",), ("It is broken.",), choices, 300.0, 121.0, luck, run, ("Thing renewed",), asked
    )


def _narrow(text: str) -> bool:
    return max(map(len, text.split("\n"))) <= 80


def test_render_start__level_unit_and_owner() -> None:
    text = render_start(round_of(), "Five-speed")
    assert "Level 1, fluid and codes. Five-speed (long5)." in text
    assert 'The owner: "' in text and _narrow(text)


def test_render_owner__in_quotes() -> None:
    assert 'The owner: "Slips. In third."' == render_owner(["Slips.", "In third."])


def test_render_made__a_check_a_job_in_vain_and_a_cure() -> None:
    told = render_made(round_of(SCAN), ("It shows: a code.",), "EUR")
    price = f"EUR {round_of(SCAN).spent:.0f}, {round_of(SCAN).minutes:.0f} min"
    assert f"It shows: a code.\nThat cost {price}. Spent so far: {price}." == told
    vain, back = round_of(SCAN, IDLE), round_of().exercise.bench.situation.comeback_cost
    told, quoted = render_made(vain, (), "EUR", 200), price_act(round_of(SCAN), IDLE)[0]
    comeback = round(vain.made[-1].cost) - round(quoted)
    assert told.startswith(NOT_CURED) and abs(comeback - back) <= 1
    assert f"That cost EUR {quoted:,.0f}, " in told and f", and EUR {comeback} that the owner comes again." in told
    assert render_made(ended(), (), "EUR").startswith(CURED)


def test_render_log__every_telling_answer_with_its_figure_as_trace_says_it() -> None:
    drive = exercise_of().drive
    assert drive is not None
    text, telling = render_log(drive), list_telling(drive.trace)
    assert text.startswith("The log:\n   1. ") and _narrow(text) and len(telling) > 3
    assert all(say_answer(one) in " ".join(text.split()) for _, one in telling)
    told = render_made(round_of(SCAN), (), "EUR", log=text)
    assert told.startswith(text) and "That cost" in told


def test_render_log__a_sound_one_and_none() -> None:
    drive = exercise_of().drive
    assert drive is not None
    sound = replace(drive, trace=replace(drive.trace, findings={}))
    assert render_log(sound).startswith(LOG_SOUND)
    assert NO_LOG.split()[:5] == render_log(None).split()[:5] and _narrow(render_log(None))


def test_render_opened__price_cautions_and_what_forbids_it() -> None:
    opened = open_act(round_of(), CURE)
    text = render_opened(opened, "EUR")
    assert "Shift solenoid C renewed: EUR 390, 2 h 55 min" in text and "Mind: " in text
    assert text.endswith("y: do it; n: leave it.") and _narrow(text)
    assert "does not go with" not in text
    against = opened.__class__(opened.label, 1.0, 1.0, "", (), "Brakes weak")
    assert "It does not go with what is known: Brakes weak." in render_opened(against, "EUR")


def test_render_list__numbered_with_prices() -> None:
    acts = list_checks(round_of())
    lines = render_list(round_of(), acts, "EUR").split("\n")
    assert len(acts) <= len(lines) - 1
    assert lines[1].strip().startswith("1  EUR ") and all(len(line) <= 80 for line in lines)


def test_render_known__and_recap() -> None:
    current = round_of(Move("ask", ("slips",)), SCAN, Move("think", exercise_of().causes))
    text = render_known(current, list_known(current), "EUR")
    assert "He says no to: Slips: revs rise without road speed." in text
    assert "You suspect: Shift solenoid C sticks off." in text and _narrow(text)
    assert "Done: Codes of every module. Spent so far: EUR " in render_recap(current, list_known(current), "EUR")


def test_sum_shown__is_the_sum_of_the_figures_shown() -> None:
    """Of 30.4 and 46.4, shown as 30 and 46, the sum was shown as 77."""
    first = ended().made[0]
    current = replace(ended(), made=(replace(first, cost=30.4), replace(first, cost=46.4)))
    assert "EUR 76, " in say_spent(current, "EUR") and sum_shown(current) == 76.0


def test_say_spent__nothing_yet() -> None:
    assert "Nothing spent so far." == say_spent(round_of(), "EUR")


def test_render_hint__names_the_step_and_counts() -> None:
    text = render_hint(_planned(), "EUR", 2)
    assert "The planner's next step: Check: Codes of every module. It tells most." in " ".join(text.split())
    assert "EUR 400. Hint 2 of this round." in text


def test_render_why__same_as_good_or_dearer() -> None:
    made = ended().made
    same = render_why(_judged(SCAN, 0.0), made[0], "EUR")
    assert "The planner would have done the same" in same and " 25 %: This. Then that." in same
    assert "As it came out, it told a good deal of what the vehicle has" in " ".join(same.split())
    dear = " ".join(render_why(_judged(IDLE, 120.0), made[1], "EUR").split())
    assert "EUR 120 dearer than the planner's step, Check: Codes of every module: EUR 520 expected" in dear
    assert "The planner's reason: It tells most." in dear
    assert "As good a choice as the planner's" in " ".join(render_why(_judged(IDLE, 5.0), made[1], "EUR").split())


@pytest.mark.parametrize(("act", "looks"), [(IDLE, True), (Move("check", ("road_test_plain",)), False)])
def test_render_why__a_choice_that_is_worth_more_than_the_planners_is_told_as_better(act: Move, looks: bool) -> None:
    told = " ".join(render_why(_judged(act, -120.0), ended().made[1], "EUR", 400).split())
    assert "EUR 120 better than the planner's step, Check: Codes of every module: EUR 280 expected from there" in told
    assert looks == ("It looks first all the same" in told)


def test_render_end__what_choices_saved() -> None:
    flat = " ".join(render_end(ended(), replace(_verdict(), chosen_dearer=-21.0), "EUR", 400).split())
    assert "Your choices saved, by what was known at each: EUR 21." in flat


def test_render_why__does_not_give_the_cause_away() -> None:
    assert "Shift solenoid C sticks off" not in render_why(_judged(SCAN, 0.0), ended().made[0], "EUR")


def test_render_end__what_it_was_choices_chance_and_planner() -> None:
    told = render_end(ended(), _verdict(), "EUR")
    flat = " ".join(told.split())
    for words in (
        "What it was A thing broken. It is broken. The vehicle drives right. Found.",
        "EUR 30, told",
        "in vain, a comeback counted in",
        "cured it",
        "Your choices added, by what was known at each: EUR 121.",
        "The rest is chance: EUR 170 more.",
        "it did: Thing renewed; and cured it.",
        "the planner EUR 390. No hints taken.",
        "Not asked: No upshift 1-2: yes (+7 decibans for what it was).",
    ):
        assert words in flat
    assert _narrow(told)
    assert 1 == flat.count("Why: It tells most.")
    assert "EUR 50 less" in render_end(ended(), replace(_verdict(), expected=520.0), "EUR")


@pytest.mark.parametrize(
    ("acts", "told"),
    [
        ((Move("leave"),), "gave the vehicle back as it was. You named no suspicion: not found."),
        ((Move("think", ("worn_pump",)), Move("give_up")), "You gave up. You suspected something else: not found."),
        ((Move("think", ("its_own",)), Move("leave")), "What you suspected is what it has: found."),
    ],
)
def test_render_end__uncured(acts: tuple[Move, ...], told: str) -> None:
    known = exercise_of().bench.compiled.expansion.causes
    other = next(key for key in known if key not in exercise_of().causes)
    meant = {("worn_pump",): (other,), ("its_own",): exercise_of().causes}
    acts = tuple(Move(act.kind, meant[act.ids]) if act.ids else act for act in acts)
    current = round_of(*acts)
    verdict = _verdict()
    one = Appraisal(**{**{key: getattr(verdict, key) for key in verdict.__slots__}, "choices": verdict.choices[:1]})
    assert told in " ".join(render_end(current, one, "EUR").split())


def test_render_scores__the_weakest_first() -> None:
    scores = {"pump": Played(4, 4, 900.0, 800.0), "band": Played(3, 0, 700.0, 300.0)}
    text = render_scores(scores, shipped().areas, "EUR")
    assert text.index("Band: 0 of 3 found, EUR 700 beside EUR 300") < text.index("Fluid pump: 4 of 4 found")
    assert NO_SCORES == render_scores({}, shipped().areas, "EUR")
    assert _narrow(text)


def test_render_score_line__of_one_area() -> None:
    assert "  Fluid pump: 4 of 5 found so far." == render_score_line(shipped().areas["pump"], Played(5, 4, 0.0, 0.0))


def test_render_help__and_what_next__fit() -> None:
    assert _narrow(render_help(HELP_LINES)) and _narrow(render_what_next())
    assert "hint" in render_help(HELP_LINES)
