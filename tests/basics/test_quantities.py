"""Units turn into one another as tables of units say."""

import pytest

from shiftlore.basics.quantities import QUANTITIES, as_thousands, say_bounds, to_base


@pytest.mark.parametrize(
    ("kind", "value", "unit", "expected"),
    [
        ("pressure", 1, "bar", 100.0),
        ("pressure", 100, "psi", 689.4757),  # 1 psi = 6.894757 kPa: NIST Special Publication 811
        ("temperature", 32, "F", 0.0),
        ("temperature", -40, "F", -40.0),
        ("voltage", 5000, "mV", 5.0),
        ("resistance", 2.2, "kohm", 2200.0),
        ("time", 1.5, "min", 90.0),
    ],
)
def test_to_base__known_pairs(kind, value, unit, expected):
    assert expected == pytest.approx(to_base(kind, value, unit), rel=1e-7, abs=1e-9)


def test_quantities__the_first_unit_is_the_base_and_no_unit_has_two_kinds():
    units = [unit for quantity in QUANTITIES.values() for unit in quantity.units]
    assert len(units) == len(set(units))
    assert all((1.0, 0.0) == next(iter(quantity.units.values())) for quantity in QUANTITIES.values())


def test_say_bounds__in_the_unit_that_was_written():
    assert "from -1.01 to 300" == say_bounds("pressure", "bar")


def test_as_thousands() -> None:
    assert ["112000", "", "", ""] == [as_thousands(text) for text in ("112.000", "112.5", "1120.000", "0.125")]
