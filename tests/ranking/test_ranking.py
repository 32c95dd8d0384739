"""The ranking of causes: its laws, its agreement with another library, what the trade expects of it; and draws of its numbers."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import compiled_of, p_area, rules_alone, shipped, small_case

from shiftlore.cases import Done, Measured
from shiftlore.compiling import CompiledCase, compile_case, compile_unit
from shiftlore.ranking import Ranking, audit_ranking, draw_faults, measure_spread, rank_causes
from shiftlore.ranking import ranking as ranking_of_the_room
from shiftlore.ranking.ranking import P_FLOOR, SMALLEST_DECIBANS, draw_spread, log_odds, measure_fit

SMALL = {"gear_slips_2": "yes", "fluid_colour": "dark", "line_pressure_idle": "no"}
WORN_SEALS = {
    "P0733": "yes",
    "fluid_colour": "amber",
    "fluid_smell_burnt": "no",
    "shift_slow_any": "yes",
    "magnet_paste": "ordinary",
}
LIFE = {"odometer_km": 160_000.0, "background": {"service_record": "late"}}
TOWING = {"odometer_km": 160_000.0, "background": {"usage": "towing"}}


def quick(compiled: CompiledCase) -> Ranking:
    """Rank without drawing spreads."""
    return rank_causes(compiled, spread=False)


def test_rank_causes__most_probable_first_and_every_cause_once() -> None:
    compiled = small_case(SMALL)
    ranking = quick(compiled)
    p = [cause.probability for cause in ranking.causes]
    assert p == sorted(p, reverse=True)
    assert set(compiled.causes) == {cause.id for cause in ranking.causes}


def test_rank_causes__probabilities_are_those_of_the_case() -> None:
    compiled = small_case(SMALL)
    ranking = quick(compiled)
    named = dict(zip(compiled.causes, compiled.p_causes, strict=True))
    assert all(named[cause.id] == pytest.approx(cause.probability, abs=0) for cause in ranking.causes)
    assert compiled.p_faults[0] == pytest.approx(ranking.nothing_found, abs=0)


def test_rank_causes__spread_holds_the_probability() -> None:
    for cause in rank_causes(small_case(SMALL)).causes:
        assert 0 <= cause.low <= cause.probability <= cause.high <= 1


def test_rank_causes__without_spread_low_and_high_are_the_probability() -> None:
    assert all(cause.low == cause.probability == cause.high for cause in quick(small_case(SMALL)).causes)


def test_rank_causes__the_same_case_is_ranked_the_same() -> None:
    first, second = rank_causes(small_case(SMALL)), rank_causes(small_case(SMALL))
    assert (first.causes, first.areas) == (second.causes, second.areas)


def test_rank_causes__an_area_is_at_work_if_one_of_its_causes_is() -> None:
    """At most the sum of its causes, at least the largest of them."""
    compiled = small_case(SMALL)
    for area in quick(compiled).areas:
        own = [cause.probability for cause in quick(compiled).causes if cause.area == area.area]
        assert max(own, default=0) - 1e-12 <= area.probability <= sum(own) + 1e-12


def test_rank_causes__for_and_against_are_sorted_and_signed() -> None:
    for cause in quick(small_case(SMALL)).causes:
        assert all(reason.decibans >= SMALLEST_DECIBANS for reason in cause.speaks_for)
        assert all(reason.decibans <= -SMALLEST_DECIBANS for reason in cause.speaks_against)
        weights = [abs(reason.decibans) for reason in cause.speaks_for]
        assert weights == sorted(weights, reverse=True)


def reasons_of(compiled: CompiledCase, cause_id: str) -> dict[str, float]:
    """Give the weight of each reason for or against a cause."""
    cause = next(cause for cause in quick(compiled).causes if cause.id == cause_id)
    return {reason.finding: reason.decibans for reason in (*cause.speaks_for, *cause.speaks_against)}


def test_rank_causes__an_answer_weighs_halfway_between_alone_and_added_to_the_rest() -> None:
    """Source: Good 1950, weight of evidence; both ends recomputed from the engine."""
    compiled = small_case(SMALL)
    pump, held = compiled.causes.index("worn_pump"), compiled.held_by("fluid_colour")

    def log_odds_given(evidence: dict) -> float:
        p = compiled.faults.sum_over_causes(compiled.engine.posterior(evidence)[0])[pump]
        return 10 * np.log10(p / (1 - p))

    added = log_odds_given(compiled.evidence) - log_odds_given(
        {key: answer for key, answer in compiled.evidence.items() if key not in held}
    )
    alone = log_odds_given({key: compiled.evidence[key] for key in held}) - log_odds_given({})
    assert (alone + added) / 2 == pytest.approx(reasons_of(compiled, "worn_pump")["fluid_colour"], abs=1e-9)


def test_rank_causes__a_background_weighs_as_in_cases_without_it() -> None:
    """Both ends recomputed from cases that never heard of it; sets of causes are joined a little otherwise there."""

    def moved(answers: dict[str, str]) -> float:
        towing, bare = (small_case(answers, background=life) for life in ({"usage": "towing"}, {}))
        pump = bare.causes.index("worn_pump")
        return float(log_odds(towing.p_causes)[pump] - log_odds(bare.p_causes)[pump])

    towing = small_case({"gear_slips_2": "yes"}, background={"usage": "towing"})
    expected = (moved({}) + moved({"gear_slips_2": "yes"})) / 2
    assert expected == pytest.approx(reasons_of(towing, "worn_pump")["usage"], abs=0.2)
    assert moved({}) > 1


def test_rank_causes__signs_that_say_the_same_are_all_told() -> None:
    """A battery that was changed, and a shudder beside its code, were missing from the reasons of what they point at."""
    from support.trade import EXAMPLES

    import shiftlore

    knowledge = shipped()
    for name, cause, reason in (
        ("family_car", "adaptation_lost", "battery_work"),
        ("mountain_minibus", "converter_clutch_glazed_shudder", "shudder_light_throttle"),
    ):
        ranking = shiftlore.rank(knowledge, shiftlore.read_case(EXAMPLES / f"{name}.yaml", knowledge))
        assert cause == ranking.causes[0].id
        assert reason in [item.finding for item in ranking.causes[0].speaks_for[:4]]


def test_rank_causes__no_answers_no_reasons() -> None:
    assert all(() == cause.speaks_for == cause.speaks_against for cause in quick(small_case()).causes)


@given(st.floats(0.001, 0.999))
def test_log_odds__is_odd_about_one_half(p: float) -> None:
    assert float(log_odds(np.array(p))) == pytest.approx(-float(log_odds(np.array(1 - p))), abs=1e-9)


def test_log_odds__certainty_stays_finite() -> None:
    assert np.isfinite(log_odds(np.array([0.0, 1.0]))).all()
    assert 10 * np.log10(P_FLOOR) == pytest.approx(float(log_odds(np.array(0.0))), rel=1e-12)


def test_measure_fit__one_answer_neither_supports_nor_contradicts() -> None:
    assert 0 == pytest.approx(measure_fit(small_case({"fluid_colour": "dark"})).log10_odds, abs=1e-12)
    assert "No answers yet." == measure_fit(small_case()).note


def test_measure_fit__signs_of_one_fault_support_each_other() -> None:
    assert measure_fit(small_case({"fluid_colour": "dark", "line_pressure_idle": "yes"})).log10_odds > 0


def test_measure_fit__signs_that_do_not_go_together_are_told() -> None:
    """Burnt smell with clear fluid and a level that is right, in a unit that does not slip."""
    odd = compiled_of(
        {
            "fluid_smell_burnt": "yes",
            "fluid_colour": "clear",
            "slips": "no",
            "magnet_paste": "little",
            "P0741": "yes",
            "P0750": "yes",
        }
    )
    fit = measure_fit(odd)
    assert fit.log10_odds < 0.5
    assert fit.log10_odds < measure_fit(compiled_of({"fluid_smell_burnt": "yes", "fluid_colour": "black"})).log10_odds


def test_name_answer__in_words() -> None:
    assert "Fluid colour: red and clear" == small_case().expansion.name_answer("fluid_colour", "red")
    assert "Slips in gear 2: yes" == small_case().expansion.name_answer("gear_slips_2", "yes")


@pytest.mark.filterwarnings("ignore")
def test_audit_ranking__agrees_with_pgmpy() -> None:
    """Source: pgmpy, variable elimination."""
    compiled = small_case(SMALL, **LIFE | {"background": {"usage": "towing"}})
    audit = audit_ranking(compiled, quick(compiled))
    assert audit.max_abs_difference < 1e-9
    assert (6, "pgmpy VariableElimination") == (audit.causes, audit.engine)


@pytest.mark.filterwarnings("ignore")
def test_audit_ranking__agrees_with_pgmpy_on_a_shipped_unit() -> None:
    """Source: pgmpy, variable elimination, on a ratio code without slip."""
    compiled = compiled_of({"P0734": "yes", "fluid_smell_burnt": "no", "slips": "no"}, **LIFE)
    assert audit_ranking(compiled, quick(compiled)).max_abs_difference < 1e-9


def best_areas(compiled: CompiledCase, n: int) -> list[str]:
    """Name the first areas of the ranking."""
    return [area.area for area in quick(compiled).areas[:n]]


def test_rank_causes__a_ratio_code_with_soft_shifts_and_good_fluid_is_a_solenoids_seals() -> None:
    """Common practice: 160,000 km, serviced late, P0733, soft shifts, amber fluid, no burnt smell, grey paste.

    The seals of the shift solenoids have hardened; linings that burn would smell and darken the fluid.
    """
    compiled = compile_case(compile_unit(rules_alone(), "long5"), compiled_of(WORN_SEALS, **LIFE).case)
    ranking = quick(compiled)
    assert {"shift_solenoid", "pressure_control_solenoid"} == set(best_areas(compiled, 2))
    assert "hardened_solenoid_seals" in {compiled.expansion.causes[cause.id].template for cause in ranking.causes[:3]}
    assert "clutch_pack" not in best_areas(compiled, 3)


def test_rank_causes__the_same_code_with_burnt_dark_fluid_is_a_clutch_or_band() -> None:
    """Common practice."""
    burnt = WORN_SEALS | {
        "fluid_colour": "dark",
        "fluid_smell_burnt": "yes",
        "magnet_paste": "thick",
        "fluid_level": "right",
    }
    good, bad = compiled_of(WORN_SEALS, **LIFE), compiled_of(burnt, **LIFE)
    assert p_area(bad, "clutch_pack", "band") > 2 * p_area(good, "clutch_pack", "band")
    assert p_area(bad, "shift_solenoid") < p_area(good, "shift_solenoid")


def test_rank_causes__a_ratio_code_makes_the_pressure_switch_likelier() -> None:
    """Common practice: a switch that misreads sets ratio and shift codes on a sound unit."""
    code = {"P0733": "yes", "fluid_smell_burnt": "no", "slips": "no"}
    assert p_area(compiled_of(code, **LIFE), "pressure_switch") > p_area(compiled_of({}, **LIFE), "pressure_switch")


@pytest.mark.parametrize("more", [{}, {"worse_load": "yes"}])
def test_rank_causes__hunting_when_towing_uphill_points_at_the_converter_clutch(more: dict[str, str]) -> None:
    """Common practice: in and out of the top gears on a steady pull is often the converter clutch coming and going."""
    areas = ("tcc_solenoid_or_valve", "converter_clutch_or_converter")
    calm, hunting = compiled_of(more, **TOWING), compiled_of({**more, "hunts_top_gears": "yes"}, **TOWING)
    for area in areas:
        assert p_area(hunting, area) > p_area(calm, area)


@pytest.mark.parametrize(
    "more", [{}, {"noise_with_road_speed": "yes"}, {"high_speed_only": "yes"}, {"cvt_belt_noise": "yes"}]
)
def test_rank_causes__a_stepless_unit_that_whines_has_a_bearing_before_a_worn_belt(more: dict[str, str]) -> None:
    """But what chatters under load is the belt. By the rules alone: what was learned beside them is another matter."""
    case = compiled_of({"noise_whine": "yes", **more}, "cvt").case
    compiled = compile_case(compile_unit(rules_alone(), "cvt"), case)
    share = dict(zip(compiled.causes, compiled.p_causes, strict=True))
    is_belt = share["cvt_belt_worn_noise"] > share["cvt_pulley_bearing_worn"]
    assert is_belt == ("cvt_belt_noise" in more)


def test_rank_causes__a_converter_clutch_code_leads_to_its_areas() -> None:
    """Common practice; P0741 is "torque converter clutch stuck off" in SAE J2012."""
    areas = {"tcc_solenoid_or_valve", "converter_clutch_or_converter"}
    assert best_areas(compiled_of({"P0741": "yes", "hunts_top_gears": "yes"}, **TOWING), 1)[0] in areas


@pytest.mark.parametrize(
    ("answers", "area"),
    [
        ({"fluid_level": "very_low", "slips_all_gears": "yes"}, "fluid_low_or_leak"),
        ({"P0715": "yes"}, "speed_sensor"),
        ({"P0705": "yes"}, "range_switch_or_linkage"),
        ({"P0711": "yes"}, "temperature_sensor"),
    ],
)
def test_rank_causes__a_plain_sign_puts_its_area_among_the_first(answers: dict[str, str], area: str) -> None:
    """Common practice; P0715 input speed, P0705 range switch, P0711 fluid temperature: SAE J2012."""
    assert area in best_areas(compiled_of(answers, odometer_km=150_000.0), 3)


def test_rank_causes__a_job_done_in_vain_clears_its_cause_and_keeps_the_odds_of_the_rest() -> None:
    """Breese and Heckerman 1996: a repair after which the problem persists leaves the other causes' relative odds."""
    before = compiled_of(WORN_SEALS, **LIFE)
    after = compiled_of(WORN_SEALS, **LIFE, done=(Done("solenoid_seals_renew"),))
    touched = set(np.flatnonzero(after.works[0].missed < 1))
    singles = [
        i
        for i in range(len(before.causes))
        if i not in touched and i not in {i for member in before.faults.sets for i in member}
    ]
    ratios = after.causes_now / before.causes_now
    assert ratios[singles] == pytest.approx(np.full(len(singles), ratios[singles[0]]), rel=1e-9)
    assert all(ratios[i] < ratios[singles[0]] for i in touched)


ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark"}


