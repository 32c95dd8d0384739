"""Tables: what is read back is what was written, and what the steps make is what the tables say."""

import pytest
from hypothesis import HealthCheck, given, settings
from sqlalchemy import create_engine, inspect, text
from support.casebook_entries import ENTRY, entry_of
from support.casebook_strategies import entries

from shiftlore.casebook import Casebook, Entry
from shiftlore.casebook.book_records import LATEST
from shiftlore.casebook.book_tables import METADATA, STEPS, VERSION, entry_of_row, row_of_entry


def test_steps__make_what_the_tables_say() -> None:
    """Source: SQLite's own list of what is there."""
    engine = create_engine("sqlite://")
    with engine.begin() as connection:
        METADATA.create_all(connection, [VERSION])
        for step in STEPS:
            for statement in step:
                connection.execute(text(statement))
        made = inspect(connection)
        columns = {name: {one["name"] for one in made.get_columns(name)} for name in made.get_table_names()}
    engine.dispose()
    assert {name: {one.name for one in table.columns} for name, table in METADATA.tables.items()} == columns


def test_steps__are_numbered_from_one() -> None:
    assert 2 == LATEST == len(STEPS)


@pytest.mark.parametrize("spent", [0.1, 1 / 3, 5e-324, 9999999.999999998, 0.0, None])
def test_row__a_number_comes_back_as_it_was(book: Casebook, spent: float | None) -> None:
    made = entry_of(1, spent=spent)
    book.file(made)
    assert repr(spent) == repr(book.get(made.id).spent)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(made=entries())
def test_row__what_is_written_is_read(made: Entry) -> None:
    assert made == entry_of_row(row_of_entry(made))  # type: ignore[arg-type]


def test_row__holds_no_list_of_python() -> None:
    assert {str, float, type(None)} >= {type(value) for value in row_of_entry(ENTRY).values()}
