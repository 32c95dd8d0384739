"""Cases that looked alike: the mathematics against brute force, and what is told of them."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import draw_evidence, draw_tables, make_single, weigh_by_force
from support.remembering import list_beliefs, list_chances, weigh_alike
from support.trade import shipped, unit_of

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, compile_case
from shiftlore.exact import Doubted, HubEngine
from shiftlore.ranking import Ranking, rank_causes
from shiftlore.repairs import Remembered, find_alike
from shiftlore.repairs.alike import SHARED_SPREAD, TWIN_SIGNS, WORTH_TELLING, Looks, list_signs, weigh_shared
from shiftlore.repairs.memory import gather_memory


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=60, deadline=None)
def test_weigh_alike__is_the_ratio_of_two_sums_over_everything(seed: int) -> None:
    """Brute force: both vehicles' hidden states gone through; one cause drawn once against one drawn for each."""
    rng = np.random.default_rng(seed)
    tables = make_single(rng, draw_tables(rng, 4, 3, 4))
    tables = tables.vary(prior=rng.dirichlet(np.ones(4)))
    here, there = draw_evidence(rng, tables), draw_evidence(rng, tables)
    prior = tables.prior[1:] / tables.prior[1:].sum()
    by_force = [weigh_by_force(tables, evidence)[1:] for evidence in (here, there)]
    same = float((prior * by_force[0] * by_force[1]).sum())
    strangers = math.prod(float((prior * row).sum()) for row in by_force)
    engine, names = HubEngine(tables), ("a", "b", "c")
    beliefs = []
    for evidence in (here, there):
        p = engine.posterior(evidence)[0][1:]
        beliefs.append(dict(zip(names, (p / p.sum()).tolist(), strict=True)))
    chances = dict(zip(names, prior.tolist(), strict=True))
    assert same / strangers == pytest.approx(weigh_alike(*beliefs, chances), rel=1e-9)


def test_weigh_alike__instances_of_one_cause_count_together() -> None:
    """Brute force over two instances: the same cause as written, each vehicle with its own instance of it."""
    p, here, there = np.array([0.2, 0.3, 0.5]), np.array([0.9, 0.1, 0.3]), np.array([0.2, 0.6, 0.1])
    groups = ([0, 1], [2])
    same = sum(
        p[group].sum() * math.prod((p[group] / p[group].sum() * row[group]).sum() for row in (here, there))
        for group in groups
    )
    strangers = (p * here).sum() * (p * there).sum()
    beliefs = [
        {name: float((p * row)[group].sum() / (p * row).sum()) for name, group in zip("ab", groups, strict=True)}
        for row in (here, there)
    ]
    assert same / strangers == pytest.approx(weigh_alike(*beliefs, {"a": 0.5, "b": 0.5}), rel=1e-12)


def test_weigh_alike__what_says_nothing_is_worth_one() -> None:
    chances = {"a": 0.2, "b": 0.8}
    assert 1.0 == pytest.approx(weigh_alike(chances, {"a": 0.7, "b": 0.3}, chances), rel=1e-12)
    assert weigh_alike({"a": 1.0}, {"b": 1.0}, chances) == 0.0


@pytest.mark.parametrize("mean", [0.02, 0.35, 0.9])
def test_weigh_shared__is_what_a_beta_distribution_gives(mean: float) -> None:
    """Outside check: moments of scipy.stats.beta; both show, against each drawn for itself."""
    from scipy.stats import beta

    weight = 1 / SHARED_SPREAD - 1
    share = beta(mean * weight, (1 - mean) * weight)
    assert share.moment(2) / mean**2 == pytest.approx(weigh_shared(mean), rel=1e-9)
    differ = (mean - share.moment(2)) / (mean * (1 - mean))
    assert differ == pytest.approx(1 - SHARED_SPREAD, rel=1e-9)


def case_of(unit: str = "long5", **answers: str) -> CompiledCase:
    return compile_case(unit_of(unit), Case(unit, findings={key: Answer(key, grade) for key, grade in answers.items()}))


def remembered(compiled: CompiledCase, name: str = "one", **changes) -> Remembered:
    beliefs, signs = list_beliefs(compiled), list_signs(compiled)
    return replace(Remembered(name, "shop", "it slips", "pump", ("pump_worn",), "long5", beliefs, signs), **changes)


BURNT = {"fluid_smell_burnt": "yes", "slips_gear_2": "yes", "fluid_milky": "yes"}


@pytest.fixture(scope="module")
def burnt() -> tuple[CompiledCase, Ranking]:
    """Give a case, and its ranking."""
    compiled = case_of(**BURNT)
    return compiled, rank_causes(compiled, spread=False)


def test_looks__the_arrays_give_what_the_plain_sum_gives(burnt: tuple) -> None:
    """Without shared signs the arrays are the sum of the docstring; with them each term has its factors."""
    compiled, looks = burnt[0], Looks(burnt[0])
    other = case_of(slips_gear_2="yes")
    kept, plain = gather_memory([remembered(other)]), gather_memory([remembered(other, signs={})])
    whole = weigh_alike(list_beliefs(compiled), kept.beliefs_of(0), list_chances(compiled))
    assert whole == pytest.approx(float(looks.weigh(plain)[0]), rel=1e-9)
    single = compiled.prepared.single
    p_yes = single.weigh_apart({"slips_gear_2": compiled.evidence["slips_gear_2"]})[0, 1:]
    prior = single.tables.prior[1:]
    want = 0.0
    for name in looks.templates:
        own = np.array([one.template == name for one in compiled.expansion.causes.values()])
        mean = max(float((p_yes * prior)[own].sum() / prior[own].sum()), 1e-4)
        term = list_beliefs(compiled)[name] * kept.beliefs_of(0).get(name, 0.0) / list_chances(compiled)[name]
        want += term * weigh_shared(mean)
    assert want == pytest.approx(float(looks.weigh(kept)[0]), rel=1e-9)


