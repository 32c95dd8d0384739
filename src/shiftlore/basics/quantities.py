"""Numbers with a unit: which kinds of quantity there are, how a unit turns into another, and what cannot be."""

from collections.abc import Mapping

from shiftlore.basics.structs import Record

NORMAL_95 = 1.959963984540054
"""Half width of a 95 % interval in standard errors, normal distribution."""


class Quantity(Record, frozen=True):
    """One kind of quantity.

    Args:
        units: unit -> factor and offset: base value = factor * (value + offset); the first unit is the base.
        low, high: what a workshop can meet at all, in the base unit; beyond it somebody has mistyped.
    """

    units: Mapping[str, tuple[float, float]]
    low: float
    high: float


QUANTITIES: Mapping[str, Quantity] = {
    "pressure": Quantity(
        {"kPa": (1.0, 0.0), "bar": (100.0, 0.0), "psi": (6.894757, 0.0), "MPa": (1000.0, 0.0)}, -101.0, 30_000.0
    ),
    "turning": Quantity({"rpm": (1.0, 0.0)}, -20_000.0, 20_000.0),
    "ratio": Quantity({"ratio": (1.0, 0.0)}, -40.0, 40.0),
    "temperature": Quantity({"C": (1.0, 0.0), "F": (5 / 9, -32.0)}, -60.0, 400.0),
    "voltage": Quantity({"V": (1.0, 0.0), "mV": (0.001, 0.0)}, -60.0, 1_000.0),
    "time": Quantity({"s": (1.0, 0.0), "ms": (0.001, 0.0), "min": (60.0, 0.0)}, 0.0, 86_400.0),
    "resistance": Quantity({"ohm": (1.0, 0.0), "kohm": (1000.0, 0.0), "Mohm": (1_000_000.0, 0.0)}, 0.0, 1e9),
}
"""Kinds of quantity by name. Source: the SI and its exact conversions; bounds are judgement."""


def kind_of(unit: str) -> str:
    """Name the kind of quantity that a unit measures."""
    return next(kind for kind, quantity in QUANTITIES.items() if unit in quantity.units)


def to_base(kind: str, value: float, unit: str) -> float:
    """Turn a value into the base unit of its kind.

    Example:
        >>> to_base("pressure", 4.2, "bar"), round(to_base("temperature", 212, "F"), 6)
        (420.0, 100.0)
    """
    factor, offset = QUANTITIES[kind].units[unit]
    return factor * (value + offset)


def say_bounds(kind: str, unit: str) -> str:
    """Say between which values a unit's number must lie."""
    quantity = QUANTITIES[kind]
    factor, offset = quantity.units[unit]
    return f"from {quantity.low / factor - offset:,.10g} to {quantity.high / factor - offset:,.10g}"


def as_thousands(text: str) -> str:
    """Give the number that a point before three digits may mean, "112.000", without it; "" where there is none."""
    whole, _, decimals = text.partition(".")
    is_meant = 0 < len(whole) < 4 and len(decimals) == 3 and f"{whole}{decimals}".isdecimal() and whole[0] != "0"
    return f"{whole}{decimals}" if is_meant else ""
