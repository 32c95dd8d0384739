"""Gear trains of unit sheets: ratios, speeds, torques, proofs of the chart, and what every defect leaves of a gear.

What a unit from the cache does without, and what only the `unit` command and the simulated drive need, is imported when it
is first asked for.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.gearing.facts import Instance, Remains, UnitFacts, name_instances

if TYPE_CHECKING:
    from shiftlore.gearing.charts import GearLine, WorkedTrain, check_sheet, work_out
    from shiftlore.gearing.defects import Defect, apply_defect
    from shiftlore.gearing.descriptions import Lever, RatioMatch, Tie, UnitDescription, describe_unit
    from shiftlore.gearing.fact_finding import unit_facts
    from shiftlore.gearing.motions import (
        DRIVEN,
        Array,
        Motion,
        analyse_states,
        compile_motion,
        load_couplings,
    )
    from shiftlore.gearing.trains import ENGINE, INPUT, OUTPUT, Coupling, CouplingKind, GearState, Train, list_states

__getattr__ = open_later(
    __name__,
    {
        "charts": ("GearLine", "WorkedTrain", "check_sheet", "work_out"),
        "defects": ("Defect", "apply_defect"),
        "descriptions": ("Lever", "RatioMatch", "Tie", "UnitDescription", "describe_unit"),
        "fact_finding": ("unit_facts",),
        "motions": ("DRIVEN", "Array", "Motion", "analyse_states", "compile_motion", "load_couplings"),
        "trains": (
            "ENGINE", "INPUT", "OUTPUT", "Coupling", "CouplingKind", "GearState", "Train", "list_states",
        ),
    },
)  # fmt: skip
