"""The posteriors of a fleet's row: those of the engine, and those that a ranking prints."""

import json

import numpy as np
import pytest
from support.fleets import KEYS, draw_row
from support.trade import shipped, unit_of

import shiftlore
from shiftlore.cases import Case
from shiftlore.compiling import compile_case
from shiftlore.fleet.verdicts import judge_case

UNITS = ("long5", "trans6", "cvt")
CLOSE = 1e-9


def case_of(unit: str, seed: int, **more: object) -> Case:
    """Read a drawn row as a case."""
    row = draw_row(unit, seed, **more)  # type: ignore[arg-type]
    row.pop("id")
    return shiftlore.read_case(json.dumps(row), shipped())


def compare_with_engine(unit: str, case: Case) -> None:
    """Hold a verdict against the engine of the opened faults, asked without what was worked out in opening them."""
    compiled, found = compile_case(unit_of(unit), case), judge_case(unit_of(unit), case)
    p = compiled.carry_over(compiled.engine.posterior(compiled.evidence)[0])
    assert compiled.faults.sum_over_causes(p) == pytest.approx(np.array([*found.causes.values()]), abs=CLOSE)
    assert float(p[0]) == pytest.approx(found.nothing_found, abs=CLOSE)


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("key", KEYS)
def test_judge_case__equals_the_engine_whatever_a_row_says(unit: str, key: str) -> None:
    for seed in range(2):
        compare_with_engine(unit, case_of(unit, 10 * seed + len(key), key=key))


@pytest.mark.parametrize(("telling", "sound"), [(1, 0), (0, 3), (2, 1), (3, 5), (6, 10), (9, 20)])
def test_judge_case__equals_the_engine_for_few_answers_and_many(telling: int, sound: int) -> None:
    for seed in range(4):
        compare_with_engine("long5", case_of("long5", 100 + seed, telling=telling, sound=sound))


@pytest.mark.parametrize("key", ["plain", "doubt", "done"])
def test_judge_case__equals_rank_itself(key: str) -> None:
    case = case_of("long5", 7, key=key)
    ranking, found = shiftlore.rank(shipped(), case), judge_case(unit_of("long5"), case)
    assert {one.id: one.probability for one in ranking.causes} == pytest.approx(found.causes, abs=CLOSE)
    assert {one.area: one.probability for one in ranking.areas} == pytest.approx(found.areas, abs=CLOSE)
    assert ranking.nothing_found == pytest.approx(found.nothing_found, abs=CLOSE)
    assert ranking.fit.log10_odds == pytest.approx(found.log10_odds, abs=CLOSE)


def test_judge_case__without_answers_it_is_what_is_common() -> None:
    found, ranking = judge_case(unit_of("long5"), Case("long5")), shiftlore.rank(shipped(), Case("long5"))
    assert {one.id: one.probability for one in ranking.causes} == pytest.approx(found.causes, abs=CLOSE)
    assert 0.0 == found.log10_odds == found.left_out


def test_judge_case__a_cured_vehicle_is_closed() -> None:
    case = shiftlore.read_case(
        '{"unit": "long5", "findings": {"slips": "yes"}, "done": [{"job": "converter_exchange_job", "result": "cured"}]}',
        shipped(),
    )
    assert "converter_exchange_job" == judge_case(unit_of("long5"), case).closed


def test_judge_case__areas_and_causes_stand_in_the_order_of_the_rules() -> None:
    found = judge_case(unit_of("long5"), case_of("long5", 3))
    assert list(shipped().areas) == list(found.areas)
    assert list(unit_of("long5").expansion.causes) == list(found.causes)
    assert set(found.area_of.values()) <= set(found.areas)
