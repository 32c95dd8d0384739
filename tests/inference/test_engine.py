"""Laws of the engine, against enumeration of every world (Russell and Norvig, inference by enumeration)."""

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from support.strategies import seeds, small_evidence, small_network

import shiftlore.inference.engine as engine_module
from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.inference import prepare
from shiftlore.network import (
    Network,
    NoisyLink,
    NoisyMax,
    Table,
    Tie,
    Variable,
    draw_parameters,
    enumerate_joint,
    enumerate_posteriors,
    replace_parameters,
)

CLOSE = 1e-10
"""Agreement with enumeration that is asked of the engine."""

quick = settings(max_examples=60, deadline=None, derandomize=True)


def possible_case(seed: int):
    """Draw a small network, answers that are possible, and what enumeration says."""
    network, offset = small_network(seed), 0
    while True:
        evidence = small_evidence(network, seed + offset)
        try:
            return network, evidence, enumerate_posteriors(network, evidence)
        except ImpossibleEvidence:
            offset += 1


def yes_no(p_prior: float = 0.2, q: float = 1.0, leak: float = 0.0, tie: Tie | None = None) -> Network:
    """Build one cause and one finding."""
    cause, finding = Table("c", (), [1 - p_prior, p_prior]), NoisyLink("c", [[1, 0], [1 - q, q]])
    return Network([Variable("c"), Variable("f")], [cause, NoisyMax("f", [1 - leak, leak], (finding,))], tie)


@quick
@given(seeds)
def test_posterior__equals_enumeration(seed):
    network, evidence, expected = possible_case(seed)
    found = prepare(network).posterior(evidence, list(network.variables))
    assert expected.log_p_evidence == pytest.approx(found.log_p_evidence, abs=CLOSE)
    for name, p_states in expected.p_states.items():
        assert p_states == pytest.approx(found.p_states[name], abs=CLOSE)


@quick
@given(seeds)
def test_posterior__adds_up_to_one(seed):
    network, evidence, _ = possible_case(seed)
    found = prepare(network).posterior(evidence, list(network.variables))
    for index, name in enumerate(found.watch):
        assert pytest.approx(1, abs=1e-12) == found.p_states[name].sum()
        assert 1 - found.p_states[name][0] == pytest.approx(found.p_present[index], abs=1e-12)


@quick
@given(seeds)
def test_posterior__order_of_answers_does_not_matter(seed):
    network, evidence, _ = possible_case(seed)
    backwards = dict(reversed(evidence.items()))
    first, second = prepare(network).posterior(evidence), prepare(network).posterior(backwards)
    assert first.p_present == pytest.approx(second.p_present, abs=1e-13)


@quick
@given(seeds)
def test_posterior__unlinked_variable_changes_nothing(seed):
    network, evidence, _ = possible_case(seed)
    more = Network(
        [*network.variables.values(), Variable("alone")],
        [*network.gates.values(), Table("alone", (), [0.3, 0.7])],
        network.tie,
    )
    before = prepare(network).posterior(evidence)
    after = prepare(more).posterior({**evidence, "alone": 1}, before.watch)
    assert before.p_present == pytest.approx(after.p_present, abs=1e-13)
    assert before.log_p_evidence + math.log(0.7) == pytest.approx(after.log_p_evidence, abs=1e-12)


@quick
@given(seeds)
def test_turn__equals_adding_each_outcome(seed):
    network, evidence, _ = possible_case(seed)
    findings = [name for name in network.variables if name not in evidence]
    engine = prepare(network)
    turn = engine.turn(evidence, findings)
    now = enumerate_posteriors(network, evidence)
    for name in findings:
        assert now.p_states[name] == pytest.approx(turn.outcomes[name].p_outcome, abs=CLOSE)
        for state, p_outcome in enumerate(turn.outcomes[name].p_outcome):
            if p_outcome > 1e-4:
                then = enumerate_posteriors(network, {**evidence, name: state})
                expected = [1 - then.p_states[cause][0] for cause in network.roots]
                assert expected == pytest.approx(turn.outcomes[name].p_present[state], abs=CLOSE)


def test_turn__answered_finding_is_refused():
    with pytest.raises(ValueError, match="answered"):
        prepare(yes_no()).turn({"f": 1}, ["f"])


@quick
@given(seeds)
def test_without_each__equals_taking_the_answer_out(seed):
    network, evidence, _ = possible_case(seed)
    engine = prepare(network)
    taken = engine.without_each(evidence)
    assert tuple(evidence) == taken.findings
    for index, name in enumerate(evidence):
        rest = {other: answer for other, answer in evidence.items() if other != name}
        expected = enumerate_posteriors(network, rest)
        p_present = [1 - expected.p_states[cause][0] for cause in network.roots]
        assert p_present == pytest.approx(taken.p_present[index], abs=CLOSE)
        assert expected.log_p_evidence == pytest.approx(taken.log_p_evidence[index], abs=CLOSE)


