"""Vehicles to practise on: drawn by level and area, plain where the level says so, an owner as unsure as the model has it."""

from collections import Counter
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from support.practice import exercise_of, undriven
from support.trade import shipped, unit_of

from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.practising import LEVELS, Wish, choose_area, choose_unit, draw_exercise
from shiftlore.practising.exercises import (
    DOUBTFUL,
    HARDEST,
    PLAIN_AREA,
    PLAIN_CAUSE,
    bench_of,
    check_area,
    p_missed,
    weigh_areas,
    weigh_faults_of_level,
    weigh_plainness,
    with_one_onset,
    without_none,
)


class Played(NamedTuple):
    rounds: int
    found: int


def test_draw_exercise__the_same_wish_gives_the_same_vehicle() -> None:
    one, two = (draw_exercise(shipped(), Wish("long5", 2, 5)) for _ in range(2))
    assert one.mark == two.mark
    assert np.array_equal(one.luck, two.luck)
    assert one.mark != exercise_of(2, 6).mark


@pytest.mark.parametrize("level", LEVELS)
def test_draw_exercise__causes_are_of_the_level_and_one_alone_below_the_hardest(level: int) -> None:
    areas = shipped().areas
    for seed in range(3):
        exercise = undriven(level, seed)
        records = exercise.bench.compiled.expansion.causes
        assert all(areas[records[cause].area].practised_from <= level for cause in exercise.causes)
        assert level == HARDEST or 1 == len(exercise.causes)


@pytest.mark.parametrize("seed", range(3))
def test_draw_exercise__at_the_first_level_the_signs_are_plain(seed: int) -> None:
    p_cause, p_area = weigh_plainness(undriven(1, seed).bench, undriven(1, seed).vehicle)
    assert p_cause >= PLAIN_CAUSE[1] and p_area >= PLAIN_AREA[1]


def test_draw_exercise__the_cause_is_in_the_area_that_was_asked_for() -> None:
    exercise = draw_exercise(shipped(), Wish("long5", 3, 4, "pump"))
    assert {"pump"} == {exercise.bench.compiled.expansion.causes[cause].area for cause in exercise.causes}
    assert "pump" == exercise.area


def test_draw_exercise__an_area_that_the_unit_has_nothing_of() -> None:
    with pytest.raises(UsageProblem, match=r"long5 has nothing of: .*stepless.*Choose another unit or area"):
        draw_exercise(shipped(), Wish("long5", 3, 1, "cvt_belt_or_pulley"))


def test_draw_exercise__no_such_unit() -> None:
    with pytest.raises(UnknownId, match="long5"):
        draw_exercise(shipped(), Wish("long55", 1, 1))


def test_check_area__not_there_or_not_yet_practised() -> None:
    with pytest.raises(UsageProblem, match=r'no area "pumps".*pump'):
        check_area(shipped(), "pumps", 4)
    with pytest.raises(UsageProblem, match="Add --level 3"):
        check_area(shipped(), "pump", 1)
    check_area(shipped(), "pump", 3)


def test_choose_unit__only_sheets_of_units_and_each_at_some_time() -> None:
    drawn = {choose_unit(shipped(), seed) for seed in range(200)}
    assert {sheet.id for sheet in shipped().sheets.values() if not sheet.kind_only} == drawn


def test_p_missed__is_one_minus_the_mean_of_a_beta() -> None:
    """Source: Laplace's rule of succession, (found + 1) / (rounds + 2)."""
    assert 0.5 == p_missed(None)
    assert 1 - 4 / 6 == pytest.approx(p_missed(Played(4, 3)), abs=1e-12)
    assert p_missed(Played(10, 0)) > 0.9 > 0.1 > p_missed(Played(10, 10))


