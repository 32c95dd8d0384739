"""What published repairs have taught: how it is kept, weighed, and laid over the rules."""

from zipfile import BadZipFile

import numpy as np
import pytest
from support.trade import rules_alone, shipped, unit_of

from shiftlore.cases import Answer, Case, Onset
from shiftlore.compiling import Lessons, compile_case, compile_unit, list_features, share_areas
from shiftlore.compiling.lessons import (
    FEW,
    FEW_WORDS,
    TRUST,
    TRUST_MEASURED,
    WORDS_COUNT,
    choose_lessons,
    choose_trust,
    from_bytes,
    lean,
    weigh_features,
)

NAMES = ("band_slips=yes", "slips=yes", "tag=fwd", "~in third", "~slips")
REPAIRS = (
    ((0, 2), "A1", ("worn_band",)),
    ((1, 4), "A2", ()),
    ((1, 2), "A3", ("worn_band", "pump_worn")),
)
SMALL = Lessons(NAMES, ("band", "pump"), np.zeros((5, 2)), np.zeros(2), np.array([3.0, 1.0, 1.0, 2.0, 2.0]), REPAIRS)
EVEN = np.array([0.5, 0.5])
ALONE = 3 / np.sqrt(9 + FEW)  # what the first feature counts if nothing else is told


def taught(**weights: tuple[float, float]) -> Lessons:
    rows = np.array([weights.get(name.partition("=")[0].lstrip("~"), (0.0, 0.0)) for name in NAMES])
    return Lessons(NAMES, SMALL.areas, rows, SMALL.base, SMALL.rarity, REPAIRS)


def test_weigh_features__words_and_all_else_have_a_length_each_and_few_of_them_a_part_of_it() -> None:
    row = weigh_features(SMALL, [0, 1, 3, 4])
    lengths = 10 / (10 + FEW), WORDS_COUNT**2 * 8 / (8 + FEW_WORDS)
    assert lengths == pytest.approx((float(row[:2] @ row[:2]), float(row[2:] @ row[2:])))
    assert row[0] == pytest.approx(3 * row[1])
    many = SMALL.vary(rarity=100 * SMALL.rarity)
    row = weigh_features(many, [0, 1, 3, 4])
    assert (1.0, WORDS_COUNT**2) == pytest.approx((float(row[:2] @ row[:2]), float(row[2:] @ row[2:])), rel=0.02)
    assert 0 == len(weigh_features(SMALL, []))


def test_find__only_what_is_known_in_order() -> None:
    assert [0, 4] == SMALL.find(["~slips", "never heard of", "band_slips=yes", "~slips"])


def test_weigh__with_nothing_learned_the_rules_are_trusted_by_a_power() -> None:
    """With TRUST 1 nothing would change; below, what the rules prefer is preferred less."""
    found = SMALL.weigh([], np.array([0.9, 0.1]))
    assert found[0] / found[1] == pytest.approx(9 ** (TRUST - 1))


def test_weigh__a_feature_that_speaks_for_an_area_raises_it() -> None:
    found = taught(band_slips=(2.0, 0.0)).weigh(["band_slips=yes"], EVEN)
    assert found[0] / found[1] == pytest.approx(np.exp(2.0 * ALONE))


def test_count_published__of_the_repairs_of_a_cause_how_many_name_a_sign() -> None:
    assert (2, {"band_slips=yes": 1, "slips=yes": 1, "tag=fwd": 2}) == SMALL.count_published("worn_band")
    assert (0, {}) == SMALL.count_published("worn")


def test_to_bytes__comes_back_as_it_was() -> None:
    back = from_bytes(taught(slips=(0.5, -0.25)).to_bytes())
    assert (NAMES, SMALL.areas, REPAIRS) == (back.features, back.areas, back.repairs)
    assert np.array_equal(taught(slips=(0.5, -0.25)).weights, back.weights)


def test_from_bytes__what_is_damaged_is_told() -> None:
    with pytest.raises(BadZipFile):
        from_bytes(SMALL.to_bytes()[:40])


