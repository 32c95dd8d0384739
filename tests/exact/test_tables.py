"""Tables cut, joined and laid side by side."""

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import draw_tables, hubs, lay_beside, make_single, split_draws, weigh_by_force

from shiftlore.exact import GateTable, HubTables, cumulate_rows, join_columns, take_sets
from shiftlore.exact.tables import (
    LateGates,
    as_rows,
    cut_columns,
    find_kinds,
    gather_sets,
    multiply_groups,
    multiply_lessened,
    pad_sets,
    reduce_groups,
    stack_gates,
)

law = settings(max_examples=40, deadline=None, derandomize=True)
seeds = st.integers(0, 2**32 - 1)


def single_of(seed: int, n_root: int = 4) -> HubTables:
    """Draw tables of single causes."""
    rng = np.random.default_rng(seed)
    return make_single(rng, draw_tables(rng, n_root, 4, 5))


def same_tables(first: HubTables, second: HubTables) -> bool:
    """Tell whether two tables hold the same numbers."""
    return (
        first.root_states == second.root_states
        and first.n_draws == second.n_draws
        and np.array_equal(first.p_hidden, second.p_hidden)
        and np.array_equal(first.prior, second.prior)
        and all(
            np.array_equal(gate.cum_root, second.gates[key].cum_root)
            and np.array_equal(gate.cum_hidden, second.gates[key].cum_hidden)
            for key, gate in first.gates.items()
        )
    )


@given(seeds, st.lists(st.lists(st.integers(1, 3), min_size=1, max_size=3, unique=True), min_size=1, max_size=4))
@law
def test_join_columns__contributions_multiply(seed: int, sets: list[list[int]]) -> None:
    """Each cause adds, over the state without any, what it would add alone."""
    tables = single_of(seed)
    names = [*tables.root_states, *(f"s{i}" for i in range(len(sets)))]
    prior = np.full(len(names), 1 / len(names))
    joined = join_columns(tables, sets, prior, names)
    assert tuple(names) == joined.root_states and len(names) == joined.n_root
    for i, member in enumerate(sets):
        absent = (1 - tables.p_hidden[:, 0]) * np.prod(
            [(1 - tables.p_hidden[:, m]) / (1 - tables.p_hidden[:, 0]) for m in member], axis=0
        )
        assert 1 - absent == pytest.approx(joined.p_hidden[:, 4 + i], abs=1e-12)
        for key, gate in tables.gates.items():
            leak = gate.cum_root[:, 0]
            expected = leak * np.prod([gate.cum_root[:, m] / leak for m in member], axis=0)
            assert expected == pytest.approx(joined.gates[key].cum_root[:, 4 + i], abs=1e-12)


@given(seeds)
@law
def test_join_columns__single_causes_stay_as_they_are(seed: int) -> None:
    tables = single_of(seed)
    joined = join_columns(tables, [(1, 2), (1, 2, 3)], np.full(6, 1 / 6), list("abcdef"))
    expected = cut_columns(joined, np.arange(4))
    assert np.array_equal(tables.p_hidden, expected.p_hidden)
    for key, gate in tables.gates.items():
        assert np.array_equal(gate.cum_root, expected.gates[key].cum_root)


def test_join_columns__without_sets_only_prior_and_names_change() -> None:
    tables = single_of(1)
    prior = np.array([0.7, 0.1, 0.1, 0.1])
    joined = join_columns(tables, [], prior, list("abcd"))
    assert (tuple("abcd"), tables.gates) == (joined.root_states, joined.gates)
    assert prior.tolist() == joined.prior.tolist()


@given(seeds)
@law
def test_join_columns__a_set_is_no_less_likely_to_show_than_its_causes(seed: int) -> None:
    tables = single_of(seed)
    joined = join_columns(tables, [(1, 2)], np.full(5, 0.2), list("abcde"))
    for key in tables.gates:
        below = weigh_by_force(joined, {key: 0})
        assert below[4] <= min(below[1], below[2]) + 1e-12


