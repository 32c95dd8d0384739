"""What published repairs and judged vehicles teach, and the arrays that come with the program."""

import os
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from support.judged import Judged, read_judged
from support.lesson_learning import (
    SHARPNESS,
    SOUND_COUNTS,
    SOUND_SEEN_AT_LEAST,
    Example,
    Gatherer,
    cross_validate,
    features_said,
    fit_lessons,
    judge,
    keep_repairs,
    sound_said,
)
from support.trade import ROOT, compiled_of, shipped

from shiftlore.cases import Answer, Case
from shiftlore.compiling.lessons import FEW, SHIPPED_PATH, TRUST, TRUST_MEASURED, choose_lessons, from_bytes
from shiftlore.repairs import read_repairs
from shiftlore.repairs.confirmed import Repair

FOLDER = ROOT / "tests" / "repairs"
AREAS = ("pump", "band", "other")
RULES = np.log(np.array([0.5, 0.3, 0.2]))


def share(log_odds: np.ndarray) -> np.ndarray:
    """Turn logarithms into shares."""
    return np.exp(log_odds) / np.exp(log_odds).sum()


def example(said: str, area: str, source: str = "a", weight: float = 1.0) -> Example:
    return Example(tuple(said.split()), RULES, np.array([float(one == area) for one in AREAS]), weight, source)


def test_fit_lessons__with_nothing_to_learn_it_stays_at_the_rules_so_far_as_they_are_trusted() -> None:
    one = Example(("a", "b"), RULES, share(TRUST / SHARPNESS * RULES), 1.0, "")
    assert np.allclose(share(TRUST * RULES), judge(fit_lessons(AREAS, [one, one]), one), atol=1e-4)


def test_fit_lessons__a_sign_that_goes_with_an_area_raises_it_and_a_ridge_holds_it_back() -> None:
    examples = [*(example("x", "band") for _ in range(8)), *(example("y", "pump") for _ in range(8))]
    loose, tight = (fit_lessons(AREAS, examples, ridge=ridge) for ridge in (0.01, 10.0))
    taught = [judge(lessons, example("x", "band"))[1] for lessons in (loose, tight)]
    assert taught[0] > 0.9 > taught[1] > 0.3
    assert judge(loose, example("z", "band")) == pytest.approx(judge(loose, example("", "band")))


def test_fit_lessons__agrees_with_scikit_learn() -> None:
    """Outside check: `sklearn.linear_model.LogisticRegression` minimises the same loss where rules and base are even."""
    from sklearn.linear_model import LogisticRegression

    rng = np.random.default_rng(5)
    even = np.zeros(3)
    examples = []
    for _ in range(60):
        said = tuple(name for name in "abcdef" if rng.random() < 0.5) or ("a",)
        area = rng.choice(3, p=[0.7, 0.2, 0.1] if "a" in said else [0.1, 0.2, 0.7])
        examples.append(Example(said, even, np.eye(3)[area], 1.0, ""))
    lessons = fit_lessons(AREAS, examples, ridge=1.0)
    rows = np.zeros((60, len(lessons.features)))
    for row, one in zip(rows, examples, strict=True):
        places = lessons.find(one.said)
        row[places] = lessons.rarity[places]
        row /= np.sqrt(row @ row + FEW)
    theirs = LogisticRegression(C=1.0, fit_intercept=False, tol=1e-8, max_iter=1000)
    theirs.fit(np.hstack([rows, np.ones((60, 1))]), [int(one.target.argmax()) for one in examples])
    ours = np.array([judge(lessons, one) for one in examples])
    scores = SHARPNESS * theirs.decision_function(np.hstack([rows, np.ones((60, 1))]))
    assert np.allclose([share(row) for row in scores], ours, atol=0.02)


def test_cross_validate__no_source_judges_itself() -> None:
    """Of one source all say band on a sign that nobody else has: kept aside, the sign has taught nothing."""
    groups = [[example("x", "band", "one")] for _ in range(5)] + [[example("y", "pump", f"p{i}")] for i in range(5)]
    shares = cross_validate(AREAS, groups, [], folds=3)
    assert shares[0][1] < 0.5 < judge(fit_lessons(AREAS, [one for group in groups for one in group]), groups[0][0])[1]


def test_gatherer__a_repair_and_what_it_was() -> None:
    gatherer = Gatherer(shipped())
    (one,) = gatherer.learn_from_repair(Repair("A", "s", "bulletin", "step-fwd", ("slips in third",), ("band",)))
    assert {"slips_gear=yes", "tag=fwd", "~slips", "~in third"} <= set(one.said)
    assert (1.0, "s") == (one.target[gatherer.areas.index("band")], one.source)
    assert np.exp(one.rules).sum() == pytest.approx(1, abs=1e-4)


def test_gatherer__an_entered_repair_is_learned_with_all_its_words_with_some_and_with_none(tmp_path: Path) -> None:
    entered = tmp_path / "A.yaml"
    entered.write_text("shiftlore: 1\nunit: step\nspeeds: 4\nfindings: {slips: yes}\nnote: It lurches.\n")
    repair = Repair("A", "s", "repair", "step", ("it lurches and slips in third",), ("band",), entered=entered)
    noted, bare, told, read = Gatherer(shipped()).learn_from_repair(repair)
    assert all("slips=yes" in one.said and "speeds=4" in one.said for one in (noted, bare, told))
    assert {"~lurche", "~it lurche"} == {name for name in noted.said if name.startswith("~")} - {"~it"}
    assert not any(name.startswith("~") for name in bare.said)
    assert {"~slips in", "~in third"} <= set(told.said) & set(read.said)
    assert 1 == sum(one.weight for one in (noted, bare, told, read))