def test_draw_spread__low_below_high_and_both_probabilities() -> None:
    low, high = draw_spread(small_case(ANSWERS))
    assert ((low >= 0) & (low <= high) & (high <= 1)).all()


def test_draw_spread__repeats_itself() -> None:
    first, second = draw_spread(small_case(ANSWERS)), draw_spread(small_case(ANSWERS))
    assert first[0] == pytest.approx(second[0], abs=0)
    assert first[1] == pytest.approx(second[1], abs=0)


def test_draw_spread__forty_draws_place_the_percentiles_roughly() -> None:
    """Against 800 draws; to within a third of the width."""
    few, many = draw_spread(small_case(ANSWERS)), draw_spread(small_case(ANSWERS), 800)
    width = float(np.max(many[1] - many[0]))
    assert many[0] == pytest.approx(few[0], abs=width / 3)
    assert many[1] == pytest.approx(few[1], abs=width / 3)


def test_draw_spread__holds_nearly_all_probabilities_of_a_real_case() -> None:
    compiled = compiled_of({"P0732": "yes", "fluid_smell_burnt": "no"})
    low, high = draw_spread(compiled)
    assert np.mean((low <= compiled.p_causes) & (compiled.p_causes <= high)) > 0.8


def test_rank_causes__says_what_was_measured_means() -> None:
    """The band or the clutch that carries third gear slips where the input runs ahead of it (by the gear train)."""
    ratio = compiled_of().expansion.facts.ratios["3"]
    measured = {
        "ratio_gear_3": Measured(round(1.2 * ratio, 2), "ratio"),
        "line_pressure_idle": Measured(2.1, "bar"),
        "apply_pressure_c1": Measured(9, "bar"),
    }
    told = rank_causes(compiled_of(measured=measured), spread=False).measured
    assert "Slip in gear 3 by scan: yes" in told[0] and "17 % slip in gear 3, of " in told[0] and "B1" in told[0]
    assert "line_pressure_idle, 2.1 bar: Line pressure at idle: too low." == told[1]
    assert told[2].endswith("says nothing here, its limits are not known.")


ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark"}