@given(seeds, st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3), st.integers(0, 3)), min_size=1, max_size=5))
@law
def test_take_sets__equals_joining_and_cutting(seed: int, sets: list[tuple[int, int, int]]) -> None:
    """State 0 fills sets up and adds nothing."""
    tables = single_of(seed)
    taken = take_sets(tables, np.array(sets).T, ["f1", "f3"])
    assert ["f1", "f3"] == list(taken.gates)
    names = [*tables.root_states, *map(str, range(len(sets)))]
    filled = [[m for m in member if m] or [0] for member in sets]
    joined = join_columns(tables, filled, np.full(len(names), 1 / len(names)), names)
    expected = cut_columns(joined, np.arange(4, len(names)))
    assert expected.p_hidden == pytest.approx(taken.p_hidden, abs=1e-12)
    for key in taken.gates:
        assert expected.gates[key].cum_root == pytest.approx(taken.gates[key].cum_root, abs=1e-12)
    assert np.full(len(sets), 1 / len(sets)) == pytest.approx(taken.prior, abs=1e-15)


def test_join_columns__where_nothing_can_be_without_the_leak_nothing_is_divided_by_zero() -> None:
    """A sign that always shows: P(below) is 0 in every state, and stays 0."""
    gate = GateTable("f", 2, np.array([[0.0, 0.0, 0.0], [1.0, 1.0, 1.0]]), (), np.zeros((0, 2)))
    tables = HubTables("r", tuple("abc"), np.full(3, 1 / 3), (), np.zeros((0, 3)), {"f": gate})
    assert [0.0, 1.0] == join_columns(tables, [(1, 2)], np.full(4, 0.25), list("abcd")).gates["f"].cum_root[
        :, 3
    ].tolist()


@given(hubs(), st.data())
@law
def test_cut_columns__likelihoods_are_those_of_the_columns(drawn: tuple, data: st.DataObject) -> None:
    tables, evidence = drawn
    columns = np.array(data.draw(st.lists(st.integers(0, tables.n_root - 1), min_size=1, max_size=5)))
    cut = cut_columns(tables, columns)
    assert tuple(tables.root_states[i] for i in columns) == cut.root_states
    assert weigh_by_force(tables, evidence)[columns] == pytest.approx(weigh_by_force(cut, evidence), abs=1e-15)
    assert tables.prior[columns].tolist() == cut.prior.tolist(), "the prior is cut out, not scaled up"


def test_cut_columns__of_several_draws_is_a_programming_fault() -> None:
    tables = single_of(1)
    with pytest.raises(AssertionError, match="several draws"):
        cut_columns(lay_beside([tables, tables]), np.array([0]))


def test_take_sets__of_several_draws_are_those_of_each_draw() -> None:
    first, sets = single_of(1), np.array([[0, 0], [1, 0], [1, 3], [2, 3]]).T
    draws = [first, first.vary(p_hidden=first.p_hidden * 0.5, gates=_halved(first.gates))]
    keys = [*first.gates][1:]
    beside = take_sets(lay_beside(draws), sets, keys)
    assert (2, 8) == (beside.n_draws, beside.n_root)
    for single, expected in zip(split_draws(beside), draws, strict=True):
        assert same_tables(take_sets(expected, sets, keys), single)


def _halved(gates: Mapping[str, GateTable]) -> dict[str, GateTable]:
    """Give gates of the same form with other numbers."""
    factor = {key: np.linspace(0.5, 1, gate.n_states) for key, gate in gates.items()}
    return {
        key: gate.vary(cum_root=gate.cum_root * factor[key][:, None], cum_hidden=gate.cum_hidden * factor[key])
        for key, gate in gates.items()
    }


@given(hubs())
@law
def test_stack_gates__holds_all_that_lessens_a_row(drawn: tuple) -> None:
    """Row by row the product of root and entries is P(finding <= j) with every hidden variable present."""
    tables, _ = drawn
    stack = stack_gates(tables.gates)
    assert sorted(stack.row.tolist()) == stack.row.tolist()
    factors = multiply_groups(stack.factor, stack.row, len(stack.cum_root))
    for key, gate in tables.gates.items():
        own = stack.rows[key]
        expected = gate.cum_root[:-1] * gate.cum_hidden[:, :-1].prod(axis=0)[:, None]
        assert expected == pytest.approx(stack.cum_root[own] * factors[own, None], abs=1e-12)
        assert set(stack.hidden[(own.start <= stack.row) & (stack.row < own.stop)]) <= set(gate.hidden)


