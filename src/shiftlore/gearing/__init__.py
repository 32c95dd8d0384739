"""Gear trains of unit sheets: ratios, speeds, torques, proofs of the chart, and what every defect leaves of a gear.

What only the `unit` command shows is imported when it is first asked for.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from shiftlore.gearing.charts import check_sheet
from shiftlore.gearing.facts import Instance, UnitFacts, unit_facts

if TYPE_CHECKING:
    from shiftlore.gearing.defects import Remains
    from shiftlore.gearing.descriptions import GearLine, SolvedSets, UnitDescription, describe_unit
    from shiftlore.gearing.levers import Lever, Tie
    from shiftlore.gearing.measured import RatioMatch

_LATER = {
    "Remains": "defects",
    "GearLine": "descriptions",
    "SolvedSets": "descriptions",
    "UnitDescription": "descriptions",
    "describe_unit": "descriptions",
    "Lever": "levers",
    "Tie": "levers",
    "RatioMatch": "measured",
}

__all__ = [
    "GearLine",
    "Instance",
    "Lever",
    "RatioMatch",
    "Remains",
    "SolvedSets",
    "Tie",
    "UnitDescription",
    "UnitFacts",
    "check_sheet",
    "describe_unit",
    "unit_facts",
]


def __getattr__(name: str) -> Any:
    """Import what only the `unit` command needs when it is asked for."""
    if name in _LATER:
        return getattr(import_module(f"shiftlore.gearing.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
