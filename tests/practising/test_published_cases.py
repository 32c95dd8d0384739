"""Published repairs to practise on: their own words and signs, the rest drawn, and it is said."""

from functools import cache

import pytest
from support.trade import shipped

from shiftlore.basics import UsageProblem
from shiftlore.practising import Wish, begin_round, choose_repair, find_repair, introduce, make_exercise
from shiftlore.practising.exercises import Exercise
from shiftlore.practising.published_cases import _is_fit
from shiftlore.repairs import Remembered, choose_published

LEVEL, SEED = 2, 4


@cache
def repair() -> Remembered:
    return choose_repair(shipped(), LEVEL, SEED, {})


@cache
def exercise() -> Exercise:
    return make_exercise(shipped(), Wish(repair().vehicle, LEVEL, SEED, "", repair().id))


def test_choose_repair__one_known_cause_of_the_level() -> None:
    for seed in range(6):
        one = choose_repair(shipped(), 1, seed, {})
        area = shipped().causes[one.causes[0]].area
        assert 1 == len(one.causes) and shipped().areas[area].practised_from == 1


def test_choose_repair__of_an_area() -> None:
    assert "pump" == shipped().causes[choose_repair(shipped(), 3, 1, {}, "pump").causes[0]].area
    with pytest.raises(UsageProblem, match="No published repair fits"):
        choose_repair(shipped(), 1, 1, {}, "pump")


def test_choose_repair__other_rules_have_none() -> None:
    with pytest.raises(UsageProblem, match="Leave --published out"):
        choose_repair(shipped().with_rules_alone(), 1, 1, {})


def test_find_repair__by_its_id() -> None:
    assert repair() == find_repair(shipped(), repair().id)
    with pytest.raises(UsageProblem, match='no published repair "X0"'):
        find_repair(shipped(), "X0")


def test_make_exercise__its_cause_and_its_signs_stand_as_they_were_published() -> None:
    expansion, vehicle = exercise().bench.compiled.expansion, exercise().vehicle
    assert [repair().causes[0]] == [expansion.causes[cause].template for cause in exercise().causes]
    shown = {
        key: expansion.findings[key].grades[vehicle.readings[key]] for key in repair().signs if key in vehicle.readings
    }
    assert shown and shown == {key: grade for key, grade in repair().signs.items() if key in shown}


def test_make_exercise__the_owner_says_it_as_it_stands_there() -> None:
    current = begin_round(exercise())
    assert [repair().told.rstrip(". ") + "."] == [
        one[:1].lower() + one[1:] if repair().told[0].islower() else one for one in introduce(current)
    ]
    assert set(exercise().vehicle.complaints) == set(current.work.state.evidence)
    assert repair().cause == exercise().report


def test_make_exercise__the_same_wish_gives_the_same_vehicle_and_another_seed_another() -> None:
    again = make_exercise(shipped(), exercise().wish)
    other = make_exercise(shipped(), Wish(repair().vehicle, LEVEL, SEED + 1, "", repair().id))
    assert (exercise().mark, exercise().causes) == (again.mark, other.causes)
    assert exercise().mark != other.mark


def test_make_exercise__without_a_repair_it_is_drawn_from_the_rules() -> None:
    assert "" == make_exercise(shipped(), Wish("long5", 1, 11)).report


def test_make_exercise__a_unit_that_cannot_have_the_cause() -> None:
    one = next(
        one
        for one in map(choose_published(shipped()).recall, range(1261))  # type: ignore[union-attr]
        if _is_fit(shipped(), one, 4, "cvt_belt_or_pulley")
    )
    with pytest.raises(UsageProblem, match="no such cause"):
        make_exercise(shipped(), Wish("long5", 4, 1, "", one.id))