def test_choose_area__follows_shares_and_where_the_score_is_weak() -> None:
    """Counts of 400 draws against shares times the chance of a miss, four standard errors wide."""
    shares = weigh_areas(bench_of(unit_of()), 1)
    weak = max(shares, key=lambda area: shares[area])
    scores = {area: Played(30, 30) for area in shares if area != weak}
    wanted = {area: shares[area] * p_missed(scores.get(area)) for area in shares}
    p = wanted[weak] / sum(wanted.values())
    drawn = Counter(choose_area(shipped(), "long5", 1, seed, scores) for seed in range(400))
    assert p == pytest.approx(drawn[weak] / 400, abs=4 * np.sqrt(p * (1 - p) / 400))


def test_weigh_faults_of_level__sums_to_one_over_what_the_level_has() -> None:
    bench = bench_of(unit_of())
    for level in LEVELS:
        weights = weigh_faults_of_level(bench, level, "")
        assert 1.0 == pytest.approx(weights.sum(), abs=1e-12)
    assert any(len(member) > 1 and p > 0 for member, p in zip(bench.compiled.faults.members, weights, strict=True))


def test_tell__an_unsure_owner_names_what_is_there_as_often_as_the_model_has_it() -> None:
    """Of signs that are there an unsure owner overlooks o of what he sees, (1 - p) / p by Bayes' rule for words right in p.

    So he names (1 - o) / (1 - i o) of them, i from 0 for a rare sign to o for a common one: 0.75 to 0.8 for p = 0.8.
    """
    p_right = next(iter(shipped().words.doubts.values()))
    o, there, named, asked = (1 - p_right) / p_right, 0, 0, 0
    for seed in range(40):
        exercise = undriven(4, seed)
        asked += len(exercise.unsure)
        told = [state for name, state in exercise.unsure.items() if exercise.vehicle.readings[name]]
        there, named = there + len(told), named + sum(told)
    low, high = 1 - o, (1 - o) / (1 - o * o)
    slack = 4 * np.sqrt(low * (1 - low) / there)
    assert low - slack < named / there < high + slack
    owners = sum(r.got_by in ("owner", "history") for r in exercise.bench.compiled.expansion.finding_records.values())
    assert DOUBTFUL[4] == pytest.approx(asked / (40 * owners), abs=0.02)


def test_tell__what_the_owner_is_sure_of_is_what_is_there() -> None:
    exercise = exercise_of(4, 3)
    unsure = next(iter(exercise.unsure))
    sure = next(name for name in exercise.vehicle.complaints)
    assert {sure: exercise.vehicle.readings[sure]} == exercise.tell(sure)
    assert exercise.unsure[unsure] == exercise.tell(unsure)[unsure].grade  # type: ignore[union-attr]
    assert not set(exercise.unsure) & set(exercise.vehicle.complaints)


@pytest.mark.parametrize(("code", "expected"), [(1, 0), (0, 1)])
def test_without_none__a_scan_shows_a_code_or_that_there_is_none(code: int, expected: int) -> None:
    exercise = undriven(1, 0)
    codes = dict.fromkeys(exercise.bench.reveals["generic_scan"], 0)
    drawn = replace(exercise.vehicle, readings={**codes, "no_codes_generic_scan": 1, "engine_codes": code})
    assert expected == without_none(exercise.bench, drawn).readings["no_codes_generic_scan"]


@pytest.mark.parametrize(("sudden", "slow"), [(1, 1), (1, 0), (0, 1), (0, 0)])
def test_with_one_onset__a_fault_begins_in_one_way_and_what_fits_stays(sudden: int, slow: int) -> None:
    """The owner said that it came out of nowhere, and so slowly that he got used to it."""
    exercise = undriven(1, 0)
    drawn = replace(
        exercise.vehicle, readings={**exercise.vehicle.readings, "began_suddenly": sudden, "grew_slowly": slow}
    )
    begun = [with_one_onset(exercise.bench, drawn, seed).readings for seed in range(12)]
    found = {(one["began_suddenly"], one["grew_slowly"]) for one in begun}
    assert ({(1, 0), (0, 1)} if sudden and slow else {(sudden, slow)}) == found