def draws(n: int, seed: int = 1, **more: object) -> np.ndarray:
    """Draw from the small knowledge, shape (n, n_states)."""
    return draw_faults(small_case(ANSWERS, **more), np.random.default_rng(seed), n)


def surely(compiled: CompiledCase, weight: float) -> CompiledCase:
    """Give every number of the rules the same spread."""
    expansion = compiled.expansion

    def nodes(found: dict) -> dict:
        return {
            key: node.vary(leak_weight=weight, links=tuple(link.vary(weight=weight) for link in node.links))
            for key, node in found.items()
        }

    causes = {key: cause.vary(share_weight=min(weight, 1e12)) for key, cause in expansion.causes.items()}
    sure = expansion.vary(causes=causes, states=nodes(expansion.states), findings=nodes(expansion.findings))
    return compiled.vary(unit=replace(compiled.unit, expansion=sure))


def test_draw_faults__the_same_seed_draws_the_same() -> None:
    assert draws(3).tolist() == draws(3).tolist()
    assert draws(3).tolist() != draws(3, seed=2).tolist()


def test_draw_faults__are_probabilities_of_every_state() -> None:
    drawn, compiled = draws(30), small_case(ANSWERS)
    assert (30, len(compiled.faults.members)) == drawn.shape
    assert ((drawn >= 0) & (drawn <= 1)).all()
    assert np.ones(30) == pytest.approx(drawn.sum(axis=1), abs=1e-12)


