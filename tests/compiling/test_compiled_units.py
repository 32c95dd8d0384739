"""A unit compiled once, and what a distance and a background make of it."""

import numpy as np
import pytest
from support.trade import make_case, shipped, small_case, small_unit

from shiftlore.basics import UnknownId
from shiftlore.cases import Vehicle
from shiftlore.compiling import compile_unit, list_known


def test_compile_unit__an_unknown_id_names_the_nearest() -> None:
    with pytest.raises(UnknownId, match="long5"):
        compile_unit(shipped(), "long-5")


def test_prepare__how_often_a_sign_is_seen_among_vehicles() -> None:
    """By hand from the tables: P(finding reaches a grade) over all single causes."""
    prepared = small_case().prepared
    tables = prepared.single.tables
    gate = tables.gates["fluid_colour"]
    below = (
        gate.cum_root
        * np.prod(
            [1 - tables.p_hidden[h] * (1 - row[:, None]) for h, row in zip(gate.hidden, gate.cum_hidden, strict=True)],
            axis=0,
        )
        if gate.hidden
        else gate.cum_root
    )
    assert 1 == pytest.approx(prepared.how_often("fluid_colour", 0), abs=1e-12)
    for grade in (1, 2):
        expected = float((1 - below[grade - 1]) @ tables.prior)
        assert expected == pytest.approx(prepared.how_often("fluid_colour", grade), abs=1e-12)


def test_prepare__only_so_many_are_remembered() -> None:
    unit = compile_unit(small_unit().knowledge, "long5")
    first = unit.prepare(make_case("long5", odometer_km=1_000.0))
    for i in range(2, 8):
        unit.prepare(make_case("long5", odometer_km=1_000.0 * i))
    assert len(unit.prepared) <= 4
    assert first is not unit.prepare(make_case("long5", odometer_km=1_000.0))


def test_prepare__the_same_life_has_the_same_tables() -> None:
    first, second = small_case({"gear_slips_1": "yes"}), small_case({"gear_slips_2": "yes"})
    assert first.prepared is second.prepared
    assert first.prepared is not small_case(background={"usage": "towing"}).prepared


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
