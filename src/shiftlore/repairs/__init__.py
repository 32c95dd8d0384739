"""Published repairs: what was presented, and what it was; how the rules rank them, and where they miss.

And earlier cases that looked like the one at hand: published ones, and those of the shop.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later

if TYPE_CHECKING:
    from shiftlore.repairs.alike import find_alike
    from shiftlore.repairs.confirmed import OPEN, WEIGHTS, gather_confirmed, read_repairs
    from shiftlore.repairs.counting import Confirmed, Learning, learn_numbers
    from shiftlore.repairs.memory import Remembered, choose_published, shorten
    from shiftlore.repairs.scoring import Group, Miss, Scores, score_repairs

# Late, each by itself: whoever only asks what looked alike waits for no reader of words.
_MODULES = {
    "alike": "find_alike",
    "confirmed": "OPEN WEIGHTS gather_confirmed read_repairs",
    "counting": "Confirmed Learning learn_numbers",
    "memory": "Remembered choose_published shorten",
    "scoring": "Group Miss Scores score_repairs",
}
__getattr__ = open_later(__name__, {module: names.split() for module, names in _MODULES.items()})
