"""Numbers as a language writes them."""

import datetime

import pytest

from shiftlore.reports.page_numbers import Numbers, of_hundred
from shiftlore.words import Phrases, load_phrases

ENGLISH, GERMAN = Numbers(load_phrases("en"), "EUR"), Numbers(load_phrases("de"), "EUR")


@pytest.mark.parametrize(("numbers", "text"), [(ENGLISH, "€1,240"), (GERMAN, "1.240\u00a0€")])
def test_money__sign_and_groups_stand_where_the_language_puts_them(numbers: Numbers, text: str) -> None:
    """Source: Unicode CLDR 44, patterns of en and de: ¤#,##0 and #,##0 ¤."""
    assert text == numbers.money(1239.6)


def test_money__a_currency_without_a_sign_is_written_by_its_code() -> None:
    """Source: ISO 4217, XTS is the code for tests."""
    assert ("XTS\u00a012", "12\u00a0XTS") == (
        Numbers(ENGLISH.phrases, "XTS").money(12), Numbers(GERMAN.phrases, "XTS").money(12)
    )


def test_date__with_the_months_name() -> None:
    day = datetime.date(2026, 3, 2)
    assert ("2 March 2026", "2. März 2026") == (ENGLISH.date(day), GERMAN.date(day))


def test_date__a_language_without_twelve_months_writes_the_number() -> None:
    bare = Phrases("xx", {"formats": {"months": "one two", "date": "{day}/{month}/{year}"}})
    assert "2/3/2026" == Numbers(bare, "EUR").date(datetime.date(2026, 3, 2))


def test_decimal__takes_the_languages_point() -> None:
    assert ("1.5", "1,5") == (ENGLISH.decimal(1.5), GERMAN.decimal(1.5))


def test_km__keeps_number_and_unit_together() -> None:
    assert "182.000\u00a0km" == GERMAN.km(182_000)


@pytest.mark.parametrize(("p", "text"), [(0.0, "0"), (1.0, "100"), (0.001, "<1"), (0.9999, ">99"), (0.5, "50")])
def test_of_hundred__never_promises_what_is_not_certain(p: float, text: str) -> None:
    assert text == of_hundred(p)
