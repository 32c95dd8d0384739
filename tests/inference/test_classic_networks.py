"""The classic networks that a general library ships, against that library and printed tables."""

import gzip
import os
from functools import cache

import numpy as np
import pytest

from shiftlore.inference import prepare
from shiftlore.network import Network, Table, Variable

pytestmark = pytest.mark.filterwarnings("ignore")  # the library warns of its own coming changes

READ_TOLERANCE = 1e-6
"""The files carry few digits and are read in single precision by some programs."""


@cache
def read_classic(name: str):
    """Read one of the bundled networks: our network, the states' names, and the library's own model."""
    import pgmpy
    from pgmpy.readwrite import BIFReader

    path = os.path.join(os.path.dirname(pgmpy.__file__), "utils", "example_models", f"{name}.bif.gz")
    with gzip.open(path, "rt") as file:
        model = BIFReader(string=file.read()).get_model()
    variables, tables = [], []
    for table in model.get_cpds():
        child, *parents = table.variables
        variables.append(Variable(child, tuple(table.state_names[child])))
        tables.append(Table(child, tuple(parents), np.moveaxis(table.values, 0, -1)))
    network = Network(variables, tables)
    return network, model


def state(network: Network, name: str, label: str) -> int:
    """Find the index of a state."""
    return network.variables[name].states.index(label)


def ask(name: str, evidence: dict[str, str], wanted: str, label: str) -> float:
    """Work out one posterior of a classic network."""
    network, _ = read_classic(name)
    answers = {other: state(network, other, given) for other, given in evidence.items()}
    found = prepare(network).posterior(answers, [wanted])
    return float(found.p_states[wanted][state(network, wanted, label)])


@pytest.mark.parametrize(
    ("wanted", "printed"),
    [("tub", 0.0104), ("lung", 0.055), ("either", 0.0648), ("bronc", 0.45), ("xray", 0.1103), ("dysp", 0.436)],
)
def test_posterior__chest_clinic_priors(wanted, printed):
    """Lauritzen and Spiegelhalter 1988 (prior marginals, from memory)."""
    assert printed == pytest.approx(ask("asia", {}, wanted, "yes"), abs=5e-5)


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
def test_posterior__chest_clinic_within_a_stored_sampling_run(wanted, printed, standard_error):
    """Classic examples of a sampling program, volume 2 (asia): visit to Asia and dyspnoea, stored benchmark."""
    found = ask("asia", {"asia": "yes", "dysp": "yes"}, wanted, "yes")
    assert printed == pytest.approx(found, abs=3 * standard_error)


@pytest.mark.parametrize(("wanted", "exact"), [("tub", 0.3917), ("lung", 0.4443), ("bronc", 0.6288)])
def test_posterior__chest_clinic_with_an_x_ray(wanted, exact):
    """Values as printed in the documentation of a statistics package (from memory)."""
    found = ask("asia", {"asia": "yes", "dysp": "yes", "xray": "yes"}, wanted, "yes")
    assert exact == pytest.approx(found, abs=1e-4)


@pytest.mark.parametrize(
    ("evidence", "wanted", "exact"),
    [
        ({}, "xray", 0.11029),
        ({"tub": "no"}, "xray", 0.10115),
        ({"xray": "no"}, "tub", 0.000233784),
        ({"xray": "no", "dysp": "yes"}, "tub", 0.0004498214),
    ],
)
def test_posterior__chest_clinic_more_questions(evidence, wanted, exact):
    """Questions of an examination page; answers recomputed with two other programs."""
    assert exact == pytest.approx(ask("asia", evidence, wanted, "yes"), abs=READ_TOLERANCE)


CANCER_COLUMNS = [
    ("Pollution", "high"),
    ("Smoker", "True"),
    ("Cancer", "True"),
    ("Xray", "positive"),
    ("Dyspnoea", "True"),
]


