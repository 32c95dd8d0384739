"""Taking answers back in rows equals asking without them."""

import numpy as np
import pytest
from support.strategies import realistic_evidence, realistic_network

from shiftlore.inference import prepare
from shiftlore.inference.reduction import sort_answers
from shiftlore.inference.retractions import find_sound, without


@pytest.fixture(scope="module")
def case():
    """A network of middle size with answers."""
    network = realistic_network(5, n_causes=80, n_states=12, n_findings=90, n_areas=8)
    return network, realistic_evidence(network, 5, 18, 6)


def test_without_each__equals_asking_again_on_a_larger_network(case):
    network, evidence = case
    taken = prepare(network).without_each(evidence)
    for index, name in enumerate(evidence):
        rest = {other: answer for other, answer in evidence.items() if other != name}
        again = prepare(network).posterior(rest)
        assert again.p_present == pytest.approx(taken.p_present[index], abs=1e-10)
        assert again.log_p_evidence == pytest.approx(taken.log_p_evidence[index], abs=1e-9)


def test_find_sound__names_the_sound_findings(case):
    network, evidence = case
    sound = find_sound(network, sort_answers(network, evidence))
    assert sound == [name for name, state in evidence.items() if state == 0]


def test_without__takes_hard_and_soft_answers_back(case):
    network, evidence = case
    first, second = list(evidence)[:2]
    answers = sort_answers(network, {first: 0, second: np.linspace(0.5, 1, network.n_states(second))})
    assert without(answers, [first]).names == (second,)
    assert without(answers, [second]).names == (first,)
