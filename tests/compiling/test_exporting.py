"""The network in a general library."""

import warnings
from pathlib import Path

import pytest
from support.enumeration import enumerate_posteriors
from support.trade import small_case

from shiftlore.basics import UnknownId
from shiftlore.cases import Answer, Case
from shiftlore.compiling import compile_case, query_with_pgmpy, render_bif, to_pgmpy
from shiftlore.compiling.exporting import choose_order, observe_chains, prune_network
from shiftlore.network import divorce

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
    findings = {"fluid_colour": Answer("fluid_colour", "dark", "think_so"), "gear_slips_2": Answer("gear_slips_2", "yes")}
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
    assert enumerate_posteriors(pruned, compiled.evidence).p_states["fault"] == pytest.approx(compiled.p_faults, abs=1e-12)


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
