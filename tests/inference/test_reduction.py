"""What is left of a network once the answers are in."""

import numpy as np
import pytest

from shiftlore.inference.numbers import Numbers
from shiftlore.inference.reduction import Reduction, Way, find_relevant, sort_answers
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable

LINK = [[1, 0], [0.4, 0.6]]


def layered() -> Network:
    """Build two causes, a hidden state below both, two findings below the state and one below a cause."""
    gates = [
        Table("a", (), [0.9, 0.1]),
        Table("b", (), [0.8, 0.2]),
        NoisyMax("s", [0.99, 0.01], (NoisyLink("a", LINK), NoisyLink("b", LINK))),
        NoisyMax("f", [0.95, 0.05], (NoisyLink("s", LINK),)),
        NoisyMax("g", [0.95, 0.05], (NoisyLink("s", LINK), NoisyLink("a", LINK))),
        NoisyMax("h", [0.95, 0.05], (NoisyLink("a", LINK), NoisyLink("b", LINK))),
    ]
    return Network([Variable(gate.child) for gate in gates], gates)


def reduce(evidence: dict, **options) -> Reduction:
    """Reduce the layered network."""
    network = layered()
    return Reduction(network, Numbers(network), sort_answers(network, evidence), **options)


def test_find_relevant__names_everything_above():
    assert find_relevant(layered(), ["f"]) == {"f", "s", "a", "b"}


def test_reduction__unanswered_findings_are_barren():
    assert set(reduce({}).node) == {"a", "b"}
    assert reduce({}).structure.factors == ()


def test_reduction__sound_finding_of_causes_adds_no_structure():
    reduction = reduce({"h": 0})
    assert reduction.structure.factors == ()
    assert pytest.approx(reduction.unary[reduction.node["a"]][:, 0], abs=1e-15) == [0.9, 0.1 * 0.4]
    assert pytest.approx(0.95, abs=1e-15) == reduction.constant[0]


def test_reduction__telling_finding_adds_one_gate_of_two_states():
    reduction = reduce({"h": 1})
    assert reduction.structure.sizes == (2, 2, 2)
    assert len(reduction.structure.factors) == 3


def test_reduction__sound_finding_keeps_the_hidden_state_above_it():
    assert "s" in reduce({"f": 0}).node


def test_reduction__known_state_cuts_its_children_off():
    reduction = reduce({"s": 1, "f": 1})
    assert set(reduction.node) == {"a", "b"}
    assert pytest.approx(reduction.unexplained["f"], abs=1e-15) == [1 - 0.95 * 0.4]


def test_reduction__clamped_cause_that_was_seen_present_is_impossible():
    assert reduce({"a": 1}, clamped=("a",)).constant[0] == 0


def test_reduction__needed_variable_keeps_its_place():
    assert "s" in reduce({}, needed=("s",)).node


def test_reduction__cumulated_is_not_careful():
    assert reduce({"f": 1}).careful
    assert not reduce({"f": 1}, way=Way.QUICK).careful


@pytest.mark.parametrize(
    ("evidence", "what"),
    [
        ({"x": 1}, "unknown"),
        ({"f": 2}, "no state"),
        ({"f": np.array([0.5, 0.5, 1])}, "likelihoods"),
        ({"f": np.array([0.0, 0.0])}, "not all"),
    ],
)
def test_sort_answers__bad_answers_are_refused(evidence, what):
    with pytest.raises(ValueError, match=what):
        sort_answers(layered(), evidence)
