"""The network in a general library."""

import warnings
from collections.abc import Mapping
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.enumeration import enumerate_posteriors
from support.trade import compiled_of, small_case

from shiftlore.basics import UnknownId
from shiftlore.cases import Answer, Case
from shiftlore.compiling import compile_case, query_with_pgmpy, render_bif, to_pgmpy
from shiftlore.compiling.exporting import (
    NOT_ABOVE,
    REACHED,
    assemble_network,
    choose_order,
    observe,
    observe_chains,
    prune_network,
)
from shiftlore.compiling.gates import ROOT
from shiftlore.exact import Doubted, HubEngine
from shiftlore.network import NoisyMax, Table, divorce

ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark", "line_pressure_idle": "no"}


def test_to_pgmpy__is_a_model_that_the_library_accepts() -> None:
    assert to_pgmpy(small_case().network).check_model()


def test_to_pgmpy__keeps_names_of_grades_and_splits_wide_gates() -> None:
    compiled = small_case()
    model = to_pgmpy(compiled.network)
    assert ["red", "dark", "black"] == model.get_cpds("fluid_colour").state_names["fluid_colour"]
    assert max(len(model.get_parents(node)) for node in model.nodes()) <= 3
    assert set(compiled.network.variables) <= set(model.nodes())


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::FutureWarning")
def test_query_with_pgmpy__agrees_on_the_small_knowledge() -> None:
    """Source: pgmpy, variable elimination."""
    compiled = small_case(ANSWERS, odometer_km=210_000.0)
    assert query_with_pgmpy(compiled) == pytest.approx(compiled.p_faults, abs=1e-9)


@pytest.mark.filterwarnings("ignore::DeprecationWarning", "ignore::FutureWarning")
def test_query_with_pgmpy__agrees_with_a_doubted_answer() -> None:
    findings = {
        "fluid_colour": Answer("fluid_colour", "dark", "think_so"),
        "gear_slips_2": Answer("gear_slips_2", "yes"),
    }
    compiled = compile_case(small_case().unit, Case("long5", findings=findings))
    assert query_with_pgmpy(compiled) == pytest.approx(compiled.p_faults, abs=1e-9)


def test_prune_network__keeps_targets_and_what_stands_above() -> None:
    pruned = prune_network(small_case().network, ["fluid_colour", "fault"])
    assert {"fault", "fluid_colour"} == set(pruned.variables)
    pruned = prune_network(small_case().network, ["line_pressure_idle"])
    assert {"fault", "line_pressure_low", "line_pressure_idle"} == set(pruned.variables)


def test_prune_network__changes_no_answer() -> None:
    compiled = small_case(ANSWERS)
    pruned = prune_network(compiled.network, [*compiled.evidence, "fault"])
    assert enumerate_posteriors(pruned, compiled.evidence).p_states["fault"] == pytest.approx(
        compiled.p_faults, abs=1e-12
    )


def test_choose_order__the_large_root_stays_and_everything_else_goes_once() -> None:
    scopes = [{"root", "a"}, {"a", "b"}, {"b", "c", "root"}]
    order = choose_order(scopes, {"root": 400, "a": 2, "b": 2, "c": 2}, "root")
    assert {"a", "b", "c"} == set(order) and 3 == len(order)


def test_choose_order__takes_what_leaves_the_smallest_table() -> None:
    """c leaves a table over b alone; a would leave one over root and b."""
    order = choose_order([{"root", "a"}, {"a", "b"}, {"b", "c"}], {"root": 400, "a": 2, "b": 2, "c": 2}, "root")
    assert "c" == order[0]


def test_observe_chains__a_sound_end_has_a_sound_chain() -> None:
    split = divorce(small_case().network, 2)
    assert {0} == set(observe_chains(split, {"gear_slips_2": 0}).values())
    assert 1 < len(observe_chains(split, {"gear_slips_2": 0}))
    assert {"gear_slips_2": 1} == observe_chains(split, {"gear_slips_2": 1})


def small_model():
    """Give the small knowledge as pgmpy's model."""
    return to_pgmpy(small_case(ANSWERS).network)


def written_states(compiled) -> list[str]:
    """Name the faults as the file does."""
    return [name.replace("+", "__and__") for name in compiled.faults.names]


