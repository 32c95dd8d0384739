"""What is most likely wrong, how surely, and what speaks for it; the knowledge put to its own test."""

from shiftlore.ranking.ranking import (
    Audit,
    Fit,
    RankedArea,
    RankedCause,
    RankedSet,
    Ranking,
    Reason,
    audit_ranking,
    rank_causes,
)
from shiftlore.ranking.reviewing import Review, TextbookResult, review_knowledge, textbook_as_case
from shiftlore.ranking.spreading import DRAW_SEED, HIGH_PERCENT, LOW_PERCENT, N_DRAWS

__all__ = [
    "DRAW_SEED",
    "HIGH_PERCENT",
    "LOW_PERCENT",
    "N_DRAWS",
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
    "rank_causes",
    "review_knowledge",
    "textbook_as_case",
]
