"""Published repairs: what was presented, and what it was; how the rules rank them, where they miss, and what they teach.

And earlier cases that looked like the one at hand: published ones, and those of the shop.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later

if TYPE_CHECKING:
    from shiftlore.repairs.alike import find_alike, list_beliefs, list_signs, weigh_alike
    from shiftlore.repairs.confirmed import OPEN, WEIGHTS, gather_confirmed
    from shiftlore.repairs.counting import Confirmed, Learning, count_vehicles, learn_numbers
    from shiftlore.repairs.judged import Judged, read_judged
    from shiftlore.repairs.learning import Example, Gatherer, cross_validate, fit_lessons, judge, keep_repairs
    from shiftlore.repairs.memory import Memory, Remembered, choose_published, gather_memory, shorten
    from shiftlore.repairs.published import Repair, read_repairs, unit_of
    from shiftlore.repairs.remembering import remember_repairs
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

_SCORING = (
    "Band", "Group", "Miss", "Repaired", "Scores", "gather_scores", "place_repair", "rank_repair", "score_repairs",
)  # fmt: skip
# Late, each by itself: whoever only asks what looked alike waits for no reader of words.
__getattr__ = open_later(
    __name__,
    {
        "alike": ("find_alike", "list_beliefs", "list_signs", "weigh_alike"),
        "confirmed": ("OPEN", "WEIGHTS", "gather_confirmed"),
        "counting": ("Confirmed", "Learning", "count_vehicles", "learn_numbers"),
        "judged": ("Judged", "read_judged"),
        "learning": ("Example", "Gatherer", "cross_validate", "fit_lessons", "judge", "keep_repairs"),
        "memory": ("Memory", "Remembered", "choose_published", "gather_memory", "shorten"),
        "published": ("Repair", "read_repairs", "unit_of"),
        "remembering": ("remember_repairs",),
        "scoring": _SCORING,
    },
)

__all__ = [
    "OPEN",
    "WEIGHTS",
    "Band",
    "Confirmed",
    "Example",
    "Gatherer",
    "Group",
    "Judged",
    "Learning",
    "Memory",
    "Miss",
    "Remembered",
    "Repair",
    "Repaired",
    "Scores",
    "choose_published",
    "count_vehicles",
    "cross_validate",
    "find_alike",
    "fit_lessons",
    "gather_confirmed",
    "gather_memory",
    "gather_scores",
    "judge",
    "keep_repairs",
    "learn_numbers",
    "list_beliefs",
    "list_signs",
    "place_repair",
    "rank_repair",
    "read_judged",
    "read_repairs",
    "remember_repairs",
    "score_repairs",
    "shorten",
    "unit_of",
    "weigh_alike",
]  # fmt: skip