@pytest.mark.filterwarnings("ignore")
def test_render_bif__is_read_back_by_pgmpy_with_the_same_posterior() -> None:
    """Source: pgmpy, its own reader and variable elimination."""
    from pgmpy.inference import VariableElimination
    from pgmpy.readwrite import BIFReader

    compiled = small_case(ANSWERS)
    model = BIFReader(string=render_bif(small_model())).get_model()
    assert model.check_model()
    answer = VariableElimination(model).query(["fault"], ANSWERS, show_progress=False)
    found = [answer.get_value(fault=name) for name in written_states(compiled)]
    assert found == pytest.approx(compiled.p_faults, abs=1e-9)


def test_render_bif__is_read_by_pyagrum_with_the_same_posterior(tmp_path: Path) -> None:
    """Source: pyAgrum, lazy propagation. Its reader of BIF takes numbers in single precision (3e-8 off, measured)."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pyagrum
    compiled, path = small_case(ANSWERS), tmp_path / "small.bif"
    path.write_text(render_bif(small_model()), encoding="utf-8")
    engine = pyagrum.LazyPropagation(pyagrum.loadBN(str(path)))
    engine.setEvidence(ANSWERS)
    engine.makeInference()
    found = engine.posterior("fault")
    assert written_states(compiled) == list(found.variable(0).labels())
    assert found.tolist() == pytest.approx(compiled.p_faults, abs=2e-7)


@pytest.mark.filterwarnings("ignore")
def test_render_bif__writes_only_what_bears_on_the_question() -> None:
    text = render_bif(small_model(), ["fluid_colour"])
    assert ["fault", "fluid_colour"] == [line.split()[1] for line in text.splitlines() if line.startswith("variable")]


@pytest.mark.filterwarnings("ignore")
def test_render_bif__an_unknown_variable_names_the_nearest() -> None:
    with pytest.raises(UnknownId, match="fluid_colour"):
        render_bif(small_model(), ["fluid_color"])


GRADES = {"fluid_colour": 3, "line_pressure_idle": 2, "gear_slips_2": 2, "gear_slips_4": 2}


@pytest.mark.parametrize("unit", ["long5", "cvt", "step"])
def test_assemble_network__says_what_the_engine_works_on(unit: str) -> None:
    """Leak times link, cumulated, is the table's column; a gate without a link from the fault is its leak everywhere."""
    answers = {"slips": "yes", "fluid_colour": "black"}
    compiled = compiled_of(answers, unit=unit, odometer_km=90_000.0, background={"usage": "towing"})
    tables, network = compiled.engine.tables, compiled.network
    assert isinstance(network.gates[ROOT], Table)
    assert tables.prior == pytest.approx(network.gates[ROOT].array, abs=1e-12)
    for key, p_hidden in zip(tables.hidden, tables.p_hidden, strict=True):
        assert 1 - p_hidden == pytest.approx(cumulate_root(network.gates[key], tables.n_root)[0], abs=1e-12)
    for key, table in tables.gates.items():
        gate = network.gates[key]
        assert table.cum_root == pytest.approx(cumulate_root(gate, tables.n_root), abs=1e-12)
        states = {link.parent: np.cumsum(link.matrix[1]) for link in gate.links if link.parent != ROOT}
        assert [tables.hidden[h] for h in table.hidden] == list(states)
        for row, found in zip(table.cum_hidden, states.values(), strict=True):
            assert row == pytest.approx(found, abs=1e-12)


def cumulate_root(gate: NoisyMax, n_root: int) -> np.ndarray:
    """Give P(contribution of root and leak <= j | root state), shape (n_states, n_root)."""
    cumulated = np.repeat(np.cumsum(gate.leak)[:, None], n_root, axis=1)
    for link in gate.links:
        if link.parent == ROOT:
            cumulated = cumulated * np.cumsum(link.matrix, axis=1).T
    return cumulated


def enumerate_root(evidence: Mapping[str, int | Doubted]) -> np.ndarray:
    """Give P(root state | answers) of the small knowledge by going through every possible world."""
    compiled = small_case({"gear_slips_2": "yes", "fluid_colour": "black"})
    seen = observe(evidence)
    network = assemble_network(compiled.engine.tables, compiled.expansion, evidence)
    return enumerate_posteriors(prune_network(network, [*seen, ROOT]), seen).p_states[ROOT]