@pytest.mark.parametrize(
    ("evidence", "printed"),
    [
        ({}, [0.1, 0.3, 0.011, 0.208, 0.304]),
        ({"Dyspnoea": "True"}, [0.102, 0.307, 0.025, 0.217, 1]),
        ({"Smoker": "True"}, [0.1, 1, 0.032, 0.222, 0.311]),
        ({"Cancer": "True"}, [0.249, 0.825, 1, 0.9, 0.65]),
        ({"Cancer": "True", "Smoker": "True"}, [0.156, 1, 1, 0.9, 0.65]),
        ({"Dyspnoea": "True", "Smoker": "True"}, [0.102, 1, 0.067, 0.247, 1]),
    ],
)
def test_posterior__cancer_table(evidence, printed):
    """Korb and Nicholson, Bayesian Artificial Intelligence, table of belief updates (from memory)."""
    found = [ask("cancer", evidence, name, label) for name, label in CANCER_COLUMNS]
    assert printed == pytest.approx(found, abs=1e-3)


@pytest.mark.parametrize(
    ("network", "evidence", "wanted", "label", "exact"),
    [
        ("alarm", {"PRESS": "HIGH", "MINVOL": "ZERO"}, "KINKEDTUBE", "TRUE", 0.03595863),
        ("alarm", {"HISTORY": "TRUE", "CVP": "HIGH"}, "LVFAILURE", "TRUE", 0.3309976),
        ("alarm", {"BP": "LOW"}, "HYPOVOLEMIA", "TRUE", 0.2673354),
        ("win95pts", {"Problem1": "No_Output"}, "PrtOn", "Yes", 0.815792),
        ("win95pts", {"Problem1": "No_Output"}, "PrtCbl", "Loose", 0.036045),
        ("win95pts", {"Problem1": "No_Output"}, "PrtPaper", "No_Paper", 0.035744),
        ("hepar2", {"alcoholism": "present", "ascites": "present"}, "Cirrhosis", "absent", 0.857363),
        ("hepar2", {"itching": "present", "jaundice": "present"}, "PBC", "present", 0.551919),
        ("hepar2", {}, "Cirrhosis", "decompensate", 0.053915),
    ],
)
def test_posterior__regression_of_two_programs(network, evidence, wanted, label, exact):
    """Beinlich 1989 (alarm), Onisko 2003 (hepar2), a printing network of 1995: no print, two programs agree."""
    assert exact == pytest.approx(ask(network, evidence, wanted, label), abs=READ_TOLERANCE)


@pytest.mark.parametrize(
    "name",
    [
        "asia",
        "cancer",
        "earthquake",
        "survey",
        "sachs",
        "alarm",
        "child",
        "insurance",
        "hailfinder",
        "hepar2",
        "win95pts",
    ],
)
def test_posterior__equals_a_general_library(name):
    """Every posterior given some leaves, against variable elimination of a general library."""
    from pgmpy.inference import VariableElimination

    network, model = read_classic(name)
    leaves = [variable for variable, children in network.children.items() if not children][:3]
    evidence = {leaf: 0 for leaf in leaves}
    wanted = [variable for variable in network.variables if variable not in evidence][:12]
    found = prepare(network).posterior(evidence, wanted)
    labels = {leaf: network.variables[leaf].states[0] for leaf in leaves}
    library = VariableElimination(model)
    for variable in wanted:
        answer = library.query([variable], evidence=labels, show_progress=False)
        expected = [answer.get_value(**{variable: label}) for label in network.variables[variable].states]
        assert expected == pytest.approx(found.p_states[variable], abs=READ_TOLERANCE)


@pytest.mark.parametrize(("name", "n_variables"), [("andes", 223), ("pigs", 441)])
def test_posterior__large_classics_equal_the_library(name, n_variables):
    """Sizes as in the Bayesian network repository; a few posteriors given two leaves."""
    from pgmpy.inference import VariableElimination

    network, model = read_classic(name)
    assert n_variables == len(network.variables)
    leaves = [variable for variable, children in network.children.items() if not children][:2]
    wanted = network.roots[:3]
    found = prepare(network).posterior(dict.fromkeys(leaves, 0), wanted)
    labels = {leaf: network.variables[leaf].states[0] for leaf in leaves}
    for variable in wanted:
        answer = VariableElimination(model).query([variable], evidence=labels, show_progress=False)
        expected = [answer.get_value(**{variable: label}) for label in network.variables[variable].states]
        assert expected == pytest.approx(found.p_states[variable], abs=READ_TOLERANCE)
