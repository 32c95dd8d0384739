"""What cases of one unit share, against what a single case makes anew."""

import json

import numpy as np
import pytest
from support.fleets import KEYS, LIVES, draw_row
from support.trade import make_case, shipped, unit_of

import shiftlore
from shiftlore.cases import Case
from shiftlore.compiling import compile_case
from shiftlore.fleet.grounds import Grounds

CLOSE = 1e-12
READABLE = tuple(key for key in KEYS if key not in ("either", "when", "done"))


def case_of(seed: int, key: str = "plain") -> Case:
    row = draw_row("long5", seed, key=key)
    row.pop("id")
    return shiftlore.read_case(json.dumps(row), shipped())


@pytest.mark.parametrize("key", READABLE)
def test_set_out__shares_and_evidence_are_those_of_a_single_case(key: str) -> None:
    case = case_of(11, key)
    compiled, setting = compile_case(unit_of("long5"), case), Grounds(unit_of("long5")).set_out(case)
    assert compiled.prepared.chances.weights == pytest.approx(setting.chances.weights, abs=CLOSE)
    assert list(compiled.evidence) == list(setting.evidence)
    for found, wanted in zip(setting.evidence.values(), compiled.evidence.values(), strict=True):
        assert repr(wanted) == repr(found) or wanted.imagined == pytest.approx(found.imagined, rel=1e-9)  # type: ignore[union-attr]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_lean__is_that_of_a_single_case(seed: int) -> None:
    case, grounds = case_of(seed), Grounds(unit_of("long5"))
    compiled, setting = compile_case(unit_of("long5"), case), grounds.set_out(case)
    likelihood = np.exp(compiled.prepared.single.weigh(compiled.evidence))[1:]
    assert compiled.chances.weights == pytest.approx(grounds.lean(setting, likelihood).weights, abs=CLOSE)


def test_lean__without_lessons_nothing_moves() -> None:
    from shiftlore.compiling import compile_unit

    grounds = Grounds(compile_unit(shipped().with_rules_alone(), "long5"))
    setting = grounds.set_out(case_of(1))
    assert setting.chances is grounds.lean(setting, np.ones(len(setting.chances.weights)))


def test_ground__a_distance_makes_no_new_tables() -> None:
    grounds = Grounds(unit_of("long5"))
    answers = {"slips": "yes"}
    found = {id(grounds.set_out(make_case("long5", answers, odometer_km=km)).ground) for km in (1e4, 1e5, 2e5)}
    assert 1 == len(found)


def test_ground__a_background_that_raises_a_leak_makes_some() -> None:
    grounds = Grounds(unit_of("long5"))
    found = {id(grounds.set_out(make_case("long5", {"slips": "yes"}, background=life)).ground) for life in LIVES}
    assert 3 <= len(found) <= len(LIVES)


def test_ground__tables_are_those_of_a_single_case() -> None:
    case = make_case("long5", {"slips": "yes", "worse_hot": "yes"}, background=LIVES[1])
    ground, single = Grounds(unit_of("long5")).set_out(case).ground, unit_of("long5").prepare(case).single.tables
    assert single.p_hidden == pytest.approx(ground.p_hidden, abs=CLOSE)
    for key, gate in single.gates.items():
        assert gate.cum_root == pytest.approx(ground.tables.gates[key].cum_root, abs=CLOSE)


def test_reach__is_how_often_a_sign_shows() -> None:
    case = make_case("long5", {"slips": "yes"}, odometer_km=90_000.0)
    prepared, setting = unit_of("long5").prepare(case), Grounds(unit_of("long5")).set_out(case)
    prior = prepared.single.tables.prior
    assert prepared.how_often("slips", 1) == pytest.approx(float(setting.ground.reach("slips")[1] @ prior), rel=1e-9)


def test_grounds__no_more_tables_are_kept_than_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shiftlore.fleet.grounds.GROUNDS_KEPT", 1)
    monkeypatch.setattr("shiftlore.fleet.grounds.PIECES_KEPT", 1)
    grounds = Grounds(unit_of("long5"))
    for life in LIVES:
        grounds.set_out(make_case("long5", {"slips": "yes", "worse_hot": "yes"}, background=life))
    assert 1 == len(grounds._grounds)
    assert 1 == len(next(iter(grounds._grounds.values()))._pieces)
