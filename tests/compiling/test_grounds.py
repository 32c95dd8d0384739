"""What cases of one unit share: tables by leaks, shares by distance and life, bounds by answers."""

import numpy as np
import pytest
from support.fleets import LIVES, draw_evidence
from support.trade import make_case, small_unit, unit_of

from shiftlore.compiling import CompiledUnit, Prepared
from shiftlore.compiling.faults import NONE
from shiftlore.compiling.gates import build_tables
from shiftlore.compiling.grounds import BOUNDS_KEPT, GROUNDS_KEPT, Ground, Grounds
from shiftlore.compiling.priors import background_factor, list_lived, wear_factor

CLOSE = 1e-12


def prepare(unit: CompiledUnit, **more: object) -> Prepared:
    """Prepare a case that says nothing but its life."""
    return unit.prepare(make_case("long5", {}, **more))


def grounds_of(unit: CompiledUnit) -> Grounds:
    return Grounds(unit.knowledge, unit.expansion, unit.arrays)


def test_of_life__a_distance_makes_no_new_tables() -> None:
    found = {id(prepare(unit_of("long5"), odometer_km=km).ground) for km in (1e4, 1e5, 2e5)}
    assert 1 == len(found)


def test_of_life__a_background_that_raises_a_leak_makes_some() -> None:
    found = {id(prepare(unit_of("long5"), background=life).ground) for life in LIVES}
    assert 3 <= len(found) <= len(LIVES)


def test_of_life__tables_are_those_that_the_life_makes() -> None:
    unit, case = unit_of("long5"), make_case("long5", {}, background=LIVES[1])
    lived, names = list_lived(unit.knowledge, case), (NONE, *unit.expansion.causes)
    wanted = build_tables(unit.arrays, lived, unit.knowledge.backgrounds, np.full(len(names), 1 / len(names)), names)
    found = unit.prepare(case).single.tables
    assert wanted.p_hidden == pytest.approx(found.p_hidden, abs=CLOSE)
    for key, gate in wanted.gates.items():
        assert gate.cum_root == pytest.approx(found.gates[key].cum_root, abs=CLOSE)


def test_weigh__distance_and_use_multiply() -> None:
    unit, place = small_unit(), list(small_unit().expansion.causes).index("worn_pump")
    lives: tuple[dict[str, dict[str, float]], ...] = ({}, {"usage": {"towing": 1.0}})
    plain, far, towed = (
        float(grounds_of(unit).weigh((km,), life)[place])
        for km, life in ((150_000.0, lives[0]), (300_000.0, lives[0]), (300_000.0, lives[1]))
    )
    assert 2**1.2 == pytest.approx(far / plain, rel=1e-12)
    assert 1.8 / (0.9 + 0.1 * 1.8) == pytest.approx(towed / far, rel=1e-12)


@pytest.mark.parametrize("distances", [(), (30_000.0,), (90_000.0, 250_000.0)])
def test_weigh__every_cause_by_its_own_numbers(distances: tuple[float, ...]) -> None:
    """By hand, one cause at a time: base rate, mean of the wear factors, hazard ratios."""
    unit, case = unit_of("long5"), make_case("long5", {}, background=LIVES[2])
    lived, knowledge = list_lived(unit.knowledge, case), unit.knowledge
    wanted = [
        one.share
        * np.mean([wear_factor(km, one.cause.wear, knowledge.words.reference_km) for km in distances or (None,)])
        * background_factor(one.cause.raised_by, lived, knowledge.backgrounds)
        for one in unit.expansion.causes.values()
    ]
    assert wanted == pytest.approx(grounds_of(unit).weigh(distances, lived).tolist(), rel=1e-12)


def test_reach__is_how_often_a_sign_shows() -> None:
    prepared = prepare(unit_of("long5"), odometer_km=90_000.0)
    table = prepared.single.predict({}, ("slips",))["slips"]
    assert float(table[1:].sum(axis=0) @ prepared.prior) == pytest.approx(prepared.how_often("slips", 1), rel=1e-9)


def test_bound__the_same_answers_are_bounded_once() -> None:
    ground, evidence = Ground(prepare(unit_of("long5")).single), draw_evidence(1)
    first = ground.bound(evidence)
    assert first is ground.bound(dict(evidence)) is not ground.bound({**evidence, "slips": 1})
    ground.forget()
    assert first is not ground.bound(evidence)


def test_grounds__no_more_is_kept_than_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    assert 1 <= GROUNDS_KEPT and 1 <= BOUNDS_KEPT
    monkeypatch.setattr("shiftlore.compiling.grounds.GROUNDS_KEPT", 1)
    monkeypatch.setattr("shiftlore.compiling.grounds.BOUNDS_KEPT", 1)
    unit = unit_of("long5")
    grounds = grounds_of(unit)
    for life in LIVES:
        ground = grounds.of_life(list_lived(unit.knowledge, make_case("long5", {}, background=life)))
        for answers in ({"slips": 1}, {"worse_hot": 1}):
            ground.bound(answers)
    assert [1, 1] == [len(grounds._grounds), len(ground._bounds)]
