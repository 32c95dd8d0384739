"""The bridge: knowledge records and a unit sheet become a network, a case becomes evidence."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.compiling.compiled import (
    CompiledCase,
    compile_beforehand,
    compile_case,
    doubt_answer,
    evidence_of,
    query_with_pgmpy,
    read_answers,
    single_evidence,
)
from shiftlore.compiling.compiled_units import (
    CompiledUnit,
    Prepared,
    compile_unit,
    grades_of,
    known_of,
    list_excluded,
    list_known,
)
from shiftlore.compiling.contradictions import find_makers, is_moot, is_ruled_out, list_clashes
from shiftlore.compiling.evidence import Observation, fill_in_answers, list_onsets
from shiftlore.compiling.expansion import TOLD, ExpandedCause, ExpandedNode, Expansion, expand_knowledge, fill_name
from shiftlore.compiling.faults import NONE, Chances, Faults
from shiftlore.compiling.lessons import Lessons, count_published, list_features, share_areas
from shiftlore.compiling.priors import wear_factor

if TYPE_CHECKING:
    from shiftlore.compiling.aftermath import EXCHANGE, keep_again, list_alike
    from shiftlore.compiling.exporting import render_bif, to_pgmpy
    from shiftlore.compiling.fitting import (
        chance_of_fit,
        foresee_answers,
        keep_fitting,
        list_asked_first,
        list_open_lives,
    )
    from shiftlore.compiling.overlay import Learned, Overlay, count_taught, read_overlay, with_overlay

__getattr__ = open_later(
    __name__,
    {
        "aftermath": ("EXCHANGE", "keep_again", "list_alike"),
        "exporting": ("render_bif", "to_pgmpy"),
        "fitting": ("chance_of_fit", "foresee_answers", "keep_fitting", "list_asked_first", "list_open_lives"),
        "overlay": ("Learned", "Overlay", "count_taught", "read_overlay", "with_overlay"),
    },
)

__all__ = [
    "EXCHANGE",
    "NONE",
    "TOLD",
    "Chances",
    "CompiledCase",
    "CompiledUnit",
    "ExpandedCause",
    "ExpandedNode",
    "Expansion",
    "Faults",
    "Learned",
    "Lessons",
    "Observation",
    "Overlay",
    "Prepared",
    "chance_of_fit",
    "compile_beforehand",
    "compile_case",
    "compile_unit",
    "count_published",
    "count_taught",
    "doubt_answer",
    "evidence_of",
    "expand_knowledge",
    "fill_in_answers",
    "fill_name",
    "find_makers",
    "foresee_answers",
    "grades_of",
    "is_moot",
    "is_ruled_out",
    "keep_again",
    "keep_fitting",
    "known_of",
    "list_alike",
    "list_asked_first",
    "list_clashes",
    "list_excluded",
    "list_features",
    "list_known",
    "list_onsets",
    "list_open_lives",
    "query_with_pgmpy",
    "read_answers",
    "read_overlay",
    "render_bif",
    "share_areas",
    "single_evidence",
    "to_pgmpy",
    "wear_factor",
    "with_overlay",
]