def test_stack_gates__of_nothing() -> None:
    stack = stack_gates({})
    assert (0, 0) == (len(stack.cum_root), len(stack.row))


def test_stack__is_made_once() -> None:
    tables = single_of(1)
    assert tables.stack is tables.stack


@given(st.lists(st.tuples(st.integers(0, 4), st.floats(-3, 3)), max_size=9))
@law
def test_multiply_groups__equals_multiplying_by_hand(entries: list[tuple[int, float]]) -> None:
    entries.sort()
    groups, values = np.array([g for g, _ in entries], dtype=np.intp), np.array([v for _, v in entries])
    expected = [float(np.prod([value for other, value in entries if other == group])) for group in range(5)]
    assert expected == pytest.approx(multiply_groups(values, groups, 5), abs=1e-12)


def test_multiply_groups__rows_of_many_columns() -> None:
    values = np.arange(1.0, 7.0).reshape(3, 2)
    assert [[1.0, 1.0], [3.0, 8.0], [5.0, 6.0]] == multiply_groups(values, np.array([1, 1, 2]), 3).tolist()


def test_as_rows__one_row_per_entry() -> None:
    assert [[1.0], [2.0]] == as_rows(np.array([1.0, 2.0])).tolist()
    already = np.ones((2, 3))
    assert already is as_rows(already)


@given(st.lists(st.floats(0.01, 1), min_size=2, max_size=5))
@law
def test_cumulate_rows__ends_at_exactly_1(values: list[float]) -> None:
    pmf = np.array(values) / sum(values)
    cumulated = cumulate_rows(pmf[None])[0]
    assert 1.0 == cumulated[-1]
    assert (np.diff(cumulated) >= 0).all()
    assert pmf[:-1] == pytest.approx(np.diff(cumulated, prepend=0.0)[:-1], abs=1e-12)


def test_pad_sets__fills_up_with_the_state_without_cause() -> None:
    assert [[1, 2, 4], [0, 3, 5], [0, 0, 6]] == pad_sets([(1,), (2, 3), (4, 5, 6)]).tolist()
    assert (1, 0) == pad_sets([]).shape


def test_late_gates__are_written_once_and_only_when_asked_for() -> None:
    written: list[str] = []

    def write(key: str) -> GateTable:
        written.append(key)
        return GateTable(key, 2, np.ones((2, 1)), (), np.zeros((0, 2)))

    gates = LateGates(["f0", "f1"], write)
    assert (2, ["f0", "f1"], []) == (len(gates), list(gates), written)
    assert gates["f1"] is gates["f1"]
    assert ["f1"] == written
    assert "f2" not in LateGates(["f0"], {"f0": gates["f1"]}.__getitem__)


def test_reduce_groups__a_group_without_rows_keeps_what_stands_there() -> None:
    found = reduce_groups(np.maximum, np.array([2.0, 5.0, 3.0]), np.array([0, 0, 2]), np.array([7.0, 8.0, 9.0]))
    assert [5.0, 8.0, 3.0] == found.tolist()


@given(st.lists(st.integers(0, 6), min_size=1, max_size=40), st.integers(0, 2**16))
@law
def test_reduce_groups__groups_of_any_size(groups: list[int], seed: int) -> None:
    rows, own = np.random.default_rng(seed).random((len(groups), 3)), np.sort(groups)
    expected = [rows[own == group].max(axis=0, initial=0.0).tolist() for group in range(7)]
    assert expected == reduce_groups(np.maximum, rows, own, np.zeros((7, 3))).tolist()


@given(st.lists(st.lists(st.sampled_from([0.0, 0.5, 1.0]), min_size=2, max_size=2), min_size=1, max_size=8))
@law
def test_find_kinds__columns_of_one_kind_are_equal_and_kinds_differ(columns: list[list[float]]) -> None:
    rows = np.array(columns).T
    first, inverse = find_kinds(rows)
    assert np.array_equal(rows, rows[:, first][:, inverse])
    assert len(first) == len({tuple(column) for column in columns})


