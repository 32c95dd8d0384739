"""Published repairs: what was presented, and what it was; how the rules rank them, where they miss, and what they teach."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.repairs.judged import Judged, read_judged
from shiftlore.repairs.published import Repair, read_repairs, unit_of
from shiftlore.repairs.scoring import (
    Band,
    Group,
    Miss,
    Repaired,
    Scores,
    gather_scores,
    place_repair,
    rank_repair,
    score_repairs,
)

if TYPE_CHECKING:
    from shiftlore.repairs.confirmed import gather_confirmed
    from shiftlore.repairs.counting import Confirmed, Learning, count_vehicles, learn_numbers
    from shiftlore.repairs.learning import Example, Gatherer, cross_validate, fit_lessons, judge, keep_repairs

__getattr__ = open_later(
    __name__,
    {
        "confirmed": ("gather_confirmed",),
        "counting": ("Confirmed", "Learning", "count_vehicles", "learn_numbers"),
        "learning": ("Example", "Gatherer", "cross_validate", "fit_lessons", "judge", "keep_repairs"),
    },
)

__all__ = [
    "Band", "Confirmed", "Example", "Gatherer", "Group", "Judged", "Learning", "Miss", "Repair", "Repaired", "Scores",
    "count_vehicles", "cross_validate", "fit_lessons", "gather_confirmed", "gather_scores", "judge", "keep_repairs",
    "learn_numbers", "place_repair", "rank_repair", "read_judged", "read_repairs", "score_repairs", "unit_of",
]  # fmt: skip
