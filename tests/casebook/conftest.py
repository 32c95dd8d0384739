"""A casebook to test with: every test of storage runs on a file of SQLite and on a real PostgreSQL."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from support.databases import fresh_database, postgres_server

from shiftlore.casebook import Casebook, open_casebook


@pytest.fixture(scope="session")
def server() -> Iterator[str | None]:
    """Give the address of a PostgreSQL for the session, or None."""
    with postgres_server() as address:
        yield address


@pytest.fixture(params=["sqlite", "postgres"])
def fresh(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Callable[[], str]]:
    """Give a function that names a place where no casebook is yet."""
    with ExitStack() as stack:
        made = iter(range(100))
        if request.param == "sqlite":
            yield lambda: str(tmp_path / f"casebook-{next(made)}.db")
            return
        address = request.getfixturevalue("server")
        if address is None:
            pytest.skip("no PostgreSQL here: name one in SHIFTLORE_TEST_POSTGRES, or install it")
        yield lambda: stack.enter_context(fresh_database(address))


@pytest.fixture
def place(fresh: Callable[[], str]) -> str:
    """Give a place where no casebook is yet."""
    return fresh()


@pytest.fixture
def book(place: str) -> Iterator[Casebook]:
    """Give an empty casebook."""
    with open_casebook(place) as opened:
        yield opened
