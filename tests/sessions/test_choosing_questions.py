"""Which question is worth most, and why it is asked."""

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import compiled_of

from shiftlore.cases import Done
from shiftlore.compiling import Observation
from shiftlore.sessions.choosing_questions import (
    CHEAP_LOOK_MINUTES,
    CHEAP_WAYS,
    LEAST_NATS_WANTED,
    P_LEADING,
    SMALLEST_MOVE,
    Asking,
    binary_information,
    explain_question,
    find_leaders,
    foresee,
    group_findings,
    list_cheap,
    list_separators,
    look_minutes,
    rank_questions,
)

ANSWERS = {"ratio_code_gear_3": "yes", "fluid_smell_burnt": "no", "fluid_colour": "amber"}
ASKED_ANSWERS = {"ratio_code_gear_3": "yes", "fluid_smell_burnt": "no"}
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


@pytest.mark.parametrize("result", ["", "not_cured", "came_back"])
@pytest.mark.parametrize("finding", ["fluid_level", "line_pressure_idle", "engine_runs_rough"])
def test_foresee__after_a_job_in_vain_each_answer_leaves_what_the_ranking_then_shows(finding: str, result: str) -> None:
    compiled = compiled_of(ANSWERS, done=(Done("replace_pressure_solenoid_pcs", result),))
    predicted = compiled.predict_now([finding])[finding]
    p_outcome, after = foresee(compiled, predicted)
    assert compiled.causes_now == pytest.approx(p_outcome @ after, abs=1e-9)
    for place, grade in enumerate(compiled.expansion.findings[finding].grades):
        answered = compiled.with_answers([Observation(finding, grade)])
        assert answered.causes_now == pytest.approx(after[place], abs=1e-9)


def test_list_cheap__questions_and_looks_that_are_open() -> None:
    compiled = compiled_of(ANSWERS)
    cheap = list_cheap(compiled, ["slips"])
    records = compiled.expansion.finding_records
    assert {records[key].got_by for key in cheap} <= set(CHEAP_WAYS)
    assert not {"slips", *ANSWERS} & set(cheap)


@pytest.mark.parametrize(
    ("answers", "key", "is_asked"),
    [
        ({"slips": "yes"}, "drive_returns_after_rest", False),
        ({"loses_drive_suddenly": "yes"}, "drive_returns_after_rest", True),
        ({"loses_drive_suddenly": "no"}, "drive_returns_after_rest", False),
        ({"noise_whine": "yes"}, "noise_on_turn", True),
        ({"slips": "yes"}, "noise_on_turn", False),
    ],
)
def test_list_cheap__what_takes_something_for_granted_waits_until_that_is_told(
    answers: dict[str, str], key: str, is_asked: bool
) -> None:
    assert is_asked == (key in list_cheap(compiled_of(answers), ()))


def test_list_cheap__what_is_only_said_vaguely_is_never_asked_for() -> None:
    compiled = compiled_of({"shifts_wrong_any": "yes"})
    records = compiled.expansion.finding_records
    vague = {key for key, record in records.items() if not record.asked}
    assert {"does_not_go", "fluid_dirty", "code_any"} <= vague
    assert not vague & set(list_cheap(compiled, ()))
    assert compiled.p_causes.max() > compiled_of().p_causes.max(), "it is weighed all the same"


def test_rank_questions__best_first_and_every_open_finding_once() -> None:
    compiled = compiled_of(ANSWERS)
    ranked = rank_questions(compiled, list_cheap(compiled, ()))
    separates = [bool(one.separates and one.nats >= LEAST_NATS_WANTED) for one in ranked]
    assert separates == sorted(separates, reverse=True), "what tells two leading causes apart goes first"
    for kind in (True, False):
        worths = [one.worth for one, is_such in zip(ranked, separates, strict=True) if is_such == kind]
        assert worths == sorted(worths, reverse=True)
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
        (cause.id, one)
        for cause in compiled.knowledge.causes.values()
        for one in cause.looks_like
        if one.tells_apart
        and one.cause in compiled.expansion.of_template
        and cause.id in compiled.expansion.of_template
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


