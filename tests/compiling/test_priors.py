"""Base rates, wear and the vehicle's life."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import compiled_of, p_area, shipped

from shiftlore.cases import Answer, Case, Onset
from shiftlore.compiling import wear_factor
from shiftlore.compiling.priors import (
    LARGEST_WEAR,
    SMALLEST_WEAR,
    background_factor,
    list_distances,
    list_lived,
    with_told_distance,
)
from shiftlore.knowledge import Background, Raise

# Weibull (slope, scale in hours) and the share of each part in failures at a distance, at 40 km/h on average.
# Source: competing risks, share proportional to the hazard; worked out apart from this program.
HAZARDS = {"solenoid": (1.1, 75_000), "clutch": (2.0, 9_000), "bearing": (1.3, 50_000), "seal": (1.4, 25_000)}
SHARES = {
    50_000: (0.1473467, 0.4669594, 0.1300707, 0.2556232),
    100_000: (0.09936759, 0.5876388, 0.1007604, 0.2122333),
    200_000: (0.06317182, 0.6971337, 0.07358248, 0.166112),
}
# Mean lives from a published Weibull data base (Barringer; Bloch & Geitner): slope, scale and mean in hours.
MEANS = [(1.1, 75_000, 72_368), (1.2, 35_000, 32_923), (1.0, 100_000, 100_000), (1.2, 100_000, 94_066)]


@pytest.mark.parametrize("distance_km", [50_000, 200_000])
def test_wear_factor__shifts_shares_as_competing_risks_do(distance_km: int) -> None:
    at_reference = np.array(SHARES[100_000])
    factors = [wear_factor(distance_km, slope, 100_000) for slope, _ in HAZARDS.values()]
    shares = at_reference * factors
    assert SHARES[distance_km] == pytest.approx(shares / shares.sum(), abs=1e-6)


@pytest.mark.parametrize("distance_km", sorted(SHARES))
def test_wear_factor__is_the_hazard_that_the_shares_rest_on(distance_km: int) -> None:
    """With the scale as reference, slope/scale times the factor is the hazard."""
    hours = distance_km / 40
    slopes = HAZARDS.values()
    hazards = np.array([slope / scale * wear_factor(hours * 20, slope, scale * 20) for slope, scale in slopes])
    assert SHARES[distance_km] == pytest.approx(hazards / hazards.sum(), abs=1e-6)


@pytest.mark.parametrize(("slope", "scale", "mean"), MEANS)
def test_wear_factor__lives_by_its_hazard_last_as_long_as_published(slope: float, scale: float, mean: float) -> None:
    """To 2 %: below 3,000 the factor no longer falls."""
    hours = np.linspace(0, 600_000, 20_001)
    hazard = slope / scale * np.array([wear_factor(float(hour), slope, scale) for hour in hours])
    step = hours[1]
    survival = np.exp(-np.concatenate([[0], np.cumsum((hazard[1:] + hazard[:-1]) / 2 * step)]))
    assert mean == pytest.approx(float(np.trapezoid(survival, hours)), rel=0.02)
    assert mean == pytest.approx(scale * math.gamma(1 + 1 / slope), rel=1e-5)


def test_wear_factor__an_unknown_distance_changes_nothing() -> None:
    assert 1.0 == wear_factor(None, 2.2, 150_000)


@given(st.floats(0, 3e6), st.floats(0.5, 3))
def test_wear_factor__stays_within_its_limits(distance_km: float, slope: float) -> None:
    assert SMALLEST_WEAR <= wear_factor(distance_km, slope, 150_000) <= LARGEST_WEAR


@given(st.floats(3_000, 600_000), st.floats(3_000, 600_000))
def test_wear_factor__what_wears_grows_with_distance(first_km: float, second_km: float) -> None:
    low, high = sorted((first_km, second_km))
    assert wear_factor(low, 1.5, 150_000) <= wear_factor(high, 1.5, 150_000)
    assert wear_factor(low, 0.7, 150_000) >= wear_factor(high, 0.7, 150_000)


def usage(*shares: float) -> dict[str, Background]:
    """Make one background with some answers."""
    named = {f"a{i}": share for i, share in enumerate(shares)}
    return {"usage": Background("usage", "Use", "How?", named, {}, (), "judgement")}


@given(st.floats(0.05, 0.95), st.floats(0.2, 10))
def test_background_factor__averages_to_one_over_all_vehicles(share: float, ratio: float) -> None:
    backgrounds = usage(1 - share, share)
    raises = (Raise("usage", "a1", ratio),)
    mean = sum(
        p * background_factor(raises, {"usage": {grade: 1.0}}, backgrounds)
        for grade, p in backgrounds["usage"].shares.items()
    )
    assert 1 == pytest.approx(mean, rel=1e-12)


def test_background_factor__ratio_of_two_answers_is_the_hazard_ratio() -> None:
    raises = (Raise("usage", "a1", 3.0),)
    towing, normal = (background_factor(raises, {"usage": {grade: 1.0}}, usage(0.9, 0.1)) for grade in ("a1", "a0"))
    assert 3 == pytest.approx(towing / normal, rel=1e-12)


def test_background_factor__what_is_not_known_counts_as_average() -> None:
    assert 1.0 == background_factor((Raise("usage", "a1", 3.0),), {}, usage(0.9, 0.1))
    assert 1.0 == background_factor((Raise("usage", "a1", 3.0),), {"age": {"old": 1.0}}, usage(0.9, 0.1))


def test_wear_factor__linings_wear_out_and_new_units_fail_early() -> None:
    """Common practice: worn linings are a matter of distance, wrong assembly is not."""
    young, old = compiled_of(odometer_km=15_000.0), compiled_of(odometer_km=300_000.0)
    assert p_area(young, "clutch_pack") < p_area(old, "clutch_pack")
    assert p_area(young, "tcm_software_or_adaptation") > p_area(old, "tcm_software_or_adaptation")


@pytest.mark.parametrize("unit", sorted(shipped().sheets))
def test_base_rates__are_shares_of_complaints(unit: str) -> None:
    """At the reference distance the shares of all causes add up to about one per complaint."""
    shares = [cause.share for cause in compiled_of(unit=unit).expansion.causes.values()]
    assert 0.5 < sum(shares) < 2.0


def test_list_lived__a_doubted_answer_leaves_the_rest_to_the_others_by_their_shares() -> None:
    knowledge = shipped()
    case = Case("long5", background={"usage": "towing"}, background_doubts={("usage", "towing"): "think_so"})
    lived, shares = list_lived(knowledge, case)["usage"], knowledge.backgrounds["usage"].shares
    assert knowledge.words.doubts["think_so"] == lived["towing"]
    assert 1.0 == pytest.approx(sum(lived.values()))
    assert shares["normal"] / shares["mountain"] == pytest.approx(lived["normal"] / lived["mountain"])


def test_background_factor__a_doubted_answer_is_the_bayes_mixture_of_both_vehicles() -> None:
    """Two kinds of vehicle counted one by one: 80 of 100 that think so tow, and towing triples the hazard."""
    raises, backgrounds = (Raise("usage", "a1", 3.0),), usage(0.9, 0.1)
    hazard = (80 * 3.0 + 20 * 1.0) / 100
    assert hazard / 1.2 == pytest.approx(background_factor(raises, {"usage": {"a1": 0.8, "a0": 0.2}}, backgrounds))


def test_list_lived__a_doubt_of_another_answer_says_nothing() -> None:
    case = Case("long5", background={"usage": "normal"}, background_doubts={("usage", "towing"): "think_so"})
    assert {"usage": {"normal": 1.0}} == list_lived(shipped(), case)


def test_list_lived__what_it_came_after_is_a_background_too() -> None:
    case = Case("long5", onset=Onset(("recent_service", "rebuilt")), background={"rebuilt": "no"})
    assert {"recent_service": {"yes": 1.0}, "rebuilt": {"no": 1.0}} == list_lived(shipped(), case)


def test_list_lived__one_of_two_was_said() -> None:
    """By counting: two independent events of which not both are absent."""
    group = (Answer("battery_work", "yes"), Answer("crash_or_hit", "yes"))
    lived, backgrounds = list_lived(shipped(), Case("long5", either=(group,))), shipped().backgrounds
    first, second = (backgrounds[answer.finding].shares["yes"] for answer in group)
    joint = {(a, b): (first if a else 1 - first) * (second if b else 1 - second) for a in (0, 1) for b in (0, 1)}
    whole = sum(p for key, p in joint.items() if any(key))
    assert sum(p for key, p in joint.items() if key[0]) / whole == pytest.approx(lived["battery_work"]["yes"])
    assert sum(p for key, p in joint.items() if key[1]) / whole == pytest.approx(lived["crash_or_hit"]["yes"])


@pytest.mark.parametrize(
    ("case", "expected"),
    [
        (Case("step-rwd", speeds=3), "hydraulic"),
        (Case("step-rwd", speeds=4), "electronic"),
        (Case("step-rwd", speeds=4, findings={"governor_bad_seen": Answer("governor_bad_seen", "yes")}), "hydraulic"),
        (Case("step-rwd", speeds=3, background={"shift_control": "electronic"}), "electronic"),
        (Case("step-rwd"), None),
        (Case("long5", speeds=3), None),
    ],
)
def test_list_lived__what_nobody_told_is_guessed_where_the_unit_may_have_it(case: Case, expected: str | None) -> None:
    chances = list_lived(shipped(), case).get("shift_control", {})
    assert expected == max(chances, key=lambda answer: chances[answer], default=None)


def test_list_lived__a_guess_rests_on_another() -> None:
    chances = list_lived(shipped(), Case("step-fwd", speeds=3))["load_told_by"]
    assert chances["cable"] + chances["vacuum"] > 0.9


def test_list_distances__at_least_so_far_is_the_mean_over_the_distances_beyond() -> None:
    """Against the integral over the log-normal's tail, on a fine grid."""
    logs = np.linspace(math.log(200_000), math.log(4_000_000), 40_001)
    density = np.exp(-0.5 * ((logs - math.log(150_000)) / 0.6) ** 2)
    for slope in (0.7, 1.5, 2.2):
        exact = float((np.exp(logs) / 150_000) ** (slope - 1) @ density / density.sum())
        distances = list_distances(Case("", 200_000.0, odometer_at_least=True), 150_000)
        mean = sum(wear_factor(km, slope, 150_000) for km in distances) / len(distances)
        assert exact == pytest.approx(mean, rel=0.03)


