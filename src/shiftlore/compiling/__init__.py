"""The bridge: knowledge records and a unit sheet become a network, a case becomes evidence."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.compiling.compiled import (
    CompiledCase,
    compile_beforehand,
    compile_case,
    evidence_of,
    query_with_pgmpy,
    read_answers,
    single_evidence,
)
from shiftlore.compiling.compiled_units import CompiledUnit, Prepared, compile_unit, grades_of, known_of, list_known
from shiftlore.compiling.drawing import draw_faults
from shiftlore.compiling.evidence import Observation, fill_in_answers
from shiftlore.compiling.expansion import ExpandedNode, Expansion, expand_knowledge, fill_name
from shiftlore.compiling.faults import NONE, Chances, Faults
from shiftlore.compiling.lessons import (
    AlikeRepair,
    Lessons,
    count_published,
    features_of,
    find_alike,
    list_features,
    share_areas,
)
from shiftlore.compiling.priors import wear_factor, weigh_causes

if TYPE_CHECKING:
    from shiftlore.compiling.exporting import render_bif, to_pgmpy
    from shiftlore.compiling.overlay import Learned, Overlay, read_overlay, with_overlay

__getattr__ = open_later(
    __name__,
    {
        "exporting": ("render_bif", "to_pgmpy"),
        "overlay": ("Learned", "Overlay", "read_overlay", "with_overlay"),
    },
)

__all__ = [
    "NONE",
    "AlikeRepair",
    "Chances",
    "CompiledCase",
    "CompiledUnit",
    "ExpandedNode",
    "Expansion",
    "Faults",
    "Learned",
    "Lessons",
    "Observation",
    "Overlay",
    "Prepared",
    "compile_beforehand",
    "compile_case",
    "compile_unit",
    "count_published",
    "draw_faults",
    "evidence_of",
    "expand_knowledge",
    "features_of",
    "fill_in_answers",
    "fill_name",
    "find_alike",
    "grades_of",
    "known_of",
    "list_features",
    "list_known",
    "query_with_pgmpy",
    "read_answers",
    "read_overlay",
    "render_bif",
    "share_areas",
    "single_evidence",
    "to_pgmpy",
    "wear_factor",
    "weigh_causes",
    "with_overlay",
]