def test_explain_question__is_one_whole_sentence() -> None:
    compiled = compiled_of(ASKED_ANSWERS)
    for asking in rank_questions(compiled, list_cheap(compiled, ()))[:15]:
        text = explain_question(compiled, asking)
        assert text[0].isupper() and text.endswith(".")
        assert "{name}" not in text and "\n" not in text


def test_explain_question__the_numbers_are_those_of_the_engine() -> None:
    compiled = compiled_of(ASKED_ANSWERS)
    text = explain_question(compiled, Asking(("fluid_level",), 0.1, 0.1))
    match = re.fullmatch(r'The answer "(.+)" would take "(.+)" from (\d+) to (\d+) %, "(.+)" to (\d+) %\.', text)
    assert match is not None, text
    node, labels = (
        compiled.expansion.findings["fluid_level"],
        compiled.expansion.finding_records["fluid_level"].grade_labels,
    )
    said = {labels.get(grade, grade).lower(): i for i, grade in enumerate(node.grades)}
    cause = next(i for i, key in enumerate(compiled.causes) if compiled.expansion.causes[key].label == match.group(2))
    after = foresee(compiled, compiled.engine.predict(compiled.evidence, ["fluid_level"])["fluid_level"])[1]
    assert int(match.group(3)) == pytest.approx(100 * compiled.p_causes[cause], abs=0.51)
    assert int(match.group(4)) == pytest.approx(100 * after[said[match.group(1).lower()], cause], abs=0.51)
    assert int(match.group(6)) == pytest.approx(100 * after[0, cause], abs=0.51)


def test_explain_question__leaders_are_named() -> None:
    compiled = compiled_of(ASKED_ANSWERS)
    first, second = list(compiled.knowledge.causes)[:2]
    text = explain_question(compiled, Asking(("fluid_level",), 0.1, 0.1, (first, second)))
    assert text.startswith("It tells ") and " from " in text


def test_explain_question__what_moves_nothing_says_so() -> None:
    compiled = compiled_of(ASKED_ANSWERS)
    cheap = list_cheap(compiled, ())
    predicted = compiled.engine.predict(compiled.evidence, cheap)
    moves = {key: abs(foresee(compiled, predicted[key])[1] - compiled.p_causes).max() for key in cheap}
    still = min(moves, key=lambda key: moves[key])
    assert moves[still] < SMALLEST_MOVE
    assert "It would shift several causes a little." == explain_question(compiled, Asking((still,), 0, 0))


IN_VAIN = {"done": (Done("replace_pressure_solenoid_pcs"),)}


def test_foresee__after_a_job_in_vain_it_starts_where_the_ranking_stands() -> None:
    """Source: Breese and Heckerman 1996; the outcomes of a question average out to the belief before it."""
    compiled = compiled_of(ASKED_ANSWERS, **IN_VAIN)
    assert np.abs(compiled.causes_now - compiled.p_causes).max() > 0.002, "the job must have changed something"
    for key in list_cheap(compiled, ())[:12]:
        p_outcome, after = foresee(compiled, compiled.engine.predict(compiled.evidence, (key,))[key])
        assert 1.0 == pytest.approx(p_outcome.sum(), abs=1e-9)
        assert compiled.causes_now == pytest.approx(p_outcome @ after, abs=1e-9)


def test_explain_question__after_a_job_in_vain_it_says_what_the_ranking_says() -> None:
    compiled = compiled_of(ASKED_ANSWERS, **IN_VAIN)
    now = {compiled.expansion.causes[key].label: p for key, p in zip(compiled.causes, compiled.causes_now, strict=True)}
    told = [
        re.search(r'would take "(.+)" from (\d+) to', explain_question(compiled, asking))
        for asking in rank_questions(compiled, list_cheap(compiled, ()))[:15]
    ]
    assert any(told)
    assert all(match.group(2) == f"{now[match.group(1)] * 100:.0f}" for match in told if match)
