"""Published posteriors of networks with one root, or that can be written so exactly; each value names its source.

Where a network has several causes at the top, they are independent yes/no hidden variables below a root that bears on
none of them, or one of them is the root.
"""

import itertools
import math

import numpy as np
import pytest
from support.hubs import predict_jointly

from shiftlore.basics import ImpossibleEvidence
from shiftlore.exact import Evidence, GateTable, HubEngine, HubTables


def make_gate(key: str, below: list[float], links: dict[int, float] | None = None) -> GateTable:
    """Make a yes/no finding.

    Args:
        below: P(root and leak do not show it) under each root state.
        links: hidden variable -> P(it shows the finding by itself).
    """
    links = links or {}
    cum_hidden = np.array([[1 - q, 1.0] for q in links.values()]).reshape(len(links), 2)
    return GateTable(key, 2, np.array([below, [1.0] * len(below)]), tuple(links), cum_hidden)


def make_engine(prior: list[float], p_hidden: list[list[float]], gates: list[GateTable]) -> HubEngine:
    """Make an engine; `p_hidden` holds a row per hidden variable."""
    names = tuple(f"r{i}" for i in range(len(prior))), tuple(f"h{i}" for i in range(len(p_hidden)))
    table = np.array(p_hidden).reshape(len(p_hidden), len(prior))
    return HubEngine(HubTables("root", names[0], np.array(prior), names[1], table, {gate.id: gate for gate in gates}))


def burglary(p_burglary: float = 0.001, p_quake: float = 0.002, p_no_quake: float = 0.94) -> HubEngine:
    """The burglary network of Russell and Norvig.

    Burglary and earthquake are the four states of the root (neither, earthquake, burglary, both); the alarm is a hidden
    variable; a call is a noisy-OR of the alarm with the calls that come without one as its leak.
    """
    b, e = p_burglary, p_quake
    prior = [(1 - b) * (1 - e), (1 - b) * e, b * (1 - e), b * e]
    alarm = [[0.001, 0.29, p_no_quake, 0.95]]
    calls = [make_call("j", 0.05, 0.9), make_call("m", 0.01, 0.7)]
    never = [
        make_gate("a", [1.0] * 4, {0: 1.0}),
        make_gate("e", [1.0, 0.0, 1.0, 0.0]),
        make_gate("b", [1.0, 1.0, 0.0, 0.0]),
    ]
    return make_engine(prior, alarm, [*calls, *never])


def make_call(key: str, leak: float, alarmed: float) -> GateTable:
    """Make a call: 1 - (1 - leak)(1 - q) is its probability with an alarm."""
    return make_gate(key, [1 - leak] * 4, {0: 1 - (1 - alarmed) / (1 - leak)})


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
        ({"j": 1}, "a", 0.04343771, 1e-8),
        ({"j": 1, "e": 0}, "a", 0.03378824, 1e-8),
    ],
)
def test_predict__burglary(evidence: Evidence, wanted: str, published: float, tolerance: float) -> None:
    """Russell and Norvig, Artificial Intelligence, chapter on probabilistic reasoning.

    A slide prints .003 for P(a | j, not e); the network gives .0338, so that is a misprint.
    """
    engine = burglary()
    p, _ = engine.posterior(evidence)
    assert published == pytest.approx(float(engine.predict(evidence, [wanted])[wanted][1] @ p), abs=tolerance)


def test_predict__burglary_older_table_explains_the_376() -> None:
    """P(b | a) = .376 is printed too; it belongs to P(a | b, not e) = .95 of an older edition, not to .94."""
    engine = burglary(p_no_quake=0.95)
    assert 0.3760259 == pytest.approx(float(engine.posterior({"a": 1})[0][2:].sum()), abs=1e-7)


def test_posterior__earthquake_file_is_not_the_textbook_network() -> None:
    """Korb and Nicholson 2010 use the same graph with priors .01 and .02: P(b | j, m) = .5565221, not .284."""
    engine = burglary(0.01, 0.02)
    assert 0.5565221 == pytest.approx(float(engine.posterior({"j": 1, "m": 1})[0][2:].sum()), abs=1e-7)
    assert 0.5834606 == pytest.approx(float(engine.posterior({"a": 1})[0][2:].sum()), abs=1e-7)
    assert 0.03202967 == pytest.approx(float(engine.posterior({"a": 1, "e": 1})[0][2:].sum()), abs=1e-8)