def test_find_kinds__of_draws_keeps_each_draw_apart() -> None:
    rows = np.array([[1.0, 1.0, 2.0, 7.0, 7.0, 8.0]])
    first, inverse = find_kinds(rows, 2)
    assert np.array_equal(rows, rows[:, first][:, inverse])
    assert 4 == len(first)


def test_find_kinds__equal_in_one_draw_but_not_in_another_are_two() -> None:
    rows = np.array([[1.0, 1.0, 7.0, 8.0]])
    first, inverse = find_kinds(rows, 2)
    assert np.array_equal(rows, rows[:, first][:, inverse])


def test_find_kinds__what_differs_in_the_last_digit_is_one_and_little_more_is_not() -> None:
    """0.1 + 0.2 is 0.3 but for the last digit; the third is told from the others only column by column."""
    first, inverse = find_kinds(np.array([[0.3, 0.1 + 0.2, 0.3 + 2e-14], [0.5, 0.5, 0.5]]))
    assert inverse[0] == inverse[1] or 3 == len(first)
    assert inverse[2] not in (inverse[0], inverse[1])
    assert 2 == len(find_kinds(np.array([[0.3, 0.1 + 0.2, 0.7]]))[0])


def test_find_kinds__no_rows_make_all_columns_one() -> None:
    first, inverse = find_kinds(np.zeros((0, 4)))
    assert ([0], [0, 0, 0, 0]) == (first.tolist(), inverse.tolist())


def test_find_kinds__changed_places_are_other_columns() -> None:
    assert 2 == len(find_kinds(np.array([[0.1, 0.2], [0.2, 0.1]]))[0])


@pytest.mark.parametrize("size", [1, 2, 3])
def test_gather_sets__every_set_is_found_again(size: int) -> None:
    kinds = np.random.default_rng(1).integers(0, 7, (size, 200))
    found, back = gather_sets(kinds, 7)
    assert np.sort(kinds, axis=0).tolist() == np.sort(found[:, back], axis=0).tolist()
    assert found.shape[1] == len({tuple(column) for column in np.sort(kinds, axis=0).T.tolist()})


@given(seeds, st.sampled_from([0.0, 0.1, 0.9]), st.sampled_from([0.3, 1.0]))
@law
def test_multiply_lessened__equals_multiplying_one_by_one(seed: int, share: float, most: float) -> None:
    """Of tables most of whose columns are alike, of others, and where a hidden variable is sure."""
    rng = np.random.default_rng(seed)
    present = np.repeat(rng.uniform(0, most, (4, 1)), 9, axis=1)
    present = np.where(rng.random(present.shape) < share, rng.uniform(0, 1, present.shape), present)
    present[rng.random(4) < 0.2] = 1.0
    table, row = rng.uniform(0, 1, (5, 9)), np.sort(rng.integers(0, 5, 7))
    hidden, factor = rng.integers(0, 4, 7), rng.choice([0.0, 0.3, 1.0], 7)
    expected = table.copy()
    for place, parent, by in zip(row.tolist(), hidden.tolist(), factor.tolist(), strict=True):
        expected[place] *= 1 - present[parent] * (1 - by)
    assert expected == pytest.approx(multiply_lessened(table, present, row, hidden, factor), rel=1e-11, abs=1e-14)


def test_multiply_lessened__nothing_lessens() -> None:
    table, none = np.ones((2, 3)), np.zeros(0, dtype=np.intp)
    assert np.array_equal(table, multiply_lessened(table, np.full((1, 3), 0.5), none, none, np.zeros(0)))


def test_take_sets__without_hidden_variables() -> None:
    tables = draw_tables(np.random.default_rng(1), 3, 0, 2)
    taken = take_sets(lay_beside([tables, tables]), np.array([[0, 2]]), [*tables.gates])
    assert ((0, 4), 2) == (taken.p_hidden.shape, taken.n_draws)
    assert np.array_equal(tables.gates["f0"].cum_root[:, [0, 2, 0, 2]], taken.gates["f0"].cum_root)