def test_draw_faults__lie_around_the_ranking() -> None:
    compiled = small_case(ANSWERS)
    drawn = compiled.faults.sum_over_causes(draws(300))
    assert compiled.p_causes == pytest.approx(drawn.mean(axis=0), abs=0.12)
    low, high = np.percentile(drawn, [5, 95], axis=0)
    assert ((low <= compiled.p_causes) & (compiled.p_causes <= high)).all()


@pytest.mark.parametrize("shape", [(40, 7), (21, 3), (2, 2), (1, 4), (33,)])
def test_measure_spread__is_numpys_percentile_to_the_bit(shape: tuple[int, ...]) -> None:
    """Source: `numpy.percentile`, its method "linear"."""
    for seed in range(20):
        drawn = np.random.default_rng(seed).random(shape) ** 8
        before = drawn.copy()
        assert np.percentile(drawn, [5, 95], axis=0).tolist() == np.array(measure_spread(drawn)).tolist()
        assert before.tolist() == drawn.tolist()


@pytest.mark.parametrize("weight", [1e12, np.inf])
def test_draw_faults__sure_numbers_do_not_move(weight: float) -> None:
    """With spreads of next to nothing every draw is the ranking itself."""
    compiled = small_case(ANSWERS)
    drawn = draw_faults(surely(compiled, weight), np.random.default_rng(3), 4)
    assert np.repeat(compiled.p_faults[None], 4, axis=0) == pytest.approx(drawn, abs=1e-4)