def test_predict_jointly__burglary_both_call() -> None:
    """P(j, m | b) = .5922 (Vidakovic, Statistics for Bioengineering Sciences)."""
    engine = burglary()
    p, _ = engine.posterior({"b": 1})
    assert 0.5922426 == pytest.approx(float(predict_jointly(engine, {"b": 1}, [{"j": 1, "m": 1}])[0] @ p), abs=1e-7)


def test_posterior__burglary_one_world() -> None:
    """P(j, m, a, not b, not e) = .000628 (Russell and Norvig)."""
    _, log_p = burglary().posterior({"j": 1, "m": 1, "a": 1, "b": 0, "e": 0})
    assert 0.0006281112599 == pytest.approx(math.exp(log_p), abs=1e-12)


QUICKSCORE_PRIORS = [0.02, 0.05, 0.01, 0.03]
QUICKSCORE_LINKS = [[0.8, 0.3, 0, 0.1], [0.0, 0.6, 0.5, 0.2], [0.4, 0, 0.7, 0.0], [0.2, 0.2, 0.2, 0.2]]
QUICKSCORE_LEAKS = [0.01, 0.02, 0.005, 0.05]


def two_layers() -> HubEngine:
    """The four causes and four findings on which the quickscore identity is checked (numbers made up), one state at the root."""
    gates = [
        make_gate(f"f{i}", [1 - leak], {cause: q for cause, q in enumerate(links) if q})
        for i, (links, leak) in enumerate(zip(QUICKSCORE_LINKS, QUICKSCORE_LEAKS, strict=True))
    ]
    never = [make_gate(f"d{i}", [1.0], {i: 1.0}) for i in range(4)]
    return make_engine([1.0], [[p] for p in QUICKSCORE_PRIORS], [*gates, *never])


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


def test_p_present__quickscore_identity() -> None:
    """Heckerman 1989, "A tractable inference algorithm for diagnosing multiple diseases": the identity is published,
    the numbers are made up and were checked with two other programs.
    """
    engine, evidence = two_layers(), {"f0": 1, "f1": 1, "f2": 0}
    _, log_p = engine.posterior(evidence)
    assert math.log(quickscore({})) == pytest.approx(log_p, abs=1e-12)
    assert 0.01055517 == pytest.approx(math.exp(log_p), abs=1e-8)
    found = engine.p_present(engine.stand(evidence))[:, 0]
    assert [0.05311898, 0.8964043, 0.00672073, 0.1041846] == pytest.approx(found, abs=1e-7)
    for cause in range(4):
        assert quickscore({cause: 1}) / quickscore({}) == pytest.approx(float(found[cause]), abs=1e-12)


def test_predict_jointly__sound_findings_leave_causes_independent() -> None:
    """Jaakkola and Jordan 1999: given only absent findings, the posterior over the causes stays a product."""
    engine = two_layers()
    both = predict_jointly(engine, {"f0": 0}, [{"d0": 1, "d1": 1}])[0, 0]
    apart = engine.predict({"f0": 0}, ["d0", "d1"])
    assert 0.0001444431 == pytest.approx(float(both), abs=1e-10)
    assert float(apart["d0"][1, 0] * apart["d1"][1, 0]) == pytest.approx(float(both), abs=1e-15)


@pytest.mark.parametrize(
    ("present", "published"),
    [
        ("000", 0.0),
        ("001", 0.9),
        ("010", 0.8),
        ("011", 0.98),
        ("100", 0.4),
        ("101", 0.94),
        ("110", 0.88),
        ("111", 0.988),
    ],
)
def test_predict__fever_table(present: str, published: float) -> None:
    """Russell and Norvig, noisy-OR of cold, flu, malaria (inhibitors .6, .2, .1): the causes are seen, fever is asked."""
    fever = make_gate("fever", [1.0], {0: 0.4, 1: 0.8, 2: 0.9})
    seen = [make_gate(name, [1.0], {i: 1.0}) for i, name in enumerate(("cold", "flu", "malaria"))]
    engine = make_engine([1.0], [[0.5], [0.5], [0.5]], [fever, *seen])
    evidence = {name: int(on) for name, on in zip(("cold", "flu", "malaria"), present, strict=True)}
    assert published == pytest.approx(float(engine.predict(evidence, ["fever"])["fever"][1, 0]), abs=1e-12)


