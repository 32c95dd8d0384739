"""What came in, what it was, and what came of it: closed cases kept in a database, and rounds of practice beside them.

The database library is imported when a casebook is opened, and not before.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.casebook.places import CasebookError, find_casebook, hide_password

if TYPE_CHECKING:
    from shiftlore.casebook.book_records import Entry, PracticeRound, PracticeScore
    from shiftlore.casebook.closing import Closing, EndProposal, EndTold, close_file, list_doubts, propose_end
    from shiftlore.casebook.lines import Imported, check_lines, export_lines, import_lines, plain_entry
    from shiftlore.casebook.recalling import gather_lessons, recall_casebook
    from shiftlore.casebook.store import BookCounts, Casebook, Tally, open_casebook

_MODULES = {
    "closing": "Closing EndProposal EndTold close_file list_doubts propose_end",
    "lines": "Imported check_lines export_lines import_lines plain_entry",
    "recalling": "gather_lessons recall_casebook",
    "book_records": "Entry PracticeRound PracticeScore",
    "store": "Casebook BookCounts Tally open_casebook",
}
__getattr__ = open_later(__name__, {module: names.split() for module, names in _MODULES.items()})
