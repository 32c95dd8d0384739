"""The network in a general library."""

import numpy as np
import pytest
from support.trade import small_case

from shiftlore.cases import Answer, Case
from shiftlore.compiling import compile_case, query_with_pgmpy, to_pgmpy
from shiftlore.compiling.exporting import choose_order, observe_chains, prune_network
from shiftlore.network import divorce

ANSWERS = {"gear_slips_2": "yes", "fluid_colour": "dark", "line_pressure_idle": "no"}


def test_to_pgmpy__is_a_model_that_the_library_accepts() -> None:
    model, observed = to_pgmpy(small_case().network)
    assert {} == observed
    assert model.check_model()


def test_to_pgmpy__keeps_names_of_grades_and_splits_wide_gates() -> None:
    compiled = small_case()
    model, _ = to_pgmpy(compiled.network)
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
    from shiftlore.inference import prepare_hub

    compiled = small_case(ANSWERS)
    pruned = prune_network(compiled.network, [*compiled.evidence, "fault"])
    p_root, _ = prepare_hub(pruned).posterior(compiled.evidence)
    assert np.asarray(p_root) == pytest.approx(compiled.p_faults, abs=1e-13)


def test_choose_order__the_large_root_stays_and_everything_else_goes_once() -> None:
    scopes = [{"root", "a"}, {"a", "b"}, {"b", "c", "root"}]
    order = choose_order(scopes, {"root": 400, "a": 2, "b": 2, "c": 2}, "root")
    assert {"a", "b", "c"} == set(order) and 3 == len(order)


def test_choose_order__takes_what_leaves_the_smallest_table() -> None:
    """c leaves a table over b alone; a would leave one over root and b."""
    order = choose_order([{"root", "a"}, {"a", "b"}, {"b", "c"}], {"root": 400, "a": 2, "b": 2, "c": 2}, "root")
    assert "c" == order[0]


def test_observe_chains__a_sound_end_has_a_sound_chain() -> None:
    split = divorce(small_case().network, 2).network
    assert {0} == set(observe_chains(split, {"gear_slips_2": 0}).values())
    assert 1 < len(observe_chains(split, {"gear_slips_2": 0}))
    assert {"gear_slips_2": 1} == observe_chains(split, {"gear_slips_2": 1})
