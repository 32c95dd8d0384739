"""Gear trains of unit sheets: ratios, speeds, torques, proofs of the chart, and what every defect leaves of a gear.

What only the `unit` command shows is imported when it is first asked for.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.gearing.charts import GearLine, check_sheet
from shiftlore.gearing.defects import Remains
from shiftlore.gearing.facts import Instance, UnitFacts, name_instances, unit_facts

if TYPE_CHECKING:
    from shiftlore.gearing.descriptions import Lever, RatioMatch, Tie, UnitDescription, describe_unit

__getattr__ = open_later(__name__, {"descriptions": ("Lever", "RatioMatch", "Tie", "UnitDescription", "describe_unit")})

__all__ = [
    "GearLine",
    "Instance",
    "Lever",
    "RatioMatch",
    "Remains",
    "Tie",
    "UnitDescription",
    "UnitFacts",
    "check_sheet",
    "describe_unit",
    "name_instances",
    "unit_facts",
]