@pytest.mark.parametrize(("present", "published"), [("00", 0.1), ("01", 0.46), ("10", 0.28), ("11", 0.568)])
def test_predict__leaky_closed_form(present: str, published: float) -> None:
    """Pearl 1988, page 184: 1 - (1 - leak) times the product of 1 - p; here leak .1, p .2 and .4; the first is the root."""
    effect = make_gate("effect", [0.9, 0.9 * 0.8], {0: 0.4})
    engine = make_engine([0.5, 0.5], [[0.5, 0.5]], [effect, make_gate("second", [1.0, 1.0], {0: 1.0})])
    found = engine.predict({"second": int(present[1])}, ["effect"])["effect"][1]
    assert published == pytest.approx(float(found[int(present[0])]), abs=1e-12)


def test_predict__noisy_max_rows() -> None:
    """A package vendor's noisy-max example: .1 .8 .1 by c1 alone, .05 .85 .1 with b2 (.5 .5 0) beside it."""
    gate = GateTable("f", 3, np.cumsum([[0.1], [0.8], [0.1]], axis=0), (0,), np.array([[0.5, 1.0, 1.0]]))
    engine = make_engine([1.0], [[0.5]], [gate, make_gate("b", [1.0], {0: 1.0})])
    assert [0.1, 0.8, 0.1] == pytest.approx(engine.predict({"b": 0}, ["f"])["f"][:, 0], abs=1e-12)
    assert [0.05, 0.85, 0.1] == pytest.approx(engine.predict({"b": 1}, ["f"])["f"][:, 0], abs=1e-12)


def chest_clinic() -> HubEngine:
    """The chest clinic of Lauritzen and Spiegelhalter 1988.

    Visit and smoking are the four states of the root (neither, smoking, visit, both); tuberculosis, cancer and bronchitis
    are hidden. X-ray and dyspnoea hang on "tuberculosis or cancer", which is a finding here: `ask_clinic` mixes over it.
    """
    p = [0.99 * 0.5, 0.99 * 0.5, 0.01 * 0.5, 0.01 * 0.5]
    tub, lung, bronc = [0.01, 0.01, 0.05, 0.05], [0.01, 0.1, 0.01, 0.1], [0.3, 0.6, 0.3, 0.6]
    seen = [make_gate(key, [1.0] * 4, {h: 1.0}) for h, key in enumerate(("tub", "lung", "bronc"))]
    either = make_gate("either", [1.0] * 4, {0: 1.0, 1: 1.0})
    asia, smoke = make_gate("asia", [1.0, 1.0, 0.0, 0.0]), make_gate("smoke", [1.0, 0.0, 1.0, 0.0])
    return make_engine(p, [tub, lung, bronc], [*seen, either, asia, smoke])


XRAY, DYSP = {0: 0.05, 1: 0.98}, {(0, 0): 0.1, (0, 1): 0.8, (1, 0): 0.7, (1, 1): 0.9}


def ask_clinic(wanted: str, evidence: dict[str, int]) -> float:
    """Give P(wanted | evidence): x-ray and dyspnoea are mixed over what they depend on, either and bronchitis."""
    engine, totals = chest_clinic(), np.zeros(2)
    inner = {key: state for key, state in evidence.items() if key not in ("xray", "dysp")}
    for either, bronc, value, xray, dysp in itertools.product((0, 1), repeat=5):
        world = {"xray": xray, "dysp": dysp, "either": either, "bronc": bronc}
        if any(world.get(key, state) != state for key, state in evidence.items()) or world.get(wanted, value) != value:
            continue
        answers = {**inner, "either": either, "bronc": bronc}
        if wanted not in ("xray", "dysp"):
            answers[wanted] = value
        p = [XRAY[either], DYSP[either, bronc]]
        weight = math.prod(q if on else 1 - q for q, on in zip(p, (xray, dysp), strict=True))
        totals[value] += weight * joint_of(engine, answers)
    return float(totals[1] / totals.sum())


def joint_of(engine: HubEngine, answers: dict[str, int]) -> float:
    """Give P(answers), 0 where they clash."""
    try:
        return math.exp(engine.posterior(answers)[1])
    except ImpossibleEvidence:
        return 0.0


