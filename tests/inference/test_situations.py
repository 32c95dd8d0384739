"""The tie on top of two worlds, and hidden variables summed out of single rows."""

import numpy as np
import pytest

from shiftlore.inference.numbers import Numbers
from shiftlore.inference.planning import make_plan
from shiftlore.inference.reduction import sort_answers
from shiftlore.inference.rows import Rows, Term
from shiftlore.inference.situations import Situation
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Tie, Variable

LINK = [[1, 0], [0.4, 0.6]]


def situation(evidence: dict, tie: Tie | None = None) -> Situation:
    """Build a cause, a hidden state and a finding in a row, and the situation of some answers."""
    gates = [
        Table("a", (), [0.9, 0.1]),
        NoisyMax("s", [0.99, 0.01], (NoisyLink("a", LINK),)),
        NoisyMax("f", [0.95, 0.05], (NoisyLink("s", LINK),)),
    ]
    network = Network([Variable(gate.child) for gate in gates], gates, tie)
    return Situation(network, Numbers(network), sort_answers(network, evidence), (), make_plan)


def test_run__tie_by_hand():
    run = situation({}, Tie(("a",), 0.5)).run(Rows(1), ("a",))
    assert pytest.approx(np.exp(run.log_p[0]), abs=1e-14) == 0.9 * 0.5 + 0.1
    assert pytest.approx(run.p_present[0, 0], abs=1e-14) == 0.1 / 0.55


def test_expand__barren_state_becomes_two_rows():
    terms = situation({}).expand(situation({}).split_open("f", 0, Term(1.0, {})))
    assert len(terms) == 2
    assert all(set(term.vectors) <= {"a"} for term in terms)
    p_sound = sum(term.weight * (0.9 + 0.1 * term.vectors.get("a", np.ones(2))[1]) for term in terms)
    p_state = 1 - 0.99 * (0.9 + 0.1 * 0.4)
    assert 0.95 * (1 - 0.6 * p_state) == pytest.approx(p_sound, abs=1e-14)


def test_expand__state_with_a_place_stays():
    here = situation({"f": 1})
    term = here.split_open("s", 0, Term(1.0, {}))
    assert [term] == here.expand(term)


def test_holds__known_and_structural_variables():
    here = situation({"f": 1})
    assert here.holds("a") and here.holds("s") and here.holds("f")
    assert not situation({}).holds("s")


def test_log_norm__is_the_share_of_vehicles_brought_in():
    assert np.log(0.55) == pytest.approx(situation({}, Tie(("a",), 0.5)).log_norm[0], abs=1e-15)