def test_draw_faults__surer_numbers_spread_less() -> None:
    compiled = small_case(ANSWERS)
    wide, narrow = (
        draw_faults(surely(compiled, weight), np.random.default_rng(3), 100).std(axis=0).sum()
        for weight in (5.0, 500.0)
    )
    assert narrow < wide / 3


def test_draw_faults__one_draw_alone() -> None:
    drawn = draws(1)
    assert (1, len(small_case(ANSWERS).faults.members)) == drawn.shape
    assert 1 == pytest.approx(drawn.sum(), abs=1e-12)


def test_draw_faults__without_answers_only_base_rates_are_drawn() -> None:
    compiled = compiled_of()
    drawn = compiled.faults.sum_over_causes(draw_faults(compiled, np.random.default_rng(5), 20))
    assert (drawn.std(axis=0) > 0).all()
    assert compiled.p_causes == pytest.approx(drawn.mean(axis=0), abs=0.05)


def test_draw_faults__states_beyond_those_drawn_keep_their_likelihood() -> None:
    """With one state drawn, the others move by their base rates alone; surely known base rates leave their odds."""
    compiled = small_case(ANSWERS)
    steady = {key: cause.vary(share_weight=1e12) for key, cause in compiled.expansion.causes.items()}
    expansion = compiled.expansion.vary(causes=steady)
    compiled = compiled.vary(unit=replace(compiled.unit, expansion=expansion))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ranking_of_the_room, "MOST_DRAWN", 1)
        drawn = draw_faults(compiled, np.random.default_rng(1), 5)
    leading = int(np.argmax(compiled.p_faults))
    others = np.arange(len(compiled.p_faults)) != leading
    rest = drawn[:, others] / drawn[:, others].sum(axis=1, keepdims=True)
    expected = compiled.p_faults[others] / compiled.p_faults[others].sum()
    assert np.repeat(expected[None], 5, axis=0) == pytest.approx(rest, abs=1e-4)
    assert 0 < drawn[:, leading].std()


def test_draw_faults__doubted_answers_on_a_shipped_unit() -> None:
    compiled = compiled_of({"slips": "yes", "fluid_colour": "dark", "fluid_smell_burnt": "yes"})
    drawn = compiled.faults.sum_over_causes(draw_faults(compiled, np.random.default_rng(2), 200))
    low, high = np.percentile(drawn, [1, 99], axis=0)
    leading = np.argsort(-compiled.p_causes)[:5]
    assert ((low <= compiled.p_causes) & (compiled.p_causes <= high))[leading].all()