def test_list_features__answers_life_kind_and_words() -> None:
    unit = compile_unit(shipped(), "step-fwd")
    case = Case(
        "step-fwd",
        130_000,
        {"usage": "towing"},
        onset=Onset(("engine_work",), "at_once"),
        said=("Slips in 3rd, badly",),
    )
    said = set(list_features(unit.expansion, unit.sheet, case, [Answer("slips_gear_3", "yes")]))
    assert {"slips_gear_3=yes", "slips_gear=yes", "usage=towing", "after=engine_work", "how=at_once", "tag=fwd"} <= said
    assert {"km=2", "~slips", "~in 3rd", "~3rd badly"} <= said


def test_list_features__a_condition_of_one_finding_tells_what_the_condition_tells() -> None:
    case = Case("step-fwd", findings={"slips": Answer("slips", "yes", when=("hot",))})
    compiled = compile_case(compile_unit(shipped(), "step-fwd"), case)
    said = set(list_features(compiled.expansion, compiled.unit.sheet, case, compiled.answers))
    assert {"worse_hot=yes", "slips=yes"} <= said


def test_share_areas__adds_causes_up() -> None:
    places = SMALL.place_areas(["pump", "band", "pump", "never learned"])
    assert [1, 0, 1, 2] == places.tolist()
    assert [0.2, 0.6, 0.2] == pytest.approx(share_areas(places, np.array([0.2, 0.1, 0.1, 0.1]), 2).tolist())


def test_lean__an_area_that_was_not_learned_keeps_its_weight() -> None:
    places = SMALL.place_areas(["pump", "band", "never learned"])
    found = lean(taught(band_slips=(2.0, 0.0)), places, ["band_slips=yes"], np.array([0.4, 0.4, 0.2]))
    assert 1.0 == found[2]
    assert found[1] / found[0] == pytest.approx(np.exp(2.0 * ALONE))


def test_choose_lessons__belong_to_the_shipped_rules_and_can_be_left_out() -> None:
    assert choose_lessons(shipped()) is choose_lessons(shipped()) is not None
    assert choose_lessons(rules_alone()) is None


def test_compile_case__leans_the_weights_and_nothing_without_answers() -> None:
    unit = unit_of("trans4")
    compiled = compile_case(unit, Case("trans4", findings={"slips": Answer("slips", "yes")}))
    assert compiled.leaned is not None and compiled.chances is not None
    expected = compiled.prepared.chances.weights * compiled.leaned
    assert np.allclose(expected / expected.sum(), compiled.chances.weights)
    assert compile_case(unit, Case("trans4")).leaned is None


def test_without_lessons__taking_them_back_gives_the_rules_alone() -> None:
    """By the rules alone the same case must come out as it does when the lean is divided out again."""
    case = Case("trans4", findings={"slips": Answer("slips", "yes"), "no_reverse": Answer("no_reverse", "no")})
    leaned = compile_case(unit_of("trans4"), case)
    alone = compile_case(compile_unit(rules_alone(), "trans4"), case)
    without = leaned.without_lessons()
    assert without is not None
    back = without * leaned.p_faults
    singles = slice(1, len(leaned.causes) + 1)
    mine, theirs = (p[singles] / p[singles].sum() for p in (back, alone.p_faults))
    assert np.allclose(mine, theirs, atol=0.02)


@pytest.mark.parametrize(
    ("answers", "expected"),
    [
        ({"slips": "yes"}, TRUST),
        ({"stall_speed": "low"}, TRUST_MEASURED),
        ({"stall_speed": "right"}, TRUST),
        ({"slips": "yes", "solenoid_short_to_case_sol_c": "yes"}, TRUST_MEASURED),
    ],
)
def test_choose_trust__what_a_gauge_or_the_open_unit_has_shown(answers: dict[str, str], expected: float) -> None:
    compiled = compile_case(unit_of("long5"), Case("long5", findings={k: Answer(k, v) for k, v in answers.items()}))
    assert expected == choose_trust(compiled.expansion, compiled.answers)