@pytest.mark.parametrize(
    ("wanted", "printed"),
    [("tub", 0.0104), ("lung", 0.055), ("either", 0.0648), ("bronc", 0.45), ("xray", 0.1103), ("dysp", 0.436)],
)
def test_posterior__chest_clinic_priors(wanted: str, printed: float) -> None:
    """Lauritzen and Spiegelhalter 1988 (prior marginals, from memory)."""
    assert printed == pytest.approx(ask_clinic(wanted, {}), abs=5e-5)


@pytest.mark.parametrize(
    ("wanted", "printed", "standard_error"),
    [
        ("smoke", 0.631, 0.0054),
        ("tub", 0.0903, 0.0031),
        ("lung", 0.1, 0.0034),
        ("bronc", 0.8177, 0.0045),
        ("either", 0.1851, 0.0043),
        ("xray", 0.2222, 0.0045),
    ],
)
def test_posterior__chest_clinic_within_a_stored_sampling_run(
    wanted: str, printed: float, standard_error: float
) -> None:
    """Classic examples of a sampling program, volume 2 (asia): visit to Asia and dyspnoea, stored benchmark."""
    assert printed == pytest.approx(ask_clinic(wanted, {"asia": 1, "dysp": 1}), abs=3 * standard_error)


@pytest.mark.parametrize(
    ("evidence", "wanted", "exact"),
    [
        ({"asia": 1, "dysp": 1, "xray": 1}, "tub", 0.3917),
        ({"asia": 1, "dysp": 1, "xray": 1}, "lung", 0.4443),
        ({"asia": 1, "dysp": 1, "xray": 1}, "bronc", 0.6288),
        ({}, "xray", 0.11029),
        ({"tub": 0}, "xray", 0.10115),
        ({"xray": 0}, "tub", 0.000233784),
        ({"xray": 0, "dysp": 1}, "tub", 0.0004498214),
    ],
)
def test_posterior__chest_clinic_more_questions(evidence: dict[str, int], wanted: str, exact: float) -> None:
    """A statistics package's documentation (three, from memory); an examination page, recomputed with two programs (four)."""
    assert exact == pytest.approx(ask_clinic(wanted, evidence), abs=1e-4 if exact > 0.2 else 1e-6)


CANCER = [0.001, 0.03, 0.02, 0.05]


def cancer_network() -> HubEngine:
    """Korb and Nicholson's cancer network: pollution and smoking are the root (low, low and smoker, high, high and smoker)."""
    prior = [0.9 * 0.7, 0.9 * 0.3, 0.1 * 0.7, 0.1 * 0.3]
    signs = [make_gate("pollution", [1.0, 1.0, 0.0, 0.0]), make_gate("smoker", [1.0, 0.0, 1.0, 0.0])]
    signs += [make_gate("cancer", [1.0] * 4, {0: 1.0})]
    signs += [make_gate("xray", [0.8] * 4, {0: 1 - 0.1 / 0.8}), make_gate("dyspnoea", [0.7] * 4, {0: 1 - 0.35 / 0.7})]
    return make_engine(prior, [CANCER], signs)


@pytest.mark.parametrize(
    ("evidence", "printed"),
    [
        ({}, [0.1, 0.3, 0.011, 0.208, 0.304]),
        ({"dyspnoea": 1}, [0.102, 0.307, 0.025, 0.217, 1]),
        ({"smoker": 1}, [0.1, 1, 0.032, 0.222, 0.311]),
        ({"cancer": 1}, [0.249, 0.825, 1, 0.9, 0.65]),
        ({"cancer": 1, "smoker": 1}, [0.156, 1, 1, 0.9, 0.65]),
        ({"dyspnoea": 1, "smoker": 1}, [0.102, 1, 0.067, 0.247, 1]),
    ],
)
def test_predict__cancer_table(evidence: Evidence, printed: list[float]) -> None:
    """Korb and Nicholson, Bayesian Artificial Intelligence, table of belief updates (from memory)."""
    engine = cancer_network()
    p, _ = engine.posterior(evidence)
    columns = ["pollution", "smoker", "cancer", "xray", "dyspnoea"]
    predicted = engine.predict(evidence, [key for key in columns if key not in evidence])
    found = [1.0 if key in evidence else float(predicted[key][1] @ p) for key in columns]
    assert printed == pytest.approx(found, abs=1e-3)
