"""Bounds of joined causes against the joined causes themselves."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.fleets import draw_evidence as draw_case_evidence
from support.hubs import draw_evidence, draw_tables, hubs, make_single, weigh_by_force
from support.trade import unit_of

from shiftlore.basics import ImpossibleEvidence
from shiftlore.cases import Case
from shiftlore.exact import ColumnSums, Doubted, Evidence, GateTable, HubEngine, HubTables, PairBounds, take_sets

law = settings(max_examples=80, deadline=None, derandomize=True)
Drawn = tuple[HubTables, Evidence]
MUCH = 1 << 24
SLACK = 1e-9
SHORT = 1e-5
"""Of single precision."""


def weigh_pairs(tables: HubTables, evidence: Evidence) -> np.ndarray:
    """Give ln P(answers | base and added) by force, shape (n_base, n_added); nan where both are the same."""
    n = tables.n_root
    pairs = np.array([(a, b) for a in range(n) for b in range(n)]).T
    log_p = np.log(weigh_by_force(take_sets(tables, pairs, tables.gates), evidence)).reshape(n, n)
    log_p[np.eye(n, dtype=bool)] = np.nan
    return log_p


def bound_pairs(engine: HubEngine, evidence: Evidence, single_precision: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """Give ln of the least and the most that each pair may make of the answers, shape (n_root, n_root) each."""
    with pytest.MonkeyPatch.context() as patch:
        if not single_precision:
            patch.setattr("shiftlore.exact.joining.WIDEST_SHORT", -1.0)
        bounds = PairBounds(ColumnSums(engine, evidence))
        low = bounds.low
        high = low + bounds.gain
    kind = bounds.sums.kind
    with np.errstate(divide="ignore"):
        return np.log(low)[kind][:, kind] + bounds.scale, np.log(high)[kind][:, kind] + bounds.scale


def check_bounds(tables: HubTables, evidence: Evidence, engine: HubEngine, single_precision: bool = False) -> None:
    """Hold both bounds to what they bound."""
    (low, high), exact = bound_pairs(engine, evidence, single_precision), weigh_pairs(tables, evidence)
    compared, slack = np.isfinite(exact), SHORT if single_precision else SLACK
    assert (high >= exact - slack)[compared].all()
    assert (low <= exact + slack)[compared].all()


@given(hubs(single=True, doubt=0.0))
@law
def test_pair_bounds__hold_every_pair(drawn: Drawn) -> None:
    check_bounds(*drawn, HubEngine(drawn[0], MUCH))


@given(hubs(single=True, doubt=0.2))
@law
def test_pair_bounds__hold_every_pair_in_single_precision(drawn: Drawn) -> None:
    check_bounds(*drawn, HubEngine(drawn[0], MUCH), single_precision=True)


@given(hubs(single=True, doubt=0.7))
@law
def test_pair_bounds__hold_every_pair_with_doubted_answers(drawn: Drawn) -> None:
    check_bounds(*drawn, HubEngine(drawn[0], MUCH))


@given(hubs(single=True, most_hidden=7, most_gates=9), st.sampled_from([0, 12]))
@law
def test_pair_bounds__hold_every_pair_where_single_causes_are_bounded_themselves(drawn: Drawn, most_cells: int) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shiftlore.exact.column_sums.FEW_TERMS", 0)
        check_bounds(*drawn, HubEngine(drawn[0], 0, most_cells))


@given(hubs(single=True, most_hidden=5, most_gates=6))
@law
def test_pair_bounds__hold_every_pair_along_chains(drawn: Drawn) -> None:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shiftlore.exact.column_sums.FEW_TERMS", 0)
        check_bounds(*drawn, HubEngine(drawn[0], MUCH))


@given(hubs(single=True))
@law
def test_pair_bounds__the_state_without_any_cause_adds_nothing(drawn: Drawn) -> None:
    tables, evidence = drawn
    engine = HubEngine(tables, MUCH)
    low, high = bound_pairs(engine, evidence)
    assert (low[:, 0] >= engine.weigh(evidence) - SLACK).all(), "the better of the two"
    assert (high[:, 0] <= np.maximum(engine.weigh(evidence), low[:, 0]) + SLACK).all()


@given(st.integers(0, 2**32 - 1))
@law
def test_pair_bounds__sound_answers_alone_are_met_exactly(seed: int) -> None:
    """Without a telling answer all is a product: the upper bound is the pair itself, but for causes that share a state."""
    rng = np.random.default_rng(seed)
    tables = make_single(rng, draw_tables(rng, 4, 3, 5))
    for row, only in enumerate(rng.permutation(4)[:3].tolist()):
        tables.p_hidden[row] = np.where(np.arange(4) == only, tables.p_hidden[row], tables.p_hidden[row, 0])
    evidence = {key: 0 for key in draw_evidence(rng, tables, doubt=0.0)}
    (_, high), exact = bound_pairs(HubEngine(tables, MUCH), evidence), weigh_pairs(tables, evidence)
    compared = np.isfinite(exact)
    assert exact[compared] == pytest.approx(high[compared], abs=1e-8)


@given(hubs(single=True))
@law
def test_pair_bounds__the_order_of_answers_does_not_matter(drawn: Drawn) -> None:
    """The engine remembers a standing whatever the order in which its answers came."""
    tables, evidence = drawn
    engine = HubEngine(tables, MUCH)
    first, again = bound_pairs(engine, evidence), bound_pairs(engine, dict(reversed(evidence.items())))
    for one, other in zip(first, again, strict=True):
        assert one == pytest.approx(other, abs=1e-9)


def two_signs() -> HubTables:
    """None and three causes: a shows f0, b shows f1, c shows neither; no hidden variables."""

    def gate(key: str, below: list[float]) -> GateTable:
        return GateTable(key, 2, np.array([below, [1.0] * 4]), (), np.zeros((0, 2)))

    gates = {"f0": gate("f0", [0.99, 0.099, 0.99, 0.99]), "f1": gate("f1", [0.99, 0.99, 0.099, 0.99])}
    return HubTables("root", ("none", "a", "b", "c"), np.full(4, 0.25), (), np.zeros((0, 4)), gates)


def test_pair_bounds__two_causes_of_a_sign_each_by_hand() -> None:
    """a and b together show both by .901 each; a alone shows f1 by its leak of .01."""
    low, high = bound_pairs(HubEngine(two_signs()), {"f0": 1, "f1": 1})
    assert np.log(0.901**2) == pytest.approx(high[1, 2], abs=1e-9)
    assert np.log(0.901 * 0.01) == pytest.approx(high[1, 3], abs=1e-9)
    assert np.log(0.901 * 0.01) == pytest.approx(low[1, 3], abs=1e-9)


def cost_of(evidence: Evidence) -> np.ndarray:
    """Give what each state costs another at most, shape (4,)."""
    bounds = PairBounds(ColumnSums(HubEngine(two_signs()), evidence))
    return bounds.cost[bounds.sums.kind]


def test_pair_bounds__what_a_sound_answer_costs_by_hand() -> None:
    """Of f0 = no, a keeps a tenth."""
    assert [1.0, 0.1, 1.0, 1.0] == pytest.approx(cost_of({"f0": 0}), abs=1e-12)
    assert [1.0, 0.25 + 0.75 * 0.1, 1.0, 1.0] == pytest.approx(cost_of({"f0": Doubted(0, 0.0, 0.25)}), abs=1e-12)


def test_pair_bounds__a_doubt_elsewhere_leaves_a_sound_answer_its_cost() -> None:
    """c can never go without f0; that is no reason to think that a and b could not stand together beside a doubt."""
    tables = two_signs()
    tables.gates["f0"].cum_root[0, 3] = 0.0
    _, high = bound_pairs(HubEngine(tables), {"f0": 0, "f1": Doubted(0, 0.0, 0.25)})
    exact = np.log(0.99 * 0.1 * (0.25 + 0.75 * 0.99 * 0.1))
    assert exact - SLACK <= high[1, 2] <= np.log(0.99 * 0.1)


def test_pair_bounds__impossible_answers() -> None:
    tables = two_signs()
    tables.gates["f0"].cum_root[0] = 1.0
    with pytest.raises(ImpossibleEvidence, match="f0"):
        PairBounds(ColumnSums(HubEngine(tables), {"f0": 1}))


def test_pair_bounds__wide_ranges_are_worked_out_in_double_precision() -> None:
    engine, evidence = unit_of("long5").prepare(Case("long5")).single, draw_case_evidence(2)
    short = PairBounds(ColumnSums(engine, evidence)).gain
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("shiftlore.exact.joining.WIDEST_SHORT", 0.0)
        long = PairBounds(ColumnSums(engine, evidence)).gain
    assert (np.float32, np.float64) == (short.dtype, long.dtype)
    assert long == pytest.approx(short, abs=SHORT * float(long.max()))


def test_pair_bounds__the_likeliest_cause_is_the_measure() -> None:
    bounds = PairBounds(ColumnSums(unit_of("long5").prepare(Case("long5")).single, draw_case_evidence(1)))
    assert 1.0 == bounds.alone.max()
    assert 0.0 <= float(bounds.alone.min())
