"""One database, a file of SQLite or a PostgreSQL: work is done in whole transactions, and its troubles are told in words."""

import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from typing import Any, TypeVar

from sqlalchemy import (
    URL,
    Connection,
    Engine,
    Table,
    create_engine,
    event,
    func,
    insert,
    inspect,
    make_url,
    select,
    text,
    update,
)
from sqlalchemy.dialects import postgresql
from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    InterfaceError,
    NoSuchModuleError,
    OperationalError,
    SQLAlchemyError,
)

from shiftlore.basics.problems import printable
from shiftlore.casebook.book_records import LATEST, DamagedRow
from shiftlore.casebook.book_tables import METADATA, STEPS, VERSION
from shiftlore.casebook.places import CasebookError, Place, hide_password, ready_file

Made = TypeVar("Made")
_WRITES = "casebook_writes"
_ANSWER_SECONDS, _PAUSE_SECONDS, _CLEARING_MS = 10, 0.01, 500
_MOST_IN_A_STATEMENT = 500
SCHEMA_LOCK, FORGETTING_LOCK = 7_214_001, 7_214_002
"""Numbers of the advisory locks of PostgreSQL, by chance."""
_FILE_DRIVER = "sqlite+pysqlite"


class Database:
    """A casebook's database, carried forward to today's form.

    Args:
        patience_seconds: how long to wait while another program writes.
    Raises: CasebookError: it cannot be used; says why and what to do.
    """

    def __init__(self, place: Place, patience_seconds: float):
        self.place, self.patience_seconds = place, patience_seconds
        self.is_server = place.path is None
        if place.path is not None:
            ready_file(place.path)
        with ExitStack() as stack:
            with self._telling():
                self._engine = _make_engine(place, patience_seconds)
            stack.callback(self.close)
            if self.read(self._find_version) != LATEST:
                self.write(self._carry_forward)
            stack.pop_all()

    def close(self) -> None:
        """Let go of it."""
        self._engine.dispose()

    def read(self, work: Callable[[Connection], Made]) -> Made:
        """Look something up, all of it as it was at one moment."""
        return self._run(work, writes=False)

    def write(self, work: Callable[[Connection], Made]) -> Made:
        """Change something, wholly or not at all; what passes by itself is tried again.

        Args:
            work: may be called several times; what it did before was then taken back.
        """
        return self._run(work, writes=True)

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """Give a connection that sees everything as it was at one moment, however long it is read from."""
        level = {"isolation_level": "REPEATABLE READ"} if self.is_server else {}
        with self._telling(), self._engine.connect().execution_options(**level) as one, one.begin():
            yield one

    def add(self, connection: Connection, table: Table, rows: Sequence[Mapping[str, Any]]) -> set[str]:
        """Add rows unless their key is there, the first of two that are alike.

        Args:
            table: its first column is its key, a text.
        Returns: the keys that were added.
        """
        key = next(iter(table.columns))
        by_key = {row[key.name]: row for row in reversed(rows)}
        added: set[str] = set()
        for part in batched(sorted(by_key)):  # all who write lock in one order
            if self.is_server:
                statement = postgresql.insert(table).on_conflict_do_nothing().returning(key)
                added.update(connection.execute(statement, [by_key[one] for one in part]).scalars())
                continue
            new = set(part).difference(
                connection.execute(select(key).where(key.in_(part))).scalars()
            )  # a writer is alone
            added |= new
            if new:
                connection.execute(insert(table), [by_key[one] for one in part if one in new])
        return added

    def lock(self, connection: Connection, number: int, shared: bool = False) -> None:
        """Keep others out until the transaction ends; in a file a writer is alone anyway.

        Args:
            shared: keep out those only who want to be alone.
        """
        if self.is_server:
            take = func.pg_advisory_xact_lock_shared if shared else func.pg_advisory_xact_lock
            connection.execute(select(take(number)))

    def clear_log(self) -> None:
        """Leave nothing in a file's log of what was deleted; its pages are wiped as they are freed."""
        if not self.is_server:
            with self._telling(), self._engine.connect() as connection:
                own: Any = connection.connection.dbapi_connection
                own.execute(f"PRAGMA busy_timeout = {_CLEARING_MS}").close()  # whoever still reads clears it in the end
                own.execute("PRAGMA wal_checkpoint(TRUNCATE)").close()
                connection.invalidate()

    def _run(self, work: Callable[[Connection], Made], writes: bool) -> Made:
        until = time.monotonic() + self.patience_seconds
        with self._telling():
            while True:
                try:
                    with self._engine.connect().execution_options(**{_WRITES: writes}) as one, one.begin():
                        return work(one)
                except SQLAlchemyError as error:
                    if not is_passing(error) or time.monotonic() > until:
                        raise
                    time.sleep(_PAUSE_SECONDS)

    @contextmanager
    def _telling(self) -> Iterator[None]:
        """Turn what the database says into a sentence."""
        try:
            yield
        except (SQLAlchemyError, ImportError, DamagedRow, UnicodeDecodeError) as error:
            raise CasebookError(tell_trouble(error, self.place)) from error

    def _find_version(self, connection: Connection) -> int:
        """Tell which form the casebook has; 0 where nothing is in it yet.

        Raises: CasebookError: it is newer than this program, or holds something else.
        """
        names = set(inspect(connection).get_table_names())
        if VERSION.name not in names:
            if names and not self.is_server:
                raise CasebookError(f"{self.place} is no casebook: it holds something else. Name another file.")
            return 0
        said = connection.execute(select(func.max(VERSION.c.version))).scalar() or 0
        if not isinstance(said, int):
            raise DamagedRow("the number of its form is none")
        version = said
        if version > LATEST:
            advice = "Bring Shiftlore up to date, then open it again; nothing was changed."
            raise CasebookError(
                f"The casebook {self.place} was written by a newer program (form {version}, known here {LATEST}). {advice}"
            )
        return version

    def _carry_forward(self, connection: Connection) -> None:
        """Carry the casebook forward to today's form, all steps in one transaction."""
        self.lock(connection, SCHEMA_LOCK)
        version = self._find_version(connection)
        if version == 0:
            METADATA.create_all(connection, [VERSION])
            connection.execute(insert(VERSION).values(version=0))
        for step in STEPS[version:]:
            for statement in step:
                connection.execute(text(statement))
        connection.execute(update(VERSION).values(version=LATEST))