def test_without_each__no_answers():
    assert prepare(yes_no()).without_each({}).p_present.shape == (0, 1)


@quick
@given(seeds)
def test_draws__equal_the_network_of_each_draw(seed):
    network, evidence, _ = possible_case(seed)
    parameters = draw_parameters(network, np.random.default_rng(seed), 3)
    drawn = prepare(network).draws(evidence, parameters)
    for draw in range(3):
        try:
            expected = enumerate_posteriors(replace_parameters(network, parameters, draw), evidence)
        except ImpossibleEvidence:
            continue  # a drawn strength of 1e-200 underflows in the enumeration, which does not scale
        p_present = [1 - expected.p_states[cause][0] for cause in network.roots]
        assert p_present == pytest.approx(drawn[draw], abs=CLOSE)


def test_draws__impossible_under_a_draw_is_zero_not_nan():
    network = yes_no(q=0.5)
    never = replace_parameters(network, draw_parameters(network, np.random.default_rng(1), 1), 0)
    never = Network(
        list(never.variables.values()),
        [never.gates["c"], NoisyMax("f", [1, 0], (NoisyLink("c", [[1, 0], [1, 0]]),))],
    )
    drawn = prepare(network).draws({"f": 1}, draw_parameters(never, np.random.default_rng(1), 2))
    assert drawn == pytest.approx(np.zeros((2, 1)), abs=0)


def test_draws__huge_weights_equal_the_mean():
    links = (NoisyLink("c", [[1, 0], [0.3, 0.7]], 1e14),)
    gates = [Table("c", (), [0.8, 0.2], 1e14), NoisyMax("f", [0.95, 0.05], links, 1e14)]
    network = Network([Variable("c"), Variable("f")], gates)
    engine = prepare(network)
    drawn = engine.draws({"f": 1}, draw_parameters(network, np.random.default_rng(1), 20))
    mean = engine.posterior({"f": 1}).p_present
    assert np.broadcast_to(mean, (20, 1)) == pytest.approx(drawn, abs=1e-5)


@quick
@given(seeds)
def test_joint_outcomes__equal_enumeration(seed):
    network, evidence, _ = possible_case(seed)
    findings = [name for name in network.variables if name not in evidence][-3:]
    listed = prepare(network).joint_outcomes(evidence, findings)
    assert pytest.approx(1, abs=1e-12) == sum(outcome.p for outcome in listed)
    for outcome in listed:
        then = enumerate_posteriors(network, {**evidence, **outcome.assignment})
        now = enumerate_posteriors(network, evidence)
        assert math.exp(then.log_p_evidence - now.log_p_evidence) == pytest.approx(outcome.p, abs=CLOSE)
        if outcome.p > 1e-4:
            expected = [1 - then.p_states[cause][0] for cause in network.roots]
            assert expected == pytest.approx(outcome.p_present, abs=CLOSE)


@quick
@given(seeds)
def test_joint_outcomes__mix_back_to_what_is_known_now(seed):
    network, evidence, _ = possible_case(seed)
    findings = [name for name in network.variables if name not in evidence and name not in network.roots]
    engine = prepare(network)
    listed = engine.joint_outcomes(evidence, findings, most=5)
    mixture = sum(outcome.p * outcome.p_present for outcome in listed)
    assert pytest.approx(1, abs=1e-12) == sum(outcome.p for outcome in listed)
    assert engine.posterior(evidence).p_present == pytest.approx(mixture, abs=CLOSE)


def test_joint_outcomes__long_list_ends_in_a_rest():
    findings = [NoisyMax(f"f{k}", [0.9, 0.1], (NoisyLink("c", [[1, 0], [0.4, 0.6]]),)) for k in range(8)]
    variables = [Variable("c"), *(Variable(gate.child) for gate in findings)]
    network = Network(variables, [Table("c", (), [0.7, 0.3]), *findings])
    listed = prepare(network).joint_outcomes({}, [gate.child for gate in findings], p_rest=0.35, most=64)
    assert listed[-1].assignment is None
    assert 0 < listed[-1].p <= 0.35
    assert listed[0].assignment == {gate.child: 0 for gate in findings}


@quick
@given(seeds)
def test_p_free__equals_the_expectation(seed):
    network, evidence, _ = possible_case(seed)
    rng = np.random.default_rng(seed)
    kappa = rng.uniform(0, 1, (3, len(network.roots)))
    found = prepare(network).p_free(evidence, kappa)
    ids = list(network.variables)
    joint = enumerate_joint(network)
    for name, answer in evidence.items():
        shape = [1] * len(ids)
        shape[ids.index(name)] = -1
        joint = joint * (np.eye(network.n_states(name))[answer] if isinstance(answer, int) else answer).reshape(shape)
    joint = joint / joint.sum()
    for row in range(3):
        expected = 0.0
        for world in itertools.product(*(range(network.n_states(name)) for name in ids)):
            present = [k for k, cause in enumerate(network.roots) if world[ids.index(cause)] > 0]
            expected += joint[world] * np.prod(kappa[row, present]) * bool(present)
        assert expected == pytest.approx(found[row], abs=CLOSE)