def test_gatherer__judged_vehicles_are_the_mean_of_their_readers() -> None:
    case = Case("step", findings={"slips": Answer("slips", "yes")})
    gatherer = Gatherer(shipped())
    (one,) = gatherer.learn_from_judged(Judged("J", case, ({"band": 0.6, "pump": 0.4}, {"band": 0.2, "pump": 0.8})))
    assert (0.4, 0.6) == pytest.approx(tuple(one.target[gatherer.areas.index(area)] for area in ("band", "pump")))


def test_keep_repairs__with_what_was_said() -> None:
    repairs = [
        Repair(
            "A", "", "repair", "step", ("the fluid looks like strawberry milk",), ("coolant_in_fluid",), "cooler split"
        ),
        Repair("B", "", "repair", "step", ("a howl that follows the road speed",), ("gearset_or_bearing",), "bearing"),
    ]
    gatherer = Gatherer(shipped())
    groups = [gatherer.learn_from_repair(repair) for repair in repairs]
    examples = [one for group in groups for one in group]
    lessons = keep_repairs(fit_lessons(gatherer.areas, [*examples, *examples]), repairs, groups)
    kept = from_bytes(lessons.to_bytes()).repairs
    assert ["A", "B"] == [name for _, name, _ in kept]
    named = [{lessons.features[place] for place in places} for places, *_ in kept]
    assert "~howl" in named[1] and "~howl" not in named[0]


@cache
def lists() -> tuple[tuple[Repair, ...], tuple[Judged, ...]]:
    knowledge = shipped()
    judged = read_judged(FOLDER / "judged", knowledge.areas, knowledge.sheets)
    return read_repairs(FOLDER, knowledge), judged


def test_the_lists__are_read_without_a_problem_and_are_many() -> None:
    repairs, judged = lists()
    assert len(repairs) >= 800
    assert len(judged) >= 1600
    assert all(len(repair.source.rpartition("sha1 ")[2]) == 10 for repair in repairs)


def test_shipped_lessons__speak_of_what_the_knowledge_knows() -> None:
    lessons = choose_lessons(shipped())
    assert lessons is not None
    assert set(lessons.areas) == set(shipped().areas)
    names = {name.partition("=")[0] for name in lessons.features[: lessons.first_word]}
    known = {*shipped().findings, *shipped().backgrounds, "tag", "km", "after", "how", "speeds", "layout"}
    whole = {name for name in names if name not in known}
    assert all(any(name.startswith(f"{record}_") for record in shipped().findings) for name in whole)


def test_shipped_lessons__hold_every_repair_of_the_lists() -> None:
    lessons = choose_lessons(shipped())
    assert lessons is not None
    assert {repair.id for repair in lists()[0]} == {name for _, name, _ in lessons.repairs}


@pytest.mark.skipif(not os.environ.get("SHIFTLORE_REGENERATE"), reason="learns anew: two to three minutes")
def test_fit_lessons__anew_from_the_lists() -> None:
    repairs, judged = lists()
    gatherer = Gatherer(shipped())
    groups = [gatherer.learn_from_repair(repair) for repair in repairs]
    examples = [one for group in groups for one in group]
    examples += [one for vehicle in judged for one in gatherer.learn_from_judged(vehicle)]
    examples += gatherer.learn_from_cards()
    lessons = keep_repairs(fit_lessons(gatherer.areas, examples), repairs, groups)
    SHIPPED_PATH.write_bytes(lessons.to_bytes())


def test_fit_lessons__what_is_said_to_be_right_in_few_vehicles_teaches_nothing() -> None:
    """Of a lever that feels right few write, and mostly where the trouble lay near it."""
    sound = frozenset({"feel=no"})
    few = [replace(example("feel=no", "band"), sound=sound) for _ in range(SOUND_SEEN_AT_LEAST - 1)]
    other = [example("y", "pump") for _ in range(8)]
    assert "feel=no" not in fit_lessons(AREAS, [*few, *other]).features
    assert "feel=no" in fit_lessons(AREAS, [*few, few[0], *other]).features
    told = [replace(one, said=("feel=yes",)) for one in few]
    assert "feel=yes" in fit_lessons(AREAS, [*told, *other]).features


def test_gatherer__names_what_is_said_to_be_right() -> None:
    answers = {"slips_gear_2": "no", "fluid_level": "right", "slips_gear_3": "yes"}
    said = features_said(compiled_of(answers, odometer_km=90_000.0))
    sound = sound_said(compiled_of(answers, odometer_km=90_000.0))
    assert {"slips_gear_2=no", "slips_gear=no", "fluid_level=right"} == sound <= set(said)


def test_fit_lessons__what_is_right_counts_for_less_than_what_was_found() -> None:
    sound = frozenset({"feel=no"})
    many = [replace(example("feel=no", "band"), sound=sound) for _ in range(SOUND_SEEN_AT_LEAST)]
    lessons = fit_lessons(AREAS, [*many, *(example("slip=yes", "pump") for _ in range(SOUND_SEEN_AT_LEAST))])
    rarity = dict(zip(lessons.features, lessons.rarity.tolist(), strict=True))
    assert SOUND_COUNTS * rarity["slip=yes"] == pytest.approx(rarity["feel=no"])


def test_judge__what_was_measured_makes_the_rules_count_for_more() -> None:
    one = example("x", "pump")
    lessons = fit_lessons(AREAS, [one, one])
    told, measured = (judge(lessons, replace(one, trust=trust)) for trust in (TRUST, TRUST_MEASURED))
    assert np.argmax(RULES) == 0
    assert measured[0] / measured[2] > told[0] / told[2]