@given(st.dictionaries(st.sampled_from(sorted(GRADES)), st.integers(0, 2), max_size=4), st.data())
@settings(max_examples=20, deadline=None, derandomize=True)
def test_assemble_network__enumerated_equals_the_engine(answers: dict[str, int], data: st.DataObject) -> None:
    """Every world of the small knowledge, with sure and doubted answers."""
    evidence: dict[str, int | Doubted] = {}
    for key, grade in answers.items():
        grade = min(grade, GRADES[key] - 1)
        doubts = data.draw(st.one_of(st.none(), st.tuples(st.floats(0.01, 0.5), st.floats(0.01, 0.5))))
        evidence[key] = grade if doubts is None else Doubted(grade, *doubts)
    engine = small_case({"gear_slips_2": "yes", "fluid_colour": "black"}).engine
    assert enumerate_root(evidence) == pytest.approx(engine.posterior(evidence)[0], abs=1e-10)


def test_assemble_network__a_doubted_answer_adds_signs_of_its_own() -> None:
    compiled = small_case()
    evidence = {"fluid_colour": Doubted(1, 0.1, 0.2), "gear_slips_2": Doubted(0, 0.0, 0.2), "gear_slips_4": 1}
    plain = set(compiled.network.variables)
    network = assemble_network(compiled.engine.tables, compiled.expansion, evidence)
    added = {"fluid_colour" + NOT_ABOVE, "fluid_colour" + REACHED, "gear_slips_2" + NOT_ABOVE}
    assert added == set(network.variables) - plain
    observed = {
        "fluid_colour" + NOT_ABOVE: 0,
        "fluid_colour" + REACHED: 1,
        "gear_slips_2" + NOT_ABOVE: 0,
        "gear_slips_4": 1,
    }
    assert observed == observe(evidence)


def test_assemble_network__a_doubted_grade_that_a_cause_always_outdoes() -> None:
    """Where a cause surely makes the fluid black, "dark, I think" still has a number, the engine's."""
    compiled = small_case({"gear_slips_2": "yes"})
    tables, evidence = compiled.engine.tables, {"fluid_colour": Doubted(1, 0.1, 0.2)}
    gate = tables.gates["fluid_colour"]
    cum_root = gate.cum_root.copy()
    cum_root[:2, 1] = 0.0
    tables = tables.vary(gates={**tables.gates, "fluid_colour": gate.vary(cum_root=cum_root)})
    seen = observe(evidence)
    network = prune_network(assemble_network(tables, compiled.expansion, evidence), [*seen, ROOT])
    expected = enumerate_posteriors(network, seen).p_states[ROOT]
    assert expected == pytest.approx(HubEngine(tables).posterior(evidence)[0], abs=1e-12)


def test_observe__sure_answers_are_themselves() -> None:
    assert {"fluid_colour": 2, "gear_slips_1": 0} == observe({"fluid_colour": 2, "gear_slips_1": 0})


def test_assemble_network__every_gate_remembers_its_line() -> None:
    gates = [gate for gate in compiled_of().network.gates.values() if isinstance(gate, NoisyMax)]
    assert all(gate.mark is not None and gate.mark.file and gate.mark.line > 0 for gate in gates)


def test_assemble_network__only_the_fault_is_a_root() -> None:
    network = compiled_of().network
    assert (ROOT,) == network.roots
    assert {ROOT} == {parent for key in compiled_of().engine.tables.hidden for parent in network.gates[key].parents}


def test_assemble_network__a_background_moves_the_prior_alone() -> None:
    plain, towed = small_case().network, small_case(background={"usage": "towing"}).network
    assert plain.gates[ROOT].array != pytest.approx(towed.gates[ROOT].array, abs=1e-3)
    assert plain.gates["fluid_colour"].leak == pytest.approx(towed.gates["fluid_colour"].leak, abs=0)


def test_assemble_network__two_builds_are_equal() -> None:
    compiled = small_case()
    again = assemble_network(compiled.engine.tables, compiled.expansion)
    assert list(compiled.network.order) == list(again.order)


def test_assemble_network__none_is_sound_and_a_pair_shows_the_stronger() -> None:
    """Contributions of two causes: their cumulated rows multiply."""
    compiled = small_case({"fluid_colour": "black", "gear_slips_2": "yes", "line_pressure_idle": "no"})
    pair = compiled.faults.sets[0]
    gate = next(gate for gate in compiled.network.gates.values() if isinstance(gate, NoisyMax) and ROOT in gate.parents)
    rows = next(link.matrix for link in gate.links if link.parent == ROOT)
    assert np.eye(gate.n_states)[0] == pytest.approx(rows[0], abs=1e-15)
    place = compiled.faults.members.index(pair)
    expected = np.prod([np.cumsum(rows[cause + 1]) for cause in pair], axis=0)
    assert expected == pytest.approx(np.cumsum(rows[place]), abs=1e-12)
