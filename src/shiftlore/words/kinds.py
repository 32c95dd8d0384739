"""Which classes go together: what is found, when it is so, how the vehicle lived; and which are no other answer than one."""

from collections.abc import Sequence

import numpy as np

from shiftlore.knowledge import Knowledge

_FOUND, _CONDITION, _LIFE = range(3)


def find_kin(knowledge: Knowledge, keys: Sequence[str], beside: np.ndarray) -> np.ndarray:
    """Tell per class which classes are no other answer than it: itself, general and special ones, what is said beside it;
    and whatever else says that nothing was found.
    """
    nothing = np.array([key in knowledge.findings and knowledge.findings[key].none_by is not None for key in keys])
    kin = np.eye(len(keys), dtype=bool) | (beside[:, None] & beside) | (nothing[:, None] & nothing)
    places = {key: place for place, key in enumerate(keys)}
    for general in knowledge.findings.values():
        for special in general.general_of:
            if general.id in places and special in places:
                kin[places[general.id], places[special]] = kin[places[special], places[general.id]] = True
    return kin


def find_layer(knowledge: Knowledge, key: str) -> int:
    """Part what is found, under which condition, and how the vehicle lived: the same words may tell of each."""
    if key in knowledge.backgrounds:
        return _LIFE
    return _CONDITION if key in knowledge.findings and knowledge.findings[key].condition else _FOUND
