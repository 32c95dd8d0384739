"""What a case may speak of follows from its unit."""

from support.trade import shipped

from shiftlore.cases import Vehicle
from shiftlore.compiling import list_known


def test_list_known__a_unit_that_is_not_there_knows_only_the_units() -> None:
    known = list_known(shipped(), "nothing")
    assert ({}, tuple(shipped().sheets)) == (known.findings, known.units)


def test_known_of__speaks_of_the_units_own_instances() -> None:
    known = list_known(shipped(), "long5")
    assert ("no", "yes") == known.findings["ratio_code_gear_5"]
    assert "ratio_code_gear_6" not in known.findings
    assert "P0732" in known.codes and "pan_drop" in known.checks


def test_known_of__a_kind_with_fewer_gears_speaks_of_fewer() -> None:
    four = list_known(shipped(), Vehicle("step", 4))
    assert (
        "slips_gear_4" in four.findings and "slips_gear_5" not in four.findings and "slip_gear_5" not in four.measures
    )


def test_known_of__numbers_may_be_given_in_the_units_of_their_kind() -> None:
    measures = list_known(shipped(), "long5").measures
    assert (("kPa", "bar", "psi", "MPa"), ("rpm",)) == (measures["line_pressure_idle"], measures["slip_gear_3"])
    assert {"ratio_gear_5", "ratio_gear_r", "tcc_slip", "fluid_temperature"} <= set(measures)


def test_known_of__a_scan_without_codes_rules_out_the_codes_that_it_would_have_shown() -> None:
    """A generic scan tool shows circuit codes; codes of the module's own it may not (common practice)."""
    known = list_known(shipped(), "long5")
    circuit = known.code_findings["P0753"]
    assert all(circuit in known.excludes[scan] for scan in ("no_codes_generic_scan", "no_codes_module_scan"))
    assert known.code_findings["P0732"] in known.excludes["no_codes_module_scan"]
    assert {"at_once": {"began_suddenly": "yes", "grew_slowly": "no"}}.items() <= known.onset_says.items()
    assert ("yes", "just_now") == (known.event_says["recent_service"], known.event_says["rebuilt"])
