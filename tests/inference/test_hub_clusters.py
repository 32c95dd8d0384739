"""Answers that share hidden variables, summed over together."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shiftlore.inference import hub_clusters
from shiftlore.inference.hub_clusters import (
    Cluster,
    add_weights,
    find_clusters,
    open_gate,
    split_answers,
    sum_cluster,
)
from shiftlore.inference.hub_tables import GateTable, HubTables

N_ROOT, N_HIDDEN = 3, 4


def draw_tables(seed: int, n_gates: int = 3) -> HubTables:
    """Draw tables of three root states, four hidden variables and some findings of two or three states."""
    rng = np.random.default_rng(seed)
    gates = {}
    for i in range(n_gates):
        size = int(rng.integers(2, 4))
        hidden = tuple(sorted(rng.choice(N_HIDDEN, int(rng.integers(1, 4)), replace=False).tolist()))
        cum_root = np.sort(rng.uniform(size=(size, N_ROOT)), axis=0)
        cum_hidden = np.sort(rng.uniform(size=(len(hidden), size)), axis=1)
        cum_root[-1], cum_hidden[:, -1] = 1, 1
        gates[f"f{i}"] = GateTable(f"f{i}", size, cum_root, hidden, cum_hidden)
    names = tuple(f"h{i}" for i in range(N_HIDDEN))
    p_hidden = rng.uniform(size=(N_HIDDEN, N_ROOT))
    return HubTables("root", ("a", "b", "c"), np.full(N_ROOT, 1 / 3), names, p_hidden, gates)


def count_by_hand(tables: HubTables, answers: dict, weights: np.ndarray) -> np.ndarray:
    """Sum over every state of every hidden variable, shape (n_root,)."""
    total = np.zeros(N_ROOT)
    for states in product((0, 1), repeat=N_HIDDEN):
        term = np.ones(N_ROOT)
        for h, present in enumerate(states):
            term *= tables.p_hidden[h] * weights[h] if present else 1 - tables.p_hidden[h]
        for name, answer in answers.items():
            gate = tables.gates[name]
            cumulated = gate.cum_root.copy()
            for h, row in zip(gate.hidden, gate.cum_hidden, strict=True):
                cumulated = cumulated * (row[:, None] if states[h] else 1)
            pmf = np.diff(cumulated, axis=0, prepend=0.0)
            term *= pmf[answer] if isinstance(answer, int) else np.asarray(answer) @ pmf
        total += term
    return total


def draw_answers(tables: HubTables, seed: int, doubt: bool) -> dict:
    """Draw a telling or doubted answer for every finding."""
    rng = np.random.default_rng(seed + 1)
    return {
        name: rng.uniform(0.1, 1, gate.n_states) if doubt and rng.uniform() < 0.5 else int(rng.integers(1, gate.n_states))
        for name, gate in tables.gates.items()
    }


def sum_up(tables: HubTables, answers: dict, weights: np.ndarray) -> np.ndarray:
    """Multiply the sums of all clusters and the hidden variables outside them, shape (n_root,)."""
    clusters = find_clusters([open_gate(tables.gates[name], answer) for name, answer in answers.items()])
    total = np.ones(N_ROOT)
    inside: set[int] = set()
    for cluster in clusters:
        total = total * sum_cluster(cluster, tables, weights)[0]
        inside |= set(cluster.hidden)
    for h in set(range(N_HIDDEN)) - inside:
        total = total * (1 - tables.p_hidden[h] * (1 - weights[h]))
    return total


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 5_000), st.booleans())
def test_sum_cluster__equals_counting_every_hidden_state(seed: int, doubt: bool) -> None:
    tables = draw_tables(seed)
    answers = draw_answers(tables, seed, doubt)
    weights = np.random.default_rng(seed + 2).uniform(size=N_HIDDEN)
    assert count_by_hand(tables, answers, weights) == pytest.approx(sum_up(tables, answers, weights), abs=1e-13)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 5_000))
def test_sum_cluster__the_order_of_closing_does_not_matter(seed: int) -> None:
    tables = draw_tables(seed)
    gates = [open_gate(tables.gates[name], answer) for name, answer in draw_answers(tables, seed, True).items()]
    weights = np.ones(N_HIDDEN)
    for cluster in find_clusters(gates):
        turned = Cluster(cluster.gates, cluster.hidden, cluster.order[::-1], len(cluster.gates))
        assert sum_cluster(cluster, tables, weights) == pytest.approx(sum_cluster(turned, tables, weights), abs=1e-14)


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 5_000))
def test_sum_cluster__a_variant_equals_other_weights(seed: int) -> None:
    tables = draw_tables(seed)
    rng = np.random.default_rng(seed)
    base = rng.uniform(size=N_HIDDEN)
    for cluster in find_clusters([open_gate(gate, 1) for gate in tables.gates.values()]):
        variants = [{h: float(rng.uniform()) for h in cluster.hidden[: k + 1]} for k in range(len(cluster.hidden))]
        rows = sum_cluster(cluster, tables, base, variants)
        for row, changes in zip(rows[1:], variants, strict=True):
            other = np.array([changes.get(h, base[h]) for h in range(N_HIDDEN)])
            assert sum_cluster(cluster, tables, other)[0] == pytest.approx(row, abs=1e-14)


def test_sum_cluster__many_variants_are_cut_up_and_stay_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    tables = draw_tables(3)
    cluster = find_clusters([open_gate(gate, 1) for gate in tables.gates.values()])[0]
    variants = [{cluster.hidden[0]: k / 9} for k in range(9)]
    whole = sum_cluster(cluster, tables, np.ones(N_HIDDEN), variants)
    monkeypatch.setattr(hub_clusters, "CELLS_PER_PASS", 1)
    assert whole == pytest.approx(sum_cluster(cluster, tables, np.ones(N_HIDDEN), variants), abs=1e-15)


def test_find_clusters__joined_by_a_shared_parent() -> None:
    def gate(name: str, *hidden: int) -> GateTable:
        return GateTable(name, 2, np.array([[0.5] * N_ROOT, [1.0] * N_ROOT]), hidden, np.array([[0.5, 1.0]] * len(hidden)))

    gates = [open_gate(gate(name, *hidden), 1) for name, hidden in (("a", (0,)), ("b", (2, 3)), ("c", (0, 1)))]
    assert [{0, 1}, {2, 3}] == sorted((set(cluster.hidden) for cluster in find_clusters(gates)), key=min)


def test_open_gate__a_sure_answer_needs_two_levels_a_doubted_one_all() -> None:
    gate = next(gate for gate in draw_tables(5, 6).gates.values() if gate.n_states == 3)
    assert (2, N_ROOT) == open_gate(gate, 2).closing.shape
    assert (3, N_ROOT) == open_gate(gate, np.array([0.1, 0.2, 0.7])).closing.shape


def test_add_weights__a_sound_answer_scales_its_parents() -> None:
    gate = GateTable("f", 2, np.ones((2, N_ROOT)), (1, 3), np.array([[0.4, 1.0], [0.9, 1.0]]))
    weights = np.ones(N_HIDDEN)
    add_weights(weights, gate, 0)
    assert [1, 0.4, 1, 0.9] == pytest.approx(weights, abs=0)


def test_split_answers__sound_ones_are_products() -> None:
    doubted = np.array([0.9, 0.1])
    assert (["a"], {"b": 1, "c": doubted}) == split_answers(draw_tables(1), {"a": 0, "b": 1, "c": doubted})
