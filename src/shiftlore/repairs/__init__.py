"""Published repairs: what was presented, and what it was; how the rules rank them, and where they miss."""

from shiftlore.repairs.records import Repair, read_repairs, unit_of
from shiftlore.repairs.scoring import Band, Group, Miss, Repaired, Scores, gather_scores, rank_repair, score_repairs

__all__ = [
    "Band", "Group", "Miss", "Repair", "Repaired", "Scores", "gather_scores", "rank_repair", "read_repairs", "score_repairs",
    "unit_of",
]  # fmt: skip
