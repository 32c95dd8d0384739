"""What came in, what it was, and what came of it: closed cases kept in a database, and rounds of practice beside them.

The database library is imported when a casebook is opened, and not before.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.casebook.places import CASEBOOK_PLACE, CasebookError, Place, find_casebook, hide_password

if TYPE_CHECKING:
    from shiftlore.casebook.records import (
        Entry,
        EntryProblem,
        Forgotten,
        PracticeRound,
        PracticeScore,
        make_id,
        mark_forgotten,
    )
    from shiftlore.casebook.store import Casebook, Counts, ForgottenCase, Tally, open_casebook

__getattr__ = open_later(
    __name__,
    {
        "records": (
            "Entry",
            "EntryProblem",
            "Forgotten",
            "PracticeRound",
            "PracticeScore",
            "make_id",
            "mark_forgotten",
        ),
        "store": ("Casebook", "Counts", "ForgottenCase", "Tally", "open_casebook"),
    },
)

__all__ = [
    "CASEBOOK_PLACE", "Casebook", "CasebookError", "Counts", "Entry", "EntryProblem", "Forgotten", "ForgottenCase",
    "Place", "PracticeRound", "PracticeScore", "Tally", "find_casebook", "hide_password", "make_id", "mark_forgotten",
    "open_casebook",
]  # fmt: skip
