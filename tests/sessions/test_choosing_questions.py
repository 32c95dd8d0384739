"""Which question is worth most."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import compiled_of

from shiftlore.sessions import rank_questions
from shiftlore.sessions.choosing_questions import (
    CHEAP_LOOK_MINUTES,
    CHEAP_WAYS,
    LEAST_NATS_WANTED,
    P_LEADING,
    binary_information,
    find_leaders,
    foresee,
    group_findings,
    list_cheap,
    list_separators,
    look_minutes,
)

ANSWERS = {"ratio_code_gear_2": "yes", "fluid_smell_burnt": "no", "fluid_colour": "amber"}
P = st.floats(0.01, 0.99)


@given(P, P, P)
def test_binary_information__is_never_negative_where_beliefs_average(p: float, low: float, high: float) -> None:
    """Source: Gibbs' inequality; expected Kullback-Leibler gain."""
    after = np.array([[low], [high]])
    now = np.array([p * low + (1 - p) * high])
    assert binary_information(np.array([p, 1 - p]), after, now) >= -1e-12


def test_binary_information__a_question_that_settles_it_is_worth_the_entropy() -> None:
    gained = binary_information(np.array([0.25, 0.75]), np.array([[1.0], [0.0]]), np.array([0.25]))
    assert -(0.25 * np.log(0.25) + 0.75 * np.log(0.75)) == pytest.approx(gained, abs=1e-9)


def test_binary_information__an_unlinked_question_is_worth_nothing() -> None:
    now = np.array([0.3, 0.1])
    assert 0 == pytest.approx(binary_information(np.array([0.4, 0.6]), np.array([now, now]), now), abs=1e-15)


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 300))
def test_foresee__outcomes_average_back_to_now(place: int) -> None:
    compiled = compiled_of(ANSWERS)
    finding = compiled.open_findings()[place % len(compiled.open_findings())]
    predicted = compiled.engine.predict(compiled.evidence, [finding])[finding]
    p_outcome, after = foresee(compiled, predicted)
    assert 1 == pytest.approx(p_outcome.sum(), abs=1e-9)
    assert compiled.p_causes == pytest.approx(p_outcome @ after, abs=1e-9)


def test_list_cheap__questions_and_looks_that_are_open() -> None:
    compiled = compiled_of(ANSWERS)
    cheap = list_cheap(compiled, ["slips"])
    records = compiled.expansion.finding_records
    assert {records[key].got_by for key in cheap} <= set(CHEAP_WAYS)
    assert not {"slips", *ANSWERS} & set(cheap)


def test_rank_questions__best_first_and_every_open_finding_once() -> None:
    compiled = compiled_of(ANSWERS)
    ranked = rank_questions(compiled, list_cheap(compiled, ()))
    assert [one.worth for one in ranked] == sorted((one.worth for one in ranked), reverse=True)
    asked = [key for one in ranked for key in one.findings]
    assert sorted(list_cheap(compiled, ())) == sorted(asked)


def test_rank_questions__an_answer_asked_for_is_not_ranked_again() -> None:
    compiled = compiled_of(ANSWERS)
    best = rank_questions(compiled, list_cheap(compiled, ()))[0]
    again = rank_questions(compiled, list_cheap(compiled, best.findings))
    assert not {key for one in again for key in one.findings} & set(best.findings)


def test_rank_questions__the_same_case_asks_the_same() -> None:
    compiled = compiled_of(ANSWERS)
    assert rank_questions(compiled, list_cheap(compiled, ())) == rank_questions(compiled, list_cheap(compiled, ()))


def test_group_findings__instances_asked_together_make_one_question() -> None:
    compiled = compiled_of()
    groups = group_findings(compiled, compiled.open_findings())
    several = [findings for findings in groups.values() if len(findings) > 1]
    assert several
    records = compiled.expansion.finding_records
    assert all(1 == len({records[key].id for key in findings}) for findings in several)


def test_find_leaders__two_in_earnest_or_none() -> None:
    compiled = compiled_of(ANSWERS)
    assert find_leaders(compiled, np.zeros(len(compiled.causes))) is None
    p = np.zeros(len(compiled.causes))
    first, second = compiled.causes.index("worn_pump") if "worn_pump" in compiled.causes else 0, 3
    p[first], p[second] = 0.5, P_LEADING + 0.01
    leaders = find_leaders(compiled, p)
    causes = compiled.expansion.causes
    assert (causes[compiled.causes[first]].template, causes[compiled.causes[second]].template) == leaders


def test_list_separators__what_the_rules_name_to_tell_two_apart() -> None:
    compiled = compiled_of()
    own, alike = next(
        (cause.id, one) for cause in compiled.knowledge.causes.values() for one in cause.looks_like
        if one.tells_apart and one.cause in compiled.expansion.of_template and cause.id in compiled.expansion.of_template
        and one.tells_apart[0] in compiled.expansion.of_template
    )
    named = set(compiled.expansion.of_template[alike.tells_apart[0]])
    assert named <= list_separators(compiled, (own, alike.cause))
    assert set() == list_separators(compiled, None)


def test_list_cheap__a_look_that_takes_long_is_left_to_the_checks() -> None:
    compiled = compiled_of(unit="trans4")
    cheap, minutes = list_cheap(compiled, ()), look_minutes(compiled)
    assert "fluid_level" in cheap and "module_water" not in cheap
    assert minutes["fluid_level"] < CHEAP_LOOK_MINUTES < minutes["module_water"]


def test_look_minutes__what_is_open_already_costs_no_opening() -> None:
    closed, lifted = (look_minutes(compiled_of(access=access)) for access in ("standing", "lifted"))
    assert lifted["leak_pan"] < closed["leak_pan"]


def test_rank_questions__what_tells_the_leaders_apart_goes_first() -> None:
    compiled = compiled_of({"slips_gear_2": "yes", "slips": "yes"}, odometer_km=182_000.0)
    ranked = rank_questions(compiled, list_cheap(compiled, ()))
    apart = [one.separates is not None and one.nats >= LEAST_NATS_WANTED for one in ranked]
    assert apart == sorted(apart, reverse=True)
