"""What is most likely wrong, how surely, and what speaks for it; the knowledge put to its own test."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.ranking.ranking import (
    DRAW_SEED,
    N_DRAWS,
    AlikeCase,
    Apart,
    Audit,
    Fit,
    RankedArea,
    RankedCause,
    RankedSet,
    Ranking,
    Reason,
    audit_ranking,
    draw_faults,
    measure_left_out,
    measure_odds,
    measure_spread,
    rank_areas,
    rank_causes,
)

if TYPE_CHECKING:
    from shiftlore.ranking.reviewing import Review, TextbookResult, review_file, review_knowledge, textbook_as_case

__getattr__ = open_later(
    __name__, {"reviewing": ("Review", "TextbookResult", "review_file", "review_knowledge", "textbook_as_case")}
)

__all__ = [
    "DRAW_SEED",
    "N_DRAWS",
    "AlikeCase",
    "Apart",
    "Audit",
    "Fit",
    "RankedArea",
    "RankedCause",
    "RankedSet",
    "Ranking",
    "Reason",
    "Review",
    "TextbookResult",
    "audit_ranking",
    "draw_faults",
    "measure_left_out",
    "measure_odds",
    "measure_spread",
    "rank_areas",
    "rank_causes",
    "review_file",
    "review_knowledge",
    "textbook_as_case",
]