def batched(keys: Sequence[str]) -> Iterator[Sequence[str]]:
    """Give keys in parts of which each fits into one statement."""
    for begin in range(0, len(keys), _MOST_IN_A_STATEMENT):
        yield keys[begin : begin + _MOST_IN_A_STATEMENT]


def _make_engine(place: Place, patience_seconds: float) -> Engine:
    if place.path is None:
        waits = f"-c lock_timeout={int(patience_seconds * 1000)} -c synchronous_commit=on"
        arguments = {"connect_timeout": _ANSWER_SECONDS, "options": waits}
        try:
            return create_engine(make_url(place.url), connect_args=arguments)
        except ValueError as error:  # a port that is no number
            raise ArgumentError(str(error)) from error
    engine = create_engine(
        URL.create(_FILE_DRIVER, database=str(place.path)), connect_args={"timeout": patience_seconds}
    )
    _set_up_file(engine)
    return engine


def _set_up_file(engine: Engine) -> None:
    """Have every commit on disk before it is told, readers and one writer side by side, and transactions as they are begun.

    Source: the manual of SQLite, "Write-Ahead Logging" and PRAGMA; that of SQLAlchemy, "Serializable isolation / Savepoints /
    Transactional DDL", for who begins a transaction.
    """

    def connect(own: Any, _: object) -> None:
        own.isolation_level = None
        for pragma in ("synchronous = FULL", "foreign_keys = ON", "secure_delete = ON"):
            own.execute(f"PRAGMA {pragma}").close()
        if own.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
            own.execute("PRAGMA journal_mode = WAL").close()

    def begin(connection: Connection) -> None:
        is_writing = connection.get_execution_options().get(_WRITES)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if is_writing else "BEGIN")

    event.listen(engine, "connect", connect)
    event.listen(engine, "begin", begin)


_DAMAGED = (
    "The casebook {place} is damaged{what}. Put it aside, and import your last export: shiftlore casebook import FILE"
)
_FILE_SAYS: tuple[tuple[str, str], ...] = (
    ("is locked", "{place} is busy: another program has held it for too long. Close it there, and try again."),
    ("not a database", "{place} is no casebook: it holds something else. Name another file, or put it aside."),
    ("malformed", _DAMAGED),
    ("could not decode", _DAMAGED),
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
    if isinstance(error, DamagedRow | UnicodeDecodeError):
        return _DAMAGED.format(place=place, what=f": {error}" if isinstance(error, DamagedRow) else "")
    said = _first_line(error)
    for words, sentence in _FILE_SAYS if place.path is not None else _SERVER_SAYS:
        if words in said.lower():
            return sentence.format(place=place, said=said, what="")
    if place.path is None and isinstance(error, OperationalError | InterfaceError):
        return f"{place} does not answer: {said}. See that the database runs and can be reached from here."
    return f"The casebook {place} cannot do this: {said}. Nothing was changed."


def _first_line(error: Exception) -> str:
    said = str(error.orig if isinstance(error, DBAPIError) else error).strip()
    return hide_password(printable(said.split("\n")[0])).rstrip(".")
