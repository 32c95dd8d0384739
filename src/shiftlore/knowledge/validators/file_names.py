"""K117: a file that holds one cause, unit or textbook case must be named by its id.

Passes:

    causes/pump/worn_pump.yaml:   id: worn_pump

Fails, at the id:

    causes/pump/pump.yaml:        id: worn_pump
"""

from pathlib import PurePosixPath

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.records import Knowledge

_KINDS = ("cause", "textbook case", "unit sheet", "retired")


def validate_file_names(knowledge: Knowledge) -> list[Problem]:
    """Find files whose name and id differ."""
    found = [
        _of_one(place[1], mark)
        for place, mark in knowledge.places.items()
        if len(place) == 3 and place[0] in _KINDS and place[2] == "id"
    ]
    return [problem for problem in found if problem is not None]


def _of_one(record_id: str, mark: Mark) -> Problem | None:
    stem = PurePosixPath(mark.file).stem
    if not record_id or stem == record_id:
        return None
    return Problem(
        mark,
        "K117",
        f'The file is called "{stem}", its record "{record_id}"',
        f"Rename the file to {record_id}.yaml, or write id: {stem}.",
    )
