"""Tests of the trouble codes: their table, and what they answer on a unit.

Sources: SAE J2012 for the codes. The code table of the package obd 0.7.3 is read here for comparison only.
"""

import re

import pytest
from support.trade import shipped

from shiftlore.knowledge import Knowledge

TRANSMISSION = ("P07", "P08", "P09", "P27")
FAMILIES = (
    "solenoid",
    "pressure",
    "speed",
    "ratio",
    "temperature",
    "clutch",
    "range",
    "brake",
    "switch",
    "module",
    "power",
    "lever",
    "element",
    "sensor",
    "transfer",
    "gear",
    "shift",
    "actuator",
    "lamp",
    "slip",
    "relay",
    "fluid",
    "signal",
    "circuit",
    "time",
    "converter",
)


@pytest.fixture(scope="module")
def knowledge() -> Knowledge:
    return shipped()


@pytest.fixture(scope="module")
def published() -> dict[str, str]:
    """Code -> description of the transmission codes in the obd package, digits and letters in capitals."""
    table = pytest.importorskip("obd.codes").DTC
    return {code.upper(): text.lower() for code, text in table.items() if code.upper().startswith(TRANSMISSION)}


def families(text: str) -> set[str]:
    return {word for word in FAMILIES if word in text.lower()}


def test_codes__every_published_transmission_code_is_there(knowledge, published):
    assert len(published) > 350
    assert set(published) <= set(knowledge.codes)


def test_codes__meaning_shares_its_family_with_the_published_one(knowledge, published):
    # A code whose published text names no family of ours cannot be compared.
    compared = [code for code, text in published.items() if families(text)]
    alike = [code for code in compared if families(knowledge.codes[code].means) & families(published[code])]
    assert len(alike) / len(compared) >= 0.9


@pytest.mark.parametrize("letter", list("abcdef"))
def test_codes__solenoid_letter_agrees_with_the_published_one(knowledge, published, letter):
    named = re.compile(rf"^(shift|pressure control) solenoid '{letter}'")
    codes = {code: found.group(1).split()[0] for code, text in published.items() if (found := named.match(text))}
    assert {f"{kind}_{letter}" for kind in codes.values()} == {knowledge.codes[code].instance for code in codes}
    assert all(knowledge.codes[code].instance == f"{kind}_{letter}" for code, kind in codes.items())


def test_codes__electrical_and_stuck_are_told_apart_as_published(knowledge, published):
    # SAE J2012: in a solenoid family "electrical" is the wire and the coil, "stuck" the hydraulics.
    solenoids = {code: text for code, text in published.items() if re.match(r"(shift|pressure control) solenoid", text)}
    for code, text in solenoids.items():
        kind = "stuck" if "stuck" in text else "circuit"
        assert f"code_solenoid_{kind}" == knowledge.codes[code].finding, code


def test_codes__ratio_code_answers_its_gear(knowledge):
    # SAE J2012, from memory: P0731 to P0735 gears 1 to 5, P0729 gear 6, P0736 reverse, P076F gear 7, P07D9 gear 8.
    gears = {"P0731": "1", "P0735": "5", "P0729": "6", "P0736": "r", "P076F": "7", "P07D9": "8"}
    assert gears == {code: knowledge.codes[code].instance for code in gears}
    assert {"ratio_code_gear"} == {knowledge.codes[code].finding for code in gears}


def test_codes__every_code_answers_a_finding_that_exists(knowledge):
    assert set() == {code.finding for code in knowledge.codes.values()} - set(knowledge.findings)


def test_codes__no_meaning_is_used_twice_in_a_solenoid_family(knowledge):
    means = [code.means for code in knowledge.codes.values() if code.finding.startswith("code_solenoid")]
    assert sorted(set(means)) == sorted(means)


def test_no_codes__a_generic_scan_leaves_ratio_codes_open(knowledge):
    # Common practice: a generic tool reads what lights the lamp; ratio and slip codes may stand in the module only.
    generic, module = knowledge.findings["no_codes_generic_scan"], knowledge.findings["no_codes_module_scan"]
    circuit, both = ("codes_circuit",), ("codes_circuit", "codes_module")
    assert [circuit, both] == [generic.stands_for[0].groups, module.stands_for[0].groups]
    assert knowledge.findings["ratio_code_gear"].group not in circuit


def test_codes__every_module_code_family_has_a_cause_or_state(knowledge):
    reached = {
        link.target for record in (*knowledge.causes.values(), *knowledge.states.values()) for link in record.leads_to
    }
    families_of_codes = {
        key for key, finding in knowledge.findings.items() if finding.group in ("codes_circuit", "codes_module")
    }
    assert set() == families_of_codes - reached
