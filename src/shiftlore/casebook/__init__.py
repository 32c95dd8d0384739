"""What came in, what it was, and what came of it: closed cases kept in a database, and rounds of practice beside them.

The database library is imported when a casebook is opened, and not before.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.casebook.places import CASEBOOK_PLACE, CasebookError, Place, find_casebook, hide_password

if TYPE_CHECKING:
    from shiftlore.casebook.book_records import (
        Entry,
        EntryProblem,
        Forgotten,
        PracticeRound,
        PracticeScore,
        make_id,
        mark_forgotten,
    )
    from shiftlore.casebook.closing import Closing, EndChoice, EndProposal, EndTold, close_file, make_entry, propose_end
    from shiftlore.casebook.lines import (
        Imported,
        check_lines,
        export_lines,
        import_lines,
        plain_entry,
        read_line,
        write_line,
    )
    from shiftlore.casebook.recalling import Lesson, gather_lessons, recall_entries
    from shiftlore.casebook.store import BookCounts, Casebook, ForgottenCase, Tally, open_casebook

_MODULES = {
    "closing": "EndChoice Closing EndProposal EndTold close_file make_entry propose_end",
    "lines": "Imported check_lines export_lines import_lines plain_entry read_line write_line",
    "recalling": "Lesson gather_lessons recall_entries",
    "book_records": "Entry EntryProblem Forgotten PracticeRound PracticeScore make_id mark_forgotten",
    "store": "Casebook BookCounts ForgottenCase Tally open_casebook",
}
__getattr__ = open_later(__name__, {module: names.split() for module, names in _MODULES.items()})
