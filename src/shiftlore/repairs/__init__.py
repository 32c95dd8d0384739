"""Published repairs: what was presented, and what it was; how the rules rank them, and where they miss.

And earlier cases that looked like the one at hand: published ones, and those of the shop.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later

if TYPE_CHECKING:
    from shiftlore.repairs.alike import find_alike
    from shiftlore.repairs.confirmed import OPEN, WEIGHTS, gather_confirmed
    from shiftlore.repairs.counting import Confirmed, Learning, count_vehicles, learn_numbers
    from shiftlore.repairs.memory import Memory, Remembered, choose_published, gather_memory, shorten
    from shiftlore.repairs.published import Repair, read_repairs, unit_of
    from shiftlore.repairs.scoring import Group, Miss, Scores, gather_scores, place_repair, score_repairs

# Late, each by itself: whoever only asks what looked alike waits for no reader of words.
_MODULES = {
    "alike": "find_alike",
    "confirmed": "OPEN WEIGHTS gather_confirmed",
    "counting": "Confirmed Learning count_vehicles learn_numbers",
    "memory": "Memory Remembered choose_published gather_memory shorten",
    "published": "Repair read_repairs unit_of",
    "scoring": "Group Miss Scores gather_scores place_repair score_repairs",
}
__getattr__ = open_later(__name__, {module: names.split() for module, names in _MODULES.items()})
