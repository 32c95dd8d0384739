"""The bridge: knowledge records and a unit sheet become a network, a case becomes evidence."""

from shiftlore.compiling.answers import Answer, evidence_of, fill_in_answers, grades_of
from shiftlore.compiling.compiled import (
    CompiledCase,
    CompiledUnit,
    compile_case,
    compile_unit,
    known_of,
    list_known,
    read_answers,
)
from shiftlore.compiling.drawing import draw_faults, draw_posteriors
from shiftlore.compiling.expansion import Expansion, Node, expand_knowledge
from shiftlore.compiling.exporting import query_with_pgmpy, to_pgmpy
from shiftlore.compiling.faults import NONE, Faults, list_faults
from shiftlore.compiling.priors import wear_factor, weigh_causes
from shiftlore.compiling.unit_descriptions import GearLine, SolvedSets, UnitDescription, describe_unit
from shiftlore.compiling.unit_faults import Outcome
from shiftlore.compiling.unit_levers import Lever, Tie
from shiftlore.compiling.unit_ratios import RatioMatch
from shiftlore.compiling.unit_schema import unit_schema, unit_to_json
from shiftlore.compiling.units import Instance, UnitFacts, check_sheet, unit_facts

__all__ = [
    "NONE",
    "Answer",
    "CompiledCase",
    "CompiledUnit",
    "Expansion",
    "Faults",
    "GearLine",
    "Instance",
    "Lever",
    "Node",
    "Outcome",
    "RatioMatch",
    "SolvedSets",
    "Tie",
    "UnitDescription",
    "UnitFacts",
    "check_sheet",
    "compile_case",
    "compile_unit",
    "describe_unit",
    "draw_faults",
    "draw_posteriors",
    "evidence_of",
    "expand_knowledge",
    "fill_in_answers",
    "grades_of",
    "known_of",
    "list_faults",
    "list_known",
    "query_with_pgmpy",
    "read_answers",
    "to_pgmpy",
    "unit_facts",
    "unit_schema",
    "unit_to_json",
    "wear_factor",
    "weigh_causes",
]