@quick
@given(seeds)
def test_hypotheses__equal_enumeration(seed):
    network, evidence, _ = possible_case(seed)
    found = prepare(network).hypotheses(evidence, pairs_among=network.roots[:2])
    ids = list(network.variables)
    joint = enumerate_joint(network)
    for name, answer in evidence.items():
        shape = [1] * len(ids)
        shape[ids.index(name)] = -1
        joint = joint * (np.eye(network.n_states(name))[answer] if isinstance(answer, int) else answer).reshape(shape)
    joint = joint / joint.sum()

    def p_exactly(wanted: set) -> float:
        index = tuple(
            slice(None) if name not in network.roots else slice(1, None) if name in wanted else slice(0, 1)
            for name in ids
        )
        return float(joint[index].sum())

    assert p_exactly(set()) == pytest.approx(found.p_none, abs=CLOSE)
    for cause, p_only in zip(network.roots, found.p_only, strict=True):
        assert p_exactly({cause}) == pytest.approx(p_only, abs=CLOSE)
    for pair, p_pair in zip(found.pairs, found.p_pair, strict=True):
        assert p_exactly(set(pair)) == pytest.approx(p_pair, abs=CLOSE)
    assert pytest.approx(1, abs=CLOSE) == found.p_none + found.p_only.sum() + found.p_pair.sum() + found.p_rest


def test_posterior__impossible_answers_name_the_smallest_clash():
    variables = [Variable("c"), Variable("f"), Variable("g"), Variable("h")]
    gates = [
        Table("c", (), [0.8, 0.2]),
        NoisyMax("f", [1, 0], (NoisyLink("c", [[1, 0], [0.5, 0.5]]),)),
        NoisyMax("g", [0.9, 0.1], (NoisyLink("c", [[1, 0], [0, 1]]),)),
        NoisyMax("h", [0.9, 0.1], (NoisyLink("c", [[1, 0], [0.5, 0.5]]),)),
    ]
    with pytest.raises(ImpossibleEvidence) as raised:
        prepare(Network(variables, gates)).posterior({"h": 1, "f": 1, "g": 0})
    assert {"f", "g"} == set(raised.value.clash)


def test_turn__impossible_outcome_is_never_nan():
    turn = prepare(yes_no(leak=0.0, p_prior=0.5)).turn({"c": 0}, ["f"])
    assert pytest.approx(turn.outcomes["f"].p_outcome, abs=1e-15) == [1, 0]
    assert np.all(np.isfinite(turn.outcomes["f"].p_present))


@pytest.mark.parametrize("n_findings", [20, 75, 300])
def test_posterior__keeps_its_digits_when_the_answers_are_improbable(n_findings):
    variables = [Variable("c"), Variable("d"), *(Variable(f"f{k}") for k in range(n_findings))]
    links = (NoisyLink("c", [[1, 0], [0.9, 0.1]]), NoisyLink("d", [[1, 0], [0.95, 0.05]]))
    gates = [Table("c", (), [0.5, 0.5]), Table("d", (), [0.5, 0.5])]
    gates += [NoisyMax(f"f{k}", [1, 0], links) for k in range(n_findings)]
    found = prepare(Network(variables, gates)).posterior({f"f{k}": 1 for k in range(n_findings)})
    both, only_c, only_d = 1 - 0.9 * 0.95, 0.1, 0.05
    ratio_c, ratio_d = (only_c / both) ** n_findings, (only_d / both) ** n_findings
    log_p = math.log(0.25) + n_findings * math.log(both) + math.log1p(ratio_c + ratio_d)
    assert log_p == pytest.approx(found.log_p_evidence, rel=1e-12)
    assert (1 + ratio_c) / (1 + ratio_c + ratio_d) == pytest.approx(found.p_present[0], abs=1e-12)


def test_posterior__tie_lifts_the_causes():
    """A vehicle that was brought in: prior 0.2, weight 0.05 of a sound one; by hand 0.2 / (0.2 + 0.8 * 0.05)."""
    found = prepare(yes_no(tie=Tie(("c",), 0.05))).posterior({})
    assert pytest.approx(found.p_present[0], abs=1e-14) == 0.2 / 0.24
    assert pytest.approx(0, abs=1e-14) == found.log_p_evidence


def test_posterior__bad_state_is_refused():
    with pytest.raises(ValueError, match="no state 2"):
        prepare(yes_no()).posterior({"f": 2})


def test_posterior__too_tangled_is_refused_before_the_memory_is_full(monkeypatch):
    monkeypatch.setattr(engine_module, "LARGEST_ARRAY", 1)
    with pytest.raises(UsageProblem, match="too many ways"):
        prepare(yes_no(leak=0.1)).posterior({"f": 1})
