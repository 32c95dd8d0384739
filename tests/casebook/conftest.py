"""A casebook to test with: every test of storage runs on a file of SQLite and on a real PostgreSQL."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from itertools import count
from pathlib import Path

import pytest
from support.databases import empty_database, fresh_database, postgres_server

from shiftlore.casebook import Casebook, open_casebook


@pytest.fixture(scope="session")
def server() -> Iterator[str | None]:
    """Give the address of a PostgreSQL for the session, or None."""
    with postgres_server() as address:
        yield address


@pytest.fixture(scope="session")
def databases(server: str | None) -> Iterator[list[str]]:
    """Give two databases on the server, to be emptied by each test; none where there is no server."""
    with ExitStack() as stack:
        yield [] if server is None else [stack.enter_context(fresh_database(server)) for _ in range(2)]


@pytest.fixture(params=["sqlite", "postgres"])
def fresh(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[], str]:
    """Give a function that names a place where no casebook is yet; it is there until the next but one."""
    numbers = count()
    if request.param == "sqlite":
        return lambda: str(tmp_path / f"casebook-{next(numbers)}.db")
    databases: list[str] = request.getfixturevalue("databases")
    if not databases:
        pytest.skip("no PostgreSQL here: name one in SHIFTLORE_TEST_POSTGRES, or install it")
    return lambda: empty_database(databases[next(numbers) % len(databases)])


@pytest.fixture
def place(fresh: Callable[[], str]) -> str:
    """Give a place where no casebook is yet."""
    return fresh()


@pytest.fixture
def book(place: str) -> Iterator[Casebook]:
    """Give an empty casebook."""
    with open_casebook(place) as opened:
        yield opened
