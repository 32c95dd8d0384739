"""Every posterior of a fleet equals that of a ranking, whatever a row says."""

import json

import pytest
from support.fleets import KEYS, draw_row
from support.trade import make_case, shipped, unit_of

import shiftlore
from shiftlore.cases import Case
from shiftlore.fleet.column_sums import TooHard
from shiftlore.fleet.verdicts import Judge, Verdict

UNITS = ("long5", "trans6", "cvt")
CLOSE = 1e-9
LEFT_CLOSE = 1e-6
"""What is left out is a bound, worked out in single precision."""
JUDGES: dict[str, Judge] = {}


def judge_of(unit: str) -> Judge:
    """Give a unit's judge, made once."""
    if unit not in JUDGES:
        JUDGES[unit] = Judge(unit_of(unit))
    return JUDGES[unit]


def case_of(unit: str, seed: int, **more: object) -> Case:
    """Read a drawn row as a case."""
    row = draw_row(unit, seed, **more)  # type: ignore[arg-type]
    row.pop("id")
    return shiftlore.read_case(json.dumps(row), shipped())


def compare(wanted: Verdict, found: Verdict) -> None:
    """Hold two verdicts against each other."""
    assert wanted.causes == pytest.approx(found.causes, abs=CLOSE)
    assert wanted.areas == pytest.approx(found.areas, abs=CLOSE)
    assert wanted.nothing_found == pytest.approx(found.nothing_found, abs=CLOSE)
    assert wanted.log10_odds == pytest.approx(found.log10_odds, abs=CLOSE)
    assert wanted.left_out == pytest.approx(found.left_out, abs=LEFT_CLOSE)


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("key", KEYS)
def test_judge__equals_the_engine_whatever_a_row_says(unit: str, key: str) -> None:
    judge = judge_of(unit)
    for seed in range(2):
        case = case_of(unit, 10 * seed + len(key), key=key)
        compare(judge.judge_alone(case), judge.judge(case))


@pytest.mark.parametrize(("telling", "sound"), [(1, 0), (0, 3), (2, 1), (3, 5), (6, 10), (9, 20)])
def test_judge__equals_the_engine_for_few_answers_and_many(telling: int, sound: int) -> None:
    judge, fast = judge_of("long5"), 0
    for seed in range(8):
        case = case_of("long5", 100 + seed, telling=telling, sound=sound)
        try:
            found = judge._judge_fast(case)
        except TooHard:
            continue
        fast += 1
        compare(judge.judge_alone(case), found)
    assert 4 <= fast


@pytest.mark.parametrize("key", ["plain", "doubt", "done"])
def test_judge__equals_rank_itself(key: str) -> None:
    case = case_of("long5", 7, key=key)
    ranking, found = shiftlore.rank(shipped(), case), judge_of("long5").judge(case)
    assert {one.id: one.probability for one in ranking.causes} == pytest.approx(found.causes, abs=CLOSE)
    assert {one.area: one.probability for one in ranking.areas} == pytest.approx(found.areas, abs=CLOSE)
    assert ranking.nothing_found == pytest.approx(found.nothing_found, abs=CLOSE)
    assert ranking.fit.log10_odds == pytest.approx(found.log10_odds, abs=CLOSE)


def test_judge__without_answers_it_is_what_is_common() -> None:
    found, compiled = judge_of("long5").judge(Case("long5")), shiftlore.rank(shipped(), Case("long5"))
    assert {one.id: one.probability for one in compiled.causes} == pytest.approx(found.causes, abs=CLOSE)
    assert 0.0 == found.log10_odds == found.left_out


def test_judge__a_cured_vehicle_is_closed() -> None:
    case = shiftlore.read_case(
        '{"unit": "long5", "findings": {"slips": "yes"}, "done": [{"job": "converter_exchange_job", "result": "cured"}]}',
        shipped(),
    )
    assert "converter_exchange_job" == judge_of("long5").judge(case).closed


def test_judge__the_same_answers_at_another_distance_are_bounded_once() -> None:
    judge = Judge(unit_of("long5"))
    answers = {"slips": "yes", "fluid_smell_burnt": "yes", "fluid_colour": "dark"}
    for km in (50_000.0, 150_000.0, 250_000.0):
        case = make_case("long5", answers, odometer_km=km)
        compare(judge.judge_alone(case), judge.judge(case))
    assert 1 == len(judge._bounds)


def test_judge__areas_and_causes_stand_in_the_order_of_the_rules() -> None:
    found = judge_of("long5").judge(case_of("long5", 3))
    assert list(shipped().areas) == list(found.areas)
    assert list(unit_of("long5").expansion.causes) == list(found.causes)
    assert set(found.area_of.values()) <= set(found.areas)