def test_list_distances__where_it_began_counts_not_where_it_stands() -> None:
    assert (3.0,) == list_distances(Case("", 200_000.0, onset=Onset(odometer_km=3.0)), 150_000)
    assert () == list_distances(Case("", None, onset=Onset(how="slowly")), 150_000)


def test_rank__since_new_speaks_for_early_failures() -> None:
    """Common practice: what has been so since new is no worn lining."""
    worn = p_area(compiled_of({"slips": "yes"}, odometer_km=200_000.0), "clutch_pack")
    since_new = p_area(
        compiled_of({"slips": "yes"}, odometer_km=200_000.0, onset=Onset(odometer_km=0.0)), "clutch_pack"
    )
    assert since_new < worn


def test_with_told_distance__high_mileage_is_a_lower_bound_unless_the_number_is_known() -> None:
    backgrounds, high = shipped().backgrounds, {"high_mileage": "high"}
    told = with_told_distance(Case("long5", None, high), backgrounds)
    assert (200_000, True) == (told.odometer_km, told.odometer_at_least)
    known = Case("long5", 90_000, high)
    assert known == with_told_distance(known, backgrounds)


def test_with_told_distance__since_new_began_at_nought_whatever_the_distance() -> None:
    told = with_told_distance(Case("long5", 90_000, {"since_new": "since_new"}), shipped().backgrounds)
    assert (90_000, 0) == (told.odometer_km, told.onset.odometer_km if told.onset else None)
    stated = Case("long5", 90_000, {"since_new": "since_new"}, onset=Onset(odometer_km=5_000))
    assert stated == with_told_distance(stated, shipped().backgrounds)


def test_with_told_distance__other_answers_tell_none() -> None:
    case = Case("long5", None, {"since_new": "not_said", "high_mileage": "not_said", "usage": "towing"})
    assert case == with_told_distance(case, shipped().backgrounds)
