"""Rules and faults become tables and a network that say the same."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import compiled_of, small_case, small_unit

from shiftlore.compiling.assembling import LARGEST_LEAK, ROOT, assemble_network, link_from_faults, raise_leak
from shiftlore.compiling.expansion import max_of_pmfs
from shiftlore.inference.hub_tables import build_tables, find_root
from shiftlore.network import NoisyMax


@pytest.mark.parametrize("unit", ["long5", "cvt", "step"])
def test_assemble_network__says_what_the_engine_works_on(unit: str) -> None:
    compiled = compiled_of(unit=unit, odometer_km=90_000.0, background={"usage": "towing"})
    from_network, direct = build_tables(compiled.network, ROOT), compiled.engine.tables
    assert list(direct.prior) == pytest.approx(from_network.prior, abs=1e-15)
    position = [direct.hidden.index(key) for key in from_network.hidden]
    assert from_network.p_hidden == pytest.approx(direct.p_hidden[position], abs=1e-12)
    for key, gate in from_network.gates.items():
        assert gate.cum_root == pytest.approx(direct.gates[key].cum_root, abs=1e-12)
        assert [from_network.hidden[h] for h in gate.hidden] == [direct.hidden[h] for h in direct.gates[key].hidden]
        assert gate.cum_hidden == pytest.approx(direct.gates[key].cum_hidden, abs=1e-12)


def test_assemble_network__has_the_shape_that_the_engine_needs() -> None:
    assert ROOT == find_root(compiled_of().network)


def test_assemble_network__every_gate_remembers_its_line() -> None:
    gates = [gate for gate in compiled_of().network.gates.values() if isinstance(gate, NoisyMax)]
    assert all(gate.mark is not None and gate.mark.file and gate.mark.line > 0 for gate in gates)


def test_assemble_network__a_background_moves_the_prior_alone() -> None:
    plain, towed = small_case().network, small_case(background={"usage": "towing"}).network
    assert plain.gates[ROOT].array != pytest.approx(towed.gates[ROOT].array, abs=1e-3)
    assert plain.gates["fluid_colour"].leak == pytest.approx(towed.gates["fluid_colour"].leak, abs=0)


def test_assemble_network__two_builds_are_equal() -> None:
    compiled = small_case()
    again = assemble_network(small_unit().knowledge, compiled.expansion, compiled.faults, {})
    assert list(compiled.network.order) == list(again.order)


def test_link_from_faults__none_is_sound_and_a_pair_shows_the_stronger() -> None:
    faults = small_case().faults
    rows = np.array([[0.5, 0.3, 0.2], [0.1, 0.6, 0.3]])
    table = link_from_faults([0, 5], rows, faults)
    pair = faults.names.index("worn_lining_c0+worn_pump")
    assert [1, 0, 0] == pytest.approx(table[0], abs=1e-15)
    assert list(rows[0]) == pytest.approx(table[1], abs=1e-15)
    assert max_of_pmfs([tuple(rows[0]), tuple(rows[1])], 3) == pytest.approx(table[pair], abs=1e-15)


@given(st.floats(0, 0.5), st.floats(0.1, 10))
def test_raise_leak__is_a_hazard_ratio(p: float, ratio: float) -> None:
    raised = raise_leak((1 - p, p), ratio)
    assert 1 == pytest.approx(sum(raised), abs=1e-12)
    assert min(1 - (1 - p) ** ratio, LARGEST_LEAK) == pytest.approx(raised[1], abs=1e-12)


def test_raise_leak__keeps_the_proportion_of_the_grades() -> None:
    raised = raise_leak((0.7, 0.2, 0.1), 1.7)
    assert 2 == pytest.approx(raised[1] / raised[2], rel=1e-12)


def test_raise_leak__nothing_to_raise() -> None:
    assert ((1.0, 0.0), (0.9, 0.1)) == (raise_leak((1.0, 0.0), 5), raise_leak((0.9, 0.1), 1.0))
