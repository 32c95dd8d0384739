"""Products that stand for gates, configuration by configuration."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shiftlore.exact.answers import Gate
from shiftlore.exact.bounds import Replaced, bound_above, bound_below, show_apart

law = settings(max_examples=80, deadline=None, derandomize=True)
seeds = st.integers(0, 2**32 - 1)


def draw_gates(seed: int) -> tuple[list[Gate], np.ndarray]:
    """Draw gates over four hidden variables and three root states, and where the hidden variables probably stand."""
    rng = np.random.default_rng(seed)
    gates = []
    for i in range(int(rng.integers(1, 4))):
        hidden = tuple(sorted(rng.choice(4, int(rng.integers(1, 5)), replace=False).tolist()))
        gates.append(Gate(f"f{i}", hidden, rng.uniform(0, 0.99, len(hidden)), rng.uniform(0, 0.999, 3)))
    return gates, rng.uniform(0, 1, (4, 3))


def log_shown(gates: list[Gate], present: tuple[int, ...]) -> np.ndarray:
    """Give ln P(all gates show | hidden configuration), shape (n_root,)."""
    total = np.zeros(3)
    for gate in gates:
        missed = gate.root_misses * np.prod([m for h, m in zip(gate.hidden, gate.misses, strict=True) if present[h]])
        total += np.log(1 - missed)
    return total


def replace_gates(replaced: Replaced, present: tuple[int, ...]) -> np.ndarray:
    """Give the product in their place under a configuration."""
    return replaced.log_root + np.array(present) @ replaced.log_weights


@given(seeds)
@law
def test_bound_above__is_no_less_in_any_configuration(seed: int) -> None:
    gates, p_present = draw_gates(seed)
    replaced = bound_above(gates, p_present)
    for present in product((0, 1), repeat=4):
        assert (replace_gates(replaced, present) >= log_shown(gates, present) - 1e-9).all()


@given(seeds)
@law
def test_bound_below__is_no_more_in_any_configuration(seed: int) -> None:
    gates, p_present = draw_gates(seed)
    replaced = bound_below(gates, p_present)
    for present in product((0, 1), repeat=4):
        assert (replace_gates(replaced, present) <= log_shown(gates, present) + 1e-9).all()


@given(st.floats(0.01, 0.9), st.floats(0.01, 0.9), st.sampled_from([0.0, 1.0]))
@law
def test_bound_above__touches_where_it_is_laid(root_miss: float, miss: float, p: float) -> None:
    gate = Gate("f", (0,), np.array([miss]), np.array([root_miss]))
    replaced = bound_above([gate], np.array([[p]]))
    expected = np.log(1 - root_miss * (miss if p else 1.0))
    assert expected == pytest.approx(float(replaced.log_root[0] + p * replaced.log_weights[0, 0]), abs=1e-9)


@given(st.floats(0.01, 0.9), st.floats(0.01, 0.9))
@law
def test_bound_below__of_one_parent_is_met_at_both_ends(root_miss: float, miss: float) -> None:
    gate = Gate("f", (0,), np.array([miss]), np.array([root_miss]))
    replaced = bound_below([gate], np.array([[0.5]]))
    assert np.log(1 - root_miss) == pytest.approx(float(replaced.log_root[0]), abs=1e-9)
    both = float(replaced.log_root[0] + replaced.log_weights[0, 0])
    assert np.log(1 - root_miss * miss) == pytest.approx(both, abs=1e-9)


def test_bound_below__a_gate_that_the_root_never_sets_off_is_minus_infinity_without_parents() -> None:
    """ln 0 has no chord: the lower bound says nothing, and is no nan."""
    gate = Gate("f", (0,), np.array([0.5]), np.array([1.0]))
    replaced = bound_below([gate], np.array([[0.5]]))
    assert [-np.inf] == replaced.log_root.tolist()
    assert np.isfinite(replaced.log_weights).all()


def test_bound_below__parents_that_set_nothing_off_in_one_draw_leave_the_root_alone() -> None:
    """In draws side by side a parent may bear on the gate in one of them only."""
    gate = Gate("f", (0, 1), np.array([[0.5, 1.0], [0.3, 1.0]]), np.array([0.4, 0.4]))
    replaced = bound_below([gate], np.full((2, 2), 0.5))
    assert [0.0, 0.0] == replaced.log_weights[:, 1].tolist()
    assert (replaced.log_weights[:, 0] > 0).all()
    assert np.log([0.6, 0.6]) == pytest.approx(replaced.log_root, abs=1e-12)


@given(seeds)
@law
def test_show_apart__equals_summing_each_gate_by_force(seed: int) -> None:
    gates, p_present = draw_gates(seed)
    expected = np.zeros((len(gates), 3))
    for present in product((0, 1), repeat=4):
        on = np.array(present)[:, None]
        p = np.where(on, p_present, 1 - p_present).prod(axis=0)
        expected += p * np.exp([log_shown([gate], present) for gate in gates])
    assert np.log(expected) == pytest.approx(show_apart(gates, p_present), abs=1e-9)


@given(seeds)
@law
def test_show_apart__their_product_is_no_more_than_together(seed: int) -> None:
    """Harris 1960: increasing events of independent variables support each other."""
    gates, p_present = draw_gates(seed)
    together = np.zeros(3)
    for present in product((0, 1), repeat=4):
        on = np.array(present)[:, None]
        together += np.where(on, p_present, 1 - p_present).prod(axis=0) * np.exp(log_shown(gates, present))
    assert (show_apart(gates, p_present).sum(axis=0) <= np.log(together) + 1e-9).all()
