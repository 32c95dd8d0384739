"""Small words shared by all texts."""

import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.reports.wording import (
    NARROWEST,
    WIDEST,
    Numbers,
    clamp_width,
    of_hundred,
    say_first,
    say_km,
    say_minutes,
    say_money,
    say_percent,
    share_hundred,
    wrap_lines,
)
from shiftlore.words import Phrases, load_phrases


def plain(text: str) -> str:
    """Write spaces that hold two words together as ordinary ones."""
    return text.replace("\N{NO-BREAK SPACE}", " ")


@given(st.lists(st.floats(0, 1), min_size=1, max_size=9).filter(lambda shares: sum(shares) > 1e-6))
def test_share_hundred__adds_up_and_is_never_off_by_one(shares: list[float]) -> None:
    """Source: the quota rule, which the method of largest remainders keeps (common knowledge of seat sharing)."""
    found = share_hundred(shares)
    assert 100 == sum(found)
    assert all(abs(n - 100 * share / sum(shares)) < 1 + 1e-9 for n, share in zip(found, shares, strict=True))


def test_share_hundred__nothing_stays_nothing() -> None:
    assert [] == share_hundred([])


@pytest.mark.parametrize(
    ("p", "text"),
    [
        (0.0, "under 1 %"),
        (0.0049, "under 1 %"),
        (0.01, "1 %"),
        (0.342, "34 %"),
        (0.9951, "over 99 %"),
        (1.0, "over 99 %"),
    ],
)
def test_say_percent__never_says_never_or_always(p: float, text: str) -> None:
    assert text == plain(say_percent(p))


@given(st.floats(0, 1))
def test_say_percent__is_within_half_a_percent(p: float) -> None:
    text = plain(say_percent(p))
    if text[0].isdigit():
        assert 100 * p == pytest.approx(int(text.split()[0]), abs=0.5001)


@pytest.mark.parametrize(
    ("minutes", "text"),
    [
        (0, "0 min"),
        (25.4, "25 min"),
        (59.6, "1 h"),
        (60, "1 h"),
        (150, "2 h 30 min"),
        (600, "10 h"),
    ],
)
def test_say_minutes__as_a_workshop_says_it(minutes: float, text: str) -> None:
    assert text == plain(say_minutes(minutes))


def test_say_money__whole_units_with_the_currency() -> None:
    assert "EUR 1,240" == plain(say_money(1239.6, "EUR"))


def test_say_first__whoever_answers_for_it_each_once() -> None:
    both = say_first(["Rebuilt or exchanged"], True)
    assert "(Rebuilt or exchanged)" in both and "maker's warranty" in both and 1 == both.count("What follows")
    assert "warranty" not in say_first(["Rebuilt or exchanged"], False) and not say_first([], False)


def test_say_km__with_thousands() -> None:
    assert "182,000 km" == plain(say_km(182_000.0))


@given(st.text("ab ", max_size=200), st.integers(NARROWEST, WIDEST))
def test_wrap_lines__keeps_every_word_and_the_width(text: str, width: int) -> None:
    lines = wrap_lines(text.replace("ab", "a b"), "  ", width=width)
    assert (
        text.replace("ab", "a b").split() == " ".join(lines).split()
        or max(map(len, text.split()), default=0) > width - 2
    )
    assert all(len(line) <= width for line in lines)


def test_wrap_lines__first_line_may_begin_otherwise() -> None:
    assert ["- a", "  b"] == wrap_lines("a b", "  ", "- ", 4)
    assert ["-"] == wrap_lines("", "  ", "- ")


@pytest.mark.parametrize(("columns", "width"), [(0, NARROWEST), (44, 44), (80, 80), (500, WIDEST)])
def test_clamp_width__stays_readable(columns: int, width: int) -> None:
    assert width == clamp_width(columns)


ENGLISH, GERMAN = Numbers(load_phrases("en"), "EUR"), Numbers(load_phrases("de"), "EUR")


@pytest.mark.parametrize(("numbers", "text"), [(ENGLISH, "€1,240"), (GERMAN, "1.240\u00a0€")])
def test_money__sign_and_groups_stand_where_the_language_puts_them(numbers: Numbers, text: str) -> None:
    """Source: Unicode CLDR 44, patterns of en and de: ¤#,##0 and #,##0 ¤."""
    assert text == numbers.money(1239.6)


def test_money__a_currency_without_a_sign_is_written_by_its_code() -> None:
    """Source: ISO 4217, XTS is the code for tests."""
    assert ("XTS\u00a012", "12\u00a0XTS") == (
        Numbers(ENGLISH.phrases, "XTS").money(12),
        Numbers(GERMAN.phrases, "XTS").money(12),
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
