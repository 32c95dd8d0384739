"""What is typed: questions, checks, jobs, suspicions, what is shown; and any nonsense, which changes nothing."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.practice import exercise_of, round_of

from shiftlore.practising import (
    Move,
    Show,
    Workplace,
    begin_round,
    is_recorded,
    list_checks,
    list_jobs,
    list_known,
    offer_acts,
    open_act,
    price_act,
    take_line,
)
from shiftlore.practising.rounds import follow
from shiftlore.practising.typing_in import NEAREST, NOT_FOLLOWED, NOTHING_TYPED, NOTHING_WAITS, Reaction


def typed(*lines: str, bench: Workplace | None = None) -> Reaction:
    """Type lines one after another, and give the last turn."""
    bench, turn = bench or Workplace(round_of()), None
    for line in lines:
        turn = take_line(bench, line)
        bench = turn.bench
    assert turn is not None
    return turn


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("does it slip?", ("slips",)),
        ("does it slip when cold?", ("slips", "worse_cold")),
        ("does it slip in third?", ("slips_gear_3",)),
        ("how long does it take to engage reverse", ("engage_delay_reverse",)),
        ("Any warning light?", ("warning_lamp",)),
        ("how long has it been like this?", ("began_suddenly", "grew_slowly")),
        ("since when does it do that?", ("began_suddenly", "grew_slowly")),
    ],
)
def test_take_line__a_question_is_put_to_the_owner(line: str, asked: tuple[str, ...]) -> None:
    turn = typed(line)
    assert (Move("ask", asked),) == turn.bench.round.acts
    assert turn.owner and turn.says[0]


def test_take_line__a_question_gets_the_yes_or_no_that_answers_it() -> None:
    """This vehicle has lost its fifth gear, and shifts up to it."""
    for line in ("does fifth work?", "do you have fifth gear?"):
        assert typed(line).says[0].startswith("No. ")
    for line in ("is fifth gear missing?", "does reverse work?", "does it shift up?"):
        assert typed(line).says[0].startswith("Yes. ")


def test_take_line__what_a_yes_would_mean_is_asked_back_where_it_is_not_clear() -> None:
    turn = typed("does every gear work?")
    assert "Which of these is asked?" == turn.says[0] and not turn.bench.round.acts


def test_take_line__anything_else_lets_the_owner_go_on() -> None:
    for line in ("anything else?", "what else", "any more?"):
        assert (Move("more"),) == typed(line).bench.round.acts


def test_take_line__what_the_owner_cannot_know_names_the_checks_cheapest_first() -> None:
    turn = typed("is the fluid burnt?")
    assert "The owner cannot know that (Fluid smells burnt)" in turn.says[0]
    prices = [price_act(turn.bench.round, act)[0] for act in turn.bench.offers]
    assert sorted(prices) == prices
    assert all("fluid_smell_burnt" in exercise_of().bench.reveals[act.ids[0]] for act in turn.bench.offers)
    assert Move("check", turn.bench.offers[1].ids) == typed("2", bench=turn.bench).bench.pending


@pytest.mark.parametrize(
    ("line", "shows"), [("what colour is the fluid?", "fluid_colour"), ("which code?", "ratio_code_gear_2")]
)
def test_take_line__what_is_asked_vaguely_names_the_checks_that_show_a_part_of_it(line: str, shows: str) -> None:
    turn = typed(line)
    assert "A check shows it" in turn.says[0]
    assert any(shows in exercise_of().bench.reveals[act.ids[0]] for act in turn.bench.offers)


def test_take_line__what_a_check_showed_already_is_told_again() -> None:
    bench = typed("module scan", "y").bench
    assert (
        "known already: Code: shift solenoid C stuck" in typed("code for shift solenoid C stuck?", bench=bench).says[0]
    )


def test_take_line__the_life_of_the_vehicle_plays_no_part() -> None:
    for line in ("was it used for towing?", "has the fluid ever been changed?"):
        assert "play no part" in typed(line).says[0]


@pytest.mark.parametrize(
    "line", ["hello, what seems to be the matter?", "what's wrong with it", "so what is the problem?"]
)
def test_take_line__a_greeting_lets_the_owner_go_on(line: str) -> None:
    turn = typed(line)
    assert turn.owner and "more" == turn.bench.round.acts[-1].kind


def test_take_line__a_question_that_is_not_clear_offers_what_it_may_mean() -> None:
    turn = typed("when does it happen, hot or cold?")
    assert "Which of these is asked?" == turn.says[0]
    assert {("worse_hot",), ("worse_cold",)} <= {act.ids for act in turn.bench.offers}
    assert typed("1", bench=turn.bench).owner


@pytest.mark.parametrize("line", ["n", "no", "y", "back"])
def test_take_line__a_yes_or_no_where_nothing_waits_names_no_step(line: str) -> None:
    turn = typed("list", line)
    assert ((NOTHING_WAITS,), None, ()) == (turn.says, turn.bench.pending, turn.bench.round.acts)


@pytest.mark.parametrize("line", ["replace valve body", "check the wiring", "repair the leak"])
def test_take_line__an_order_is_none_for_the_owner(line: str) -> None:
    turn = typed(line)
    assert "Which one is meant?" == turn.says[0] and not turn.owner
    assert {"check" if "check" in line else "job"} == {act.kind for act in turn.bench.offers}


def test_take_line__what_is_called_only_nearly_so_is_offered_and_not_opened() -> None:
    turn = typed("check boost sensor")
    assert NEAREST == turn.says[0] and turn.bench.pending is None


def test_take_line__a_check_waits_for_a_yes() -> None:
    turn = typed("module scan")
    assert (Move("check", ("module_scan",)), Show.STEP, ()) == (turn.bench.pending, turn.shows, turn.bench.round.acts)
    assert ("Left: Codes of every module.",) == typed("n", bench=turn.bench).says
    done = typed("y", bench=turn.bench)
    assert done.made and 1 == len(done.bench.round.made)
    assert "made already" in typed("codes of every module", bench=done.bench).says[0]


def test_take_line__something_else_than_a_yes_leaves_what_waited() -> None:
    turn = typed("module scan", "does it slip?")
    assert (None, (Move("ask", ("slips",)),)) == (turn.bench.pending, turn.bench.round.acts)


def test_take_line__numbers_name_what_is_listed() -> None:
    bench = Workplace(round_of())
    assert "Write the name" in typed("3", bench=bench).says[0]
    listed = offer_acts(bench, list_checks(bench.round))
    assert listed.offers[2] == typed("3", bench=listed).bench.pending
    assert "from 1 to" in typed("0", bench=listed).says[0]
    assert "from 1 to" in typed("9" * 40, bench=listed).says[0]


def test_take_line__jobs_in_one_go() -> None:
    listed = offer_acts(Workplace(round_of()), list_jobs(round_of()))
    turn = typed("fluid level set right + 11", bench=listed)
    assert Move("job", ("level_correction", *listed.offers[10].ids)) == turn.bench.pending
    assert "Only jobs" in typed("module scan + 1", bench=listed).says[0]
    assert "not the name of one job" in typed("nothing of the kind + 1", bench=listed).says[0]
    assert "both sides" in typed("+", bench=listed).says[0]


def test_take_line__a_suspicion_by_name_or_from_a_list() -> None:
    label = "Shift solenoid C sticks off"
    assert label.lower() in typed(f"think {label.lower()}").says[0].lower()
    turn = typed("think shift solenoid c sticks")
    assert "Which is suspected?" == turn.says[0]
    assert turn.bench.offers[0].ids[0] == typed("1", bench=turn.bench).bench.round.suspicion
    assert "No cause" in typed("think strawberries").says[0]
    assert "Say what you suspect" in typed("think").says[0]


def test_take_line__giving_back_and_giving_up_are_asked_once_more() -> None:
    for line, outcome in (("done", "left"), ("give up", "given_up")):
        assert "" == typed(line).bench.round.outcome
        assert outcome == typed(line, "y").bench.round.outcome
        assert "" == typed(line, "n").bench.round.outcome


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("h", Show.HELP),
        ("list", Show.CHECKS),
        ("jobs", Show.JOBS),
        ("k", Show.KNOWN),
        ("why", Show.WHY),
        ("log", Show.LOG),
        ("q", Show.STOP),
    ],
)
def test_take_line__shows_and_changes_nothing(line: str, shown: Show) -> None:
    turn = typed(line)
    assert (shown, ()) == (turn.shows, turn.bench.round.acts)


def test_take_line__a_hint_is_an_act() -> None:
    turn = typed("hint")
    assert (Show.STEP, 1) == (turn.shows, turn.bench.round.hints)


def test_take_line__nonsense_and_nothing() -> None:
    assert (NOT_FOLLOWED,) == typed("does it taste of strawberries?").says
    assert (NOTHING_TYPED,) == typed("   ").says
    assert "Write y" in typed("done", "").says[0]


def test_take_line__several_checks_of_one_name_are_offered() -> None:
    turn = typed("listen")
    assert "Which one is meant?" == turn.says[0] and len(turn.bench.offers) > 1


def test_take_line__keeps_before_it_works_out() -> None:
    kept: list[tuple[Move, ...]] = []
    bench = Workplace(round_of())
    take_line(bench, "does it slip?", kept.append)
    assert [(Move("ask", ("slips",)),)] == kept

    def refuse(acts: tuple[Move, ...]) -> None:
        raise RuntimeError("the disk is full")

    with pytest.raises(RuntimeError):
        take_line(bench, "does it slip?", refuse)
    assert () == bench.round.acts


def test_open_act__price_how_and_cautions() -> None:
    opened = open_act(round_of(), Move("job", ("replace_shift_solenoid_sol_c",)))
    cost, minutes = price_act(round_of(), Move("job", ("replace_shift_solenoid_sol_c",)))
    assert ("Shift solenoid C renewed", cost, minutes, "") == (
        opened.label,
        opened.cost,
        opened.minutes,
        opened.against,
    )
    assert opened.how and any("scalds" in one for one in opened.cautions)


def test_open_act__what_is_known_forbids_it() -> None:
    """Of the vehicles drawn, one that shows what a caution names, once that is known."""
    for seed in range(40):
        exercise = exercise_of(4, seed)
        current = begin_round(exercise)
        expansion, cautions = exercise.bench.compiled.expansion, exercise.bench.compiled.knowledge.cautions
        for act in list_checks(current):
            forbidding = [name for key in expansion.checks[act.ids[0]].cautions for name in cautions[key].forbidden_by]
            shown = [name for name in forbidding if exercise.vehicle.readings.get(name)]
            if shown and not current.work.state.evidence.keys() & set(shown):
                assert "" == open_act(current, act).against
                asked = follow(current, Move("ask", (shown[0],))).round
                assert expansion.findings[shown[0]].label in open_act(asked, act).against
                return
    pytest.fail("no vehicle shows what a caution forbids")


def test_list_known__parts_what_was_said_from_what_was_seen() -> None:
    known = list_known(typed("does it slip?", "module scan", "y").bench.round)
    assert ("Slips: revs rise without road speed",) == known["denied"]
    assert "Code: shift solenoid C stuck or not working right" in known["checks"]
    assert "Missing: gear 2" in known["complaint"] and len(known["absent"]) > 40


LINES = st.one_of(
    st.sampled_from([
        "does it slip?", "anything else?", "module scan", "pan", "y", "n", "1", "2", "list", "jobs", "k", "why", "hint",
        "think pump", "done", "give up", "1+2", "road test", "is it worse hot", "P0741?", "explain", "fluid level set right",
    ]),
    st.text(max_size=30),
)  # fmt: skip


@given(lines=st.lists(LINES, max_size=6))
@settings(max_examples=40, deadline=None)
def test_take_line__anything_typed_never_crashes_and_never_loses_money(lines: list[str]) -> None:
    bench, kept = Workplace(round_of()), [()]
    for line in lines:
        spent = bench.round.spent
        turn = take_line(bench, line, kept.append)
        if turn.bench.round.outcome:
            break
        assert spent + (turn.bench.round.made[-1].cost if turn.made else 0.0) == pytest.approx(turn.bench.round.spent)
        assert kept[-1] == turn.bench.round.acts
        bench = turn.bench
        if turn.shows in (Show.CHECKS, Show.JOBS):
            bench = offer_acts(bench, (list_checks if turn.shows is Show.CHECKS else list_jobs)(bench.round))


def test_is_recorded__once_a_check_with_the_recorder_on_was_made() -> None:
    assert not is_recorded(round_of(Move("check", ("module_scan",))))
    assert is_recorded(round_of(Move("check", ("road_test_readings",))))
