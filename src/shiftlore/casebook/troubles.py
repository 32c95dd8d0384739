"""What a database says when it cannot, in the words of somebody who has to put it right."""

from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    InterfaceError,
    NoSuchModuleError,
    OperationalError,
    SQLAlchemyError,
)

from shiftlore.basics.problems import printable
from shiftlore.casebook.places import Place, hide_password

_FILE_SAYS: tuple[tuple[str, str], ...] = (
    ("is locked", "{place} is busy: another program has held it for too long. Close it there, and try again."),
    ("not a database", "{place} is no casebook: it holds something else. Name another file, or put it aside."),
    (
        "malformed",
        "The casebook {place} is damaged. Put it aside, and import your last export: shiftlore casebook import FILE",
    ),
    ("readonly", "The casebook {place} is write-protected. Allow writing to it and to its folder."),
    ("unable to open", "The casebook {place} cannot be opened. Allow writing to it and to its folder."),
    ("full", "The disk is full, so the casebook {place} took nothing. Make room, and try again."),
    ("disk i/o", "The disk of the casebook {place} fails. Copy the file elsewhere while it can be read."),
)
_SERVER_SAYS: tuple[tuple[str, str], ...] = (
    (
        "password",
        "{place} refuses the name or the password. Write the password into ~/.pgpass, which only you can read.",
    ),
    ("authentication", "{place} refuses the name or the password. Ask whoever looks after the database."),
    ("does not exist", "{place} is not there: {said}. Have the database or the name made first."),
    ("permission denied", "{place} does not let you write. Ask whoever looks after the database for the right to."),
    ("read-only", "{place} takes no changes at present. Ask whoever looks after the database."),
    ("lock timeout", "{place} is busy: another program has held it for too long. Try again."),
    ("disk full", "The disk of {place} is full, so it took nothing. Make room, and try again."),
)
_TRANSIENT_FILE, _TRANSIENT_STATES = "is locked", ("40001", "40P01")
"""What passes by itself: a file that another writer holds; serialization failure and deadlock (PostgreSQL, appendix A)."""


def is_passing(error: SQLAlchemyError) -> bool:
    """Tell whether the same may work when it is simply tried again."""
    if not isinstance(error, DBAPIError):
        return False
    state = getattr(error.orig, "sqlstate", None)
    return state in _TRANSIENT_STATES or (isinstance(error, OperationalError) and _TRANSIENT_FILE in str(error.orig))


def tell_trouble(error: Exception, place: Place) -> str:
    """Say what is wrong and what to do, without a password and in one line."""
    if isinstance(error, ImportError):
        return f"{place} needs psycopg, which is not installed. Install it: python -m pip install 'psycopg[binary]'"
    if isinstance(error, ArgumentError | NoSuchModuleError):
        return f"{place} is no address of a database. Write it like postgresql://bench@server/shop."
    said = _first_line(error)
    for words, sentence in _FILE_SAYS if place.path is not None else _SERVER_SAYS:
        if words in said.lower():
            return sentence.format(place=place, said=said)
    if place.path is None and isinstance(error, OperationalError | InterfaceError):
        return f"{place} does not answer: {said}. See that the database runs and can be reached from here."
    return f"The casebook {place} cannot do this: {said}. Nothing was changed."


def _first_line(error: Exception) -> str:
    said = str(error.orig if isinstance(error, DBAPIError) else error).strip()
    return hide_password(printable(said.split("\n")[0])).rstrip(".")
