"""K119: the area of a cause must be one of `areas.yaml`.

Passes:

    area: clutch_pack

Fails, at the area:

    area: clutches                 # Nearest: clutch_pack
"""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.telling import place_of, tell_unknown


def validate_areas(knowledge: Knowledge) -> list[Problem]:
    """Find causes whose area is unknown."""
    return [
        tell_unknown(
            knowledge, place_of(knowledge, "cause", cause.id, "area"), "K119", "area", cause.area, knowledge.areas
        )
        for cause in knowledge.causes.values()
        if cause.area and cause.area not in knowledge.areas
    ]
