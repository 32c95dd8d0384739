"""Drives that several tests look at, each driven once."""

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from shiftlore.driving import Drive, read_defect, simulate_drive
from shiftlore.driving.routes import Leg
from shiftlore.sheets import UnitSheet, load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
RATIOS_ALONE = """\
id: bare3
label: Three speeds, ratios alone
elements:
- {id: c1, type: clutch}
- {id: b1, type: band}
- {id: c2, type: clutch}
gears:
  1: {ratio: 2.60, on: [c1]}
  2: {ratio: 1.50, on: [c1, b1]}
  3: {ratio: 1.00, on: [c1, c2]}
  R: {ratio: 2.30, on: [c2, b1]}
lockup_gears: [3]
"""
SHORT = (
    Leg(2, "P"),
    Leg(2.5, "D", brake=0.3),
    Leg(3, "D", brake=1.0, throttle_percent=100),
    Leg(1, "D", brake=0.5),
    Leg(14, "D", 60, 40),
    Leg(12, "D", 60, 40),
)
"""An engagement, a stall test, four upshifts or so, and a steady speed."""


@cache
def _sheet(name: str) -> UnitSheet:
    return load_sheet(RATIOS_ALONE) if name == "bare3" else load_sheet(UNITS / f"{name}.yaml")


@cache
def _drive(name: str, defects: tuple[str, ...], route: tuple[Leg, ...] | None, noise: bool, rate_hz: float) -> Drive:
    sheet = _sheet(name)
    read = [read_defect(text, sheet) for text in defects]
    return simulate_drive(sheet, defects=read, seed=4, route=route, noise=noise, rate_hz=rate_hz)


@pytest.fixture(scope="session")
def sheet_of() -> Callable[[str], UnitSheet]:
    """Give a shipped sheet, or `bare3`, by name."""
    return _sheet


@pytest.fixture(scope="session")
def drive_of() -> Callable[..., Drive]:
    """Drive a unit over the short route, or over the usual one with `route=None`; equal drives are driven once."""

    def give(
        name: str,
        *defects: str,
        route: tuple[Leg, ...] | None = SHORT,
        noise: bool = False,
        rate_hz: float = 50.0,
    ) -> Drive:
        return _drive(name, defects, route, noise, rate_hz)

    return give
