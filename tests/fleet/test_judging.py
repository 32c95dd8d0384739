"""The posteriors of a fleet's row: those of the engine, and those that a ranking prints."""

import json
from typing import Any

import numpy as np
import pytest
from support.fleets import KEYS, draw_row, small_trade
from support.trade import shipped, unit_of

import shiftlore
from shiftlore.cases import Case
from shiftlore.compiling import compile_case
from shiftlore.fleet.judging import ChunkTask, JudgedChunk, judge_case, judge_chunk
from shiftlore.fleet.rows import FleetRow, cut_chunks
from shiftlore.knowledge import Knowledge
from shiftlore.reports.schemas import fleet_schema

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


GOOD = '{"unit": "long5", "findings": {"fluid_colour": "dark"}}'


def judge(*texts: str | bytes, knowledge: Knowledge | None = None, count: int = 3) -> JudgedChunk:
    rows = [FleetRow(i, text.encode() if isinstance(text, str) else text) for i, text in enumerate(texts, 1)]
    chunk = next(cut_chunks(rows))
    return judge_chunk(knowledge or small_trade(), ChunkTask(chunk, "f.jsonl", "", count))


def read(lines: bytes) -> list[dict[str, Any]]:
    return [json.loads(line) for line in lines.splitlines()]


def refused(text: str | bytes) -> dict[str, Any]:
    """Judge a bad row between two good ones, which go on; give what is told of it."""
    found = judge(GOOD, text, GOOD)
    assert [1, 3] == [row["row"] for row in read(found.results)]
    (bad,) = read(found.refused)
    assert 2 == bad["row"] and bad["problems"]
    assert all(problem["what"] and problem["write_instead"] for problem in bad["problems"])
    return bad


def test_judge_chunk__a_row_says_areas_causes_and_fit() -> None:
    (row,) = read(judge('{"id": 7, "unit": "long5", "findings": {"fluid_colour": "black"}}').results)
    assert (1, 7, "long5") == (row["row"], row["id"], row["unit"])
    assert "worn_pump" == row["causes"][0]["id"] and row["causes"][0]["probability"] > 0.5
    assert row["areas"][0]["probability"] >= row["areas"][-1]["probability"] > 0
    assert 0 < row["nothing_found"] < 1 and {"log10_odds", "left_out"} == set(row["fit"]) and [] == row["problems"]


def test_judge_chunk__fits_the_schema() -> None:
    jsonschema = pytest.importorskip("jsonschema")
    rows = [json.dumps(draw_row("long5", seed, key=key)) for seed, key in ((1, "plain"), (2, "doubt"), (3, "done"))]
    found = read(judge(*rows, knowledge=shipped()).results)
    for row in found:
        jsonschema.Draft202012Validator(fleet_schema()).validate(row)
    assert [f"long5-{seed}" for seed in (1, 2, 3)] == [row["id"] for row in found]


def test_judge_chunk__half_a_letter_is_refused() -> None:
    """JSON may hold it and UTF-8 may not."""
    bad = refused('{"id": "a\\ud800b", "unit": "long5", "findings": {"fluid_colour": "black"}}')
    assert "U+D800" in bad["problems"][0]["what"] and "\\ud800" in bad["given"]


def test_judge_chunk__so_many_causes_as_are_asked_for() -> None:
    text = json.dumps(draw_row("long5", 4))
    assert [1, 25] == [
        len(read(judge(text, knowledge=shipped(), count=count).results)[0]["causes"]) for count in (1, 25)
    ]


def test_judge_chunk__ids_may_stand_twice_and_be_texts_or_whole_numbers() -> None:
    texts = [f'{{"id": {value}, "unit": "long5"}}' for value in ('"a"', '"a"', "3", "null", "-4")]
    assert ["a", "a", 3, None, -4] == [row.get("id") for row in read(judge(*texts).results)]


@pytest.mark.parametrize("value", ["[]", "{}", '"' + "a" * 300 + '"'])
def test_judge_chunk__an_id_that_is_no_short_text_is_told(value: str) -> None:
    assert (
        "The id of the row is no short text." == refused(f'{{"id": {value}, "unit": "long5"}}')["problems"][0]["what"]
    )


@pytest.mark.parametrize(
    "text",
    [
        '{"unit": "long5", "odometer_km": NaN}',
        '{"unit": "long5", "odometer_km": 1e999}',
        '{"unit": "long5", "odometer_km": -5}',
        '{"unit": "long5", "odometer_km": "many"}',
        '{"unit": "long9"}',
        '{"unit": 5}',
        '{"unit": ["long5"]}',
        "{}",
        '{"unit": "long5", "findings": []}',
        '{"unit": "long5", "findings": {"fluid_colour": {"is": {"is": "dark"}}}}',
        '{"unit": "long5", "findings": {"fluid_colour": "blue"}}',
        '{"unit": "long5", "no_such_key": 1}',
        '{"unit": "long5", "unit": "long5"}',
        '{"unit": "long5", "note": "\\u202e"}',
        b'{"unit": "long5", "note": "\xff\xfe"}',
        '{"unit": "own.yaml"}',
        '{"unit": "long5", "done": [{"job": "overhaul", "result": "cured", "after_km": "x"}]}',
        '{"unit": "long5", "speeds": 1e300}',
        "not json",
        '"text"',
        '{"unit": "long5", "findings": ' + "[" * 5000 + "]" * 5000 + "}",
    ],
)
def test_judge_chunk__a_bad_row_is_told_and_the_others_go_on(text: str | bytes) -> None:
    bad = refused(text)
    assert "error" in {problem["severity"] for problem in bad["problems"]}
    assert bad["given"]


def test_judge_chunk__what_was_odd_but_could_be_used_is_told_with_the_result() -> None:
    (row,) = read(judge('{"unit": "long5", "findings": {"P0999": "yes"}}').results)
    assert ["C032", "warning"] == [row["problems"][0][key] for key in ("code", "severity")]


def test_judge_chunk__answers_that_cannot_all_be_true_are_told(monkeypatch: pytest.MonkeyPatch) -> None:
    from shiftlore.basics import ImpossibleEvidence

    def refuse(unit: object, case: object) -> None:
        raise ImpossibleEvidence(("a", "b"))

    monkeypatch.setattr("shiftlore.fleet.judging.judge_case", refuse)
    (bad,) = read(judge(GOOD).refused)
    assert "These answers cannot all be true together: a, b." == bad["problems"][0]["what"]
    assert "Take one of them back" in bad["problems"][0]["write_instead"]


def test_judge_chunk__a_chunk_is_the_same_bytes_each_time() -> None:
    assert judge(GOOD, "{").results == judge(GOOD, "{").results
