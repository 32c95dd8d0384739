"""Gear trains of unit sheets: ratios, speeds, torques, proofs of the chart, and what every defect leaves of a gear.

What only the `unit` command shows is imported when it is first asked for.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.gearing.charts import check_sheet
from shiftlore.gearing.facts import Instance, UnitFacts, unit_facts

if TYPE_CHECKING:
    from shiftlore.gearing.defects import Remains
    from shiftlore.gearing.descriptions import GearLine, SolvedSets, UnitDescription, describe_unit
    from shiftlore.gearing.levers import Lever, Tie
    from shiftlore.gearing.measured import RatioMatch

__getattr__ = open_later(
    __name__,
    {
        "defects": ("Remains",),
        "descriptions": ("GearLine", "SolvedSets", "UnitDescription", "describe_unit"),
        "levers": ("Lever", "Tie"),
        "measured": ("RatioMatch",),
    },
)

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
