"""Published posteriors, recomputed by the engine; each value names its source."""

import itertools
import math

import numpy as np
import pytest

from shiftlore.inference import prepare
from shiftlore.network import Network, NoisyLink, NoisyMax, Table, Variable


def burglary(p_burglary: float = 0.001, p_earthquake: float = 0.002, p_both_but_quake: float = 0.94) -> Network:
    """Build the burglary network of Russell and Norvig."""
    alarm = np.array([[0.001, 0.29], [p_both_but_quake, 0.95]])
    gates = [
        Table("b", (), [1 - p_burglary, p_burglary]),
        Table("e", (), [1 - p_earthquake, p_earthquake]),
        Table("a", ("b", "e"), np.stack([1 - alarm, alarm], axis=-1)),
        Table("j", ("a",), [[0.95, 0.05], [0.1, 0.9]]),
        Table("m", ("a",), [[0.99, 0.01], [0.3, 0.7]]),
    ]
    return Network([Variable(name) for name in "beajm"], gates)


@pytest.mark.parametrize(
    ("evidence", "wanted", "published", "tolerance"),
    [
        ({"j": 1, "m": 1}, "b", 0.284, 5e-4),
        ({"j": 1, "m": 1}, "b", 0.2841718, 1e-7),
        ({"b": 1}, "a", 0.94002, 1e-9),
        ({"b": 1}, "j", 0.849017, 1e-9),
        ({"b": 1}, "m", 0.6586138, 1e-9),
        ({"a": 1}, "b", 0.3735512, 1e-7),
        ({"a": 1, "e": 1}, "b", 0.003268424, 1e-9),
        ({"j": 1}, "b", 0.01628373, 1e-8),
        ({"j": 1, "e": 0}, "a", 0.03378824, 1e-8),
    ],
)
def test_posterior__burglary(evidence, wanted, published, tolerance):
    """Russell and Norvig, Artificial Intelligence, chapter on probabilistic reasoning (first values from memory).

    A slide prints .003 for P(a | j, not e); the network gives .0338, so that is a misprint.
    """
    found = prepare(burglary()).posterior(evidence, [wanted])
    assert published == pytest.approx(found.p_present[0], abs=tolerance)


def test_posterior__burglary_older_table_explains_the_376():
    """P(b | a) = .376 is printed too; it belongs to P(a | b, not e) = .95 of an older edition, not to .94."""
    found = prepare(burglary(p_both_but_quake=0.95)).posterior({"a": 1}, ["b"])
    assert pytest.approx(found.p_present[0], abs=1e-7) == 0.3760259


def test_posterior__burglary_both_call():
    """P(j, m | b) = .5922 (Vidakovic, Statistics for Bioengineering Sciences)."""
    engine = prepare(burglary())
    log_p = engine.posterior({"b": 1, "j": 1, "m": 1}).log_p_evidence - engine.posterior({"b": 1}).log_p_evidence
    assert pytest.approx(math.exp(log_p), abs=1e-7) == 0.5922426


def test_posterior__burglary_one_world():
    """P(j, m, a, not b, not e) = .000628 (Russell and Norvig)."""
    found = prepare(burglary()).posterior({"j": 1, "m": 1, "a": 1, "b": 0, "e": 0})
    assert pytest.approx(math.exp(found.log_p_evidence), abs=1e-12) == 0.0006281112599


QUICKSCORE_PRIORS = [0.02, 0.05, 0.01, 0.03]
QUICKSCORE_LINKS = [[0.8, 0.3, 0, 0.1], [0.0, 0.6, 0.5, 0.2], [0.4, 0, 0.7, 0.0], [0.2, 0.2, 0.2, 0.2]]
QUICKSCORE_LEAKS = [0.01, 0.02, 0.005, 0.05]


def two_layers() -> Network:
    """Build the four causes and four findings on which the quickscore identity is checked (numbers made up)."""
    causes = [f"d{index}" for index in range(4)]
    gates: list = [Table(name, (), [1 - p, p]) for name, p in zip(causes, QUICKSCORE_PRIORS, strict=True)]
    for index, (strengths, leak) in enumerate(zip(QUICKSCORE_LINKS, QUICKSCORE_LEAKS, strict=True)):
        links = [NoisyLink(name, [[1, 0], [1 - q, q]]) for name, q in zip(causes, strengths, strict=True) if q]
        gates.append(NoisyMax(f"f{index}", [1 - leak, leak], tuple(links)))
    return Network([Variable(gate.child) for gate in gates], gates)


def quickscore(fixed: dict[int, int]) -> float:
    """Work out P(f0, f1, not f2, fixed causes) by inclusion and exclusion over the telling findings."""
    total = 0.0
    for size in range(3):
        for subset in itertools.combinations([0, 1], size):
            quiet = [*subset, 2]
            term = (-1) ** size * math.prod(1 - QUICKSCORE_LEAKS[f] for f in quiet)
            for cause, prior in enumerate(QUICKSCORE_PRIORS):
                present = prior * math.prod(1 - QUICKSCORE_LINKS[f][cause] for f in quiet)
                state = fixed.get(cause)
                term *= present if state == 1 else 1 - prior if state == 0 else present + 1 - prior
            total += term
    return total


def test_posterior__quickscore_identity():
    """Heckerman 1989, "A tractable inference algorithm for diagnosing multiple diseases": the identity is published,
    the numbers are made up and were checked with two other programs.
    """
    found = prepare(two_layers()).posterior({"f0": 1, "f1": 1, "f2": 0})
    assert math.log(quickscore({})) == pytest.approx(found.log_p_evidence, abs=1e-12)
    assert pytest.approx(math.exp(found.log_p_evidence), abs=1e-8) == 0.01055517
    assert pytest.approx(found.p_present, abs=1e-7) == [0.05311898, 0.8964043, 0.00672073, 0.1041846]
    for cause in range(4):
        assert quickscore({cause: 1}) / quickscore({}) == pytest.approx(found.p_present[cause], abs=1e-12)


def test_joint_outcomes__sound_findings_leave_causes_independent():
    """Jaakkola and Jordan 1999: given only absent findings, the posterior over the causes stays a product."""
    engine = prepare(two_layers())
    both = engine.joint_outcomes({"f0": 0}, ["d0", "d1"])
    p_both = next(outcome.p for outcome in both if outcome.assignment == {"d0": 1, "d1": 1})
    single = engine.posterior({"f0": 0}, ["d0", "d1"]).p_present
    assert single[0] * single[1] == pytest.approx(p_both, abs=1e-15)


def test_posterior__earthquake_file_is_not_the_textbook_network():
    """Korb and Nicholson 2010 use the same graph with priors .01 and .02: P(b | j, m) = .5565221, not .284."""
    found = prepare(burglary(0.01, 0.02)).posterior({"j": 1, "m": 1}, ["b"])
    assert pytest.approx(found.p_present[0], abs=1e-7) == 0.5565221