def test_looks__an_answer_that_parts_them_speaks_against(burnt: tuple) -> None:
    looks = Looks(burnt[0])
    same = remembered(burnt[0], signs={"fluid_milky": "yes"})
    other = replace(same, signs={"fluid_milky": "no"})
    bare = replace(same, signs={})
    shared, apart, nothing = looks.weigh(gather_memory([same, other, bare])).tolist()
    assert shared > nothing > apart
    assert 1 - SHARED_SPREAD == pytest.approx(apart / nothing, rel=1e-9)


def test_looks__a_cause_that_this_unit_has_not_adds_nothing(burnt: tuple) -> None:
    here, nowhere = remembered(burnt[0]), remembered(burnt[0], beliefs={"no_such_cause": 1.0})
    factors = Looks(burnt[0]).weigh(gather_memory([here, nowhere]))
    assert 0.0 == factors[1] < factors[0]


def test_find_alike__the_shop_first_what_they_share_and_what_parts_them(burnt: tuple) -> None:
    compiled, ranking = burnt
    signs = {"fluid_milky": "yes", "fluid_smell_burnt": "no"}
    own = remembered(compiled, signs=signs, causes=("fluid_degraded",), area="fluid_wrong_or_degraded")
    first, *others = find_alike(compiled, ranking, [own])
    assert ("shop", "one", "it slips") == (first.source, first.id, first.presented)
    assert first.factor_decibans >= WORTH_TELLING
    assert ["fluid_milky"] == [sign.finding for sign in first.shared]
    assert "fluid_smell_burnt" == first.apart[0].finding and ("yes", "no") == (
        first.apart[0].here,
        first.apart[0].there,
    )
    reasons = next(cause for cause in ranking.causes if cause.id == "fluid_degraded")
    told = {one.finding: one.decibans for one in (*reasons.speaks_for, *reasons.speaks_against)}
    assert told["fluid_smell_burnt"] == first.apart[0].decibans
    assert compiled.expansion.causes["fluid_degraded"].label == first.cause
    assert all("published" == one.source for one in others)


def test_find_alike__names_neither_itself_nor_what_is_hardly_alike(burnt: tuple) -> None:
    compiled, ranking = burnt
    own = remembered(compiled)
    found = find_alike(compiled, ranking, [own])
    left = find_alike(compiled, ranking, [own], leave_out={one.id for one in found})
    assert not {one.id for one in found} & {one.id for one in left}
    assert all(one.factor_decibans >= WORTH_TELLING for one in (*found, *left))
    stranger = remembered(compiled, beliefs=list_chances(compiled), signs={})
    assert all(one.source != "shop" for one in find_alike(compiled, ranking, [stranger]))


def test_find_alike__nothing_is_alike_where_nothing_is_said_or_the_rules_stand_alone(burnt: tuple) -> None:
    empty = compile_case(unit_of("long5"), Case("long5"))
    assert () == find_alike(empty, rank_causes(empty, spread=False), [remembered(burnt[0])])
    alone = burnt[0].vary(unit=replace(burnt[0].unit, knowledge=shipped().with_rules_alone()))
    assert () == find_alike(alone, burnt[1])


def test_find_alike__doubt_counts_less_than_a_sure_answer(burnt: tuple) -> None:
    """The rarer what is doubted, the likelier it was imagined: the factor falls."""
    doubted = burnt[0].vary(evidence={**burnt[0].evidence, "fluid_milky": Doubted(1, 0.02, 0.2)})
    sure, unsure = (Looks(one).weigh(gather_memory([remembered(burnt[0])]))[0] for one in (burnt[0], doubted))
    assert sure > unsure


def test_find_alike__a_twin_of_the_shop_is_named_though_its_signs_are_common() -> None:
    common = dict.fromkeys(("slips", "shift_harsh_any", "warning_lamp"), "yes") | {"fluid_level": "right"}
    case = Case("long5", findings={key: Answer(key, grade) for key, grade in common.items()})
    compiled = compile_case(unit_of("long5"), case)
    signs = list_signs(compiled)
    even = dict.fromkeys(
        Looks(compiled).templates, 1.0
    )  # nothing is believed of it: its likeness lies in its signs alone
    twin = Remembered(
        id="twin",
        source="shop",
        told="slips",
        area="pump",
        causes=("pump_worn",),
        vehicle="long5",
        beliefs=even,
        signs=signs,
    )
    other = replace(twin, id="other", signs=dict(list(signs.items())[1:]))
    found = {one.id: one for one in find_alike(compiled, rank_causes(compiled), (twin, other))}
    assert len(signs) >= TWIN_SIGNS and found["twin"].factor_decibans < WORTH_TELLING and "other" not in found
