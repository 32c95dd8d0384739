"""Bounds of joined causes against the joined causes themselves."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import draw_evidence, draw_tables, hubs, make_single, weigh_by_force

from shiftlore.basics import ImpossibleEvidence
from shiftlore.exact import Doubted, Evidence, GateTable, HubEngine, HubTables, bound_joins, take_sets

law = settings(max_examples=80, deadline=None, derandomize=True)
Drawn = tuple[HubTables, Evidence]
MUCH = 1 << 24
SLACK = 1e-9


def weigh_pairs(tables: HubTables, evidence: Evidence) -> np.ndarray:
    """Give ln P(answers | base and added) by force, shape (n_base, n_added); nan where both are the same."""
    n = tables.n_root
    pairs = np.array([(a, b) for a in range(n) for b in range(n)]).T
    log_p = np.log(weigh_by_force(take_sets(tables, pairs, tables.gates), evidence)).reshape(n, n)
    log_p[np.eye(n, dtype=bool)] = np.nan
    return log_p


def check_bounds(tables: HubTables, evidence: Evidence, engine: HubEngine) -> None:
    """Hold both bounds to what they bound."""
    bounds, exact = bound_joins(engine, evidence, HubEngine(tables)), weigh_pairs(tables, evidence)
    low = engine.stand(evidence).log_low[:, None] + bounds.log_cost
    compared = np.isfinite(exact)
    assert (bounds.log_high >= exact - SLACK)[compared].all()
    assert (low <= exact + SLACK)[compared].all()


@given(hubs(single=True, doubt=0.0))
@law
def test_bound_joins__hold_every_pair(drawn: Drawn) -> None:
    check_bounds(*drawn, HubEngine(drawn[0], MUCH))


@given(hubs(single=True, doubt=0.7))
@law
def test_bound_joins__hold_every_pair_with_doubted_answers(drawn: Drawn) -> None:
    check_bounds(*drawn, HubEngine(drawn[0], MUCH))


@given(hubs(single=True, most_hidden=7, most_gates=9), st.sampled_from([0, 12]))
@law
def test_bound_joins__hold_every_pair_where_the_base_is_bounded_itself(drawn: Drawn, most_cells: int) -> None:
    check_bounds(*drawn, HubEngine(drawn[0], 3 * drawn[0].n_root, most_cells))


@given(hubs(single=True, most_hidden=5, most_gates=6), st.data())
@law
def test_bound_joins__a_third_beside_a_pair(drawn: Drawn, data: st.DataObject) -> None:
    """Base states may be sets themselves."""
    tables, evidence = drawn
    n = tables.n_root
    base = np.array([data.draw(st.lists(st.integers(0, n - 1), min_size=2, max_size=2)) for _ in range(3)]).T
    joined = take_sets(tables, base, tables.gates)
    bounds = bound_joins(HubEngine(joined, MUCH), evidence, HubEngine(tables))
    thirds = np.array([[*base[:, i], b] for i in range(3) for b in range(n)]).T
    exact = np.log(weigh_by_force(take_sets(tables, thirds, tables.gates), evidence)).reshape(3, n)
    new = np.array([[b not in base[:, i] for b in range(n)] for i in range(3)])
    assert (bounds.log_high >= exact - SLACK)[new].all()


@given(hubs(single=True))
@law
def test_bound_joins__the_state_without_any_cause_adds_nothing(drawn: Drawn) -> None:
    tables, evidence = drawn
    engine = HubEngine(tables, MUCH)
    bounds = bound_joins(engine, evidence, HubEngine(tables))
    assert engine.weigh(evidence) == pytest.approx(bounds.log_high[:, 0], abs=1e-9)
    assert 0 == pytest.approx(bounds.log_cost[0], abs=1e-12)


@given(st.integers(0, 2**32 - 1))
@law
def test_bound_joins__sound_answers_alone_are_met_exactly(seed: int) -> None:
    """Without a telling answer all is a product: the upper bound is the pair itself, but for causes that share a state."""
    rng = np.random.default_rng(seed)
    tables = make_single(rng, draw_tables(rng, 4, 3, 5))
    for row, only in enumerate(rng.permutation(4)[:3].tolist()):
        tables.p_hidden[row] = np.where(np.arange(4) == only, tables.p_hidden[row], tables.p_hidden[row, 0])
    evidence = {key: 0 for key in draw_evidence(rng, tables, doubt=0.0)}
    bounds, exact = bound_joins(HubEngine(tables, MUCH), evidence, HubEngine(tables)), weigh_pairs(tables, evidence)
    compared = np.isfinite(exact)
    assert exact[compared] == pytest.approx(bounds.log_high[compared], abs=1e-8)


@given(hubs(single=True))
@law
def test_bound_joins__the_order_of_answers_does_not_matter(drawn: Drawn) -> None:
    """The engine remembers a standing whatever the order in which its answers came."""
    tables, evidence = drawn
    engine = HubEngine(tables, MUCH)
    first = bound_joins(engine, evidence, HubEngine(tables))
    again = bound_joins(engine, dict(reversed(evidence.items())), HubEngine(tables))
    assert first.log_high == pytest.approx(again.log_high, abs=1e-9)
    assert first.log_cost == pytest.approx(again.log_cost, abs=1e-12)


def two_signs() -> HubTables:
    """None and three causes: a shows f0, b shows f1, c shows neither; no hidden variables."""

    def gate(key: str, below: list[float]) -> GateTable:
        return GateTable(key, 2, np.array([below, [1.0] * 4]), (), np.zeros((0, 2)))

    gates = {"f0": gate("f0", [0.99, 0.099, 0.99, 0.99]), "f1": gate("f1", [0.99, 0.99, 0.099, 0.99])}
    return HubTables("root", ("none", "a", "b", "c"), np.full(4, 0.25), (), np.zeros((0, 4)), gates)


def test_bound_joins__two_causes_of_a_sign_each_by_hand() -> None:
    """a and b together show both by .901 each; a alone shows f1 by its leak of .01."""
    bounds = bound_joins(HubEngine(two_signs()), {"f0": 1, "f1": 1}, HubEngine(two_signs()))
    assert np.log(0.901**2) == pytest.approx(bounds.log_high[1, 2], abs=1e-9)
    assert np.log(0.901 * 0.01) == pytest.approx(bounds.log_high[1, 3], abs=1e-9)
    assert np.zeros(4) == pytest.approx(bounds.log_cost, abs=1e-12)


def test_bound_joins__what_a_sound_answer_costs_by_hand() -> None:
    """Of f0 = no, a keeps a tenth."""
    bounds = bound_joins(HubEngine(two_signs()), {"f0": 0}, HubEngine(two_signs()))
    assert [0.0, np.log(0.1), 0.0, 0.0] == pytest.approx(bounds.log_cost, abs=1e-12)
    doubted = bound_joins(HubEngine(two_signs()), {"f0": Doubted(0, 0.0, 0.25)}, HubEngine(two_signs()))
    assert [0.0, np.log(0.25 + 0.75 * 0.1), 0.0, 0.0] == pytest.approx(doubted.log_cost, abs=1e-12)


def test_bound_joins__a_doubt_elsewhere_leaves_a_sound_answer_its_cost() -> None:
    """c can never go without f0; that is no reason to think that a and b could not stand together beside a doubt."""
    tables = two_signs()
    tables.gates["f0"].cum_root[0, 3] = 0.0
    evidence = {"f0": 0, "f1": Doubted(0, 0.0, 0.25)}
    bounds = bound_joins(HubEngine(tables), evidence, HubEngine(tables))
    exact = np.log(0.99 * 0.1 * (0.25 + 0.75 * 0.99 * 0.1))
    assert exact - SLACK <= bounds.log_high[1, 2] <= np.log(0.99 * 0.1)


def test_bound_joins__impossible_answers() -> None:
    tables = two_signs()
    tables.gates["f0"].cum_root[0] = 1.0
    with pytest.raises(ImpossibleEvidence, match="f0"):
        bound_joins(HubEngine(tables), {"f0": 1}, HubEngine(tables))
