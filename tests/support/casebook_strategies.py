"""Draws records of a casebook: odd letters, odd numbers, nothing where nothing may be."""

import datetime

from hypothesis import strategies as st

from shiftlore.basics.problems import HIDDEN
from shiftlore.casebook import Entry, PracticeRound
from shiftlore.casebook.book_records import Forgotten
from shiftlore.cases import CONFIRMED_BY, RESULTS

TEXTS = st.text(max_size=12).map(lambda text: HIDDEN.sub("é", text))
WORDS = st.text(st.characters(codec="utf-8"), max_size=12)
DAYS = st.dates(datetime.date(1990, 1, 1), datetime.date(2100, 1, 1)).map(datetime.date.isoformat)
LISTS = st.lists(TEXTS, max_size=3).map(tuple)
SHARES = st.dictionaries(TEXTS, st.floats(0, 1), max_size=3)
PLAIN = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | WORDS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
    max_leaves=8,
)


def amounts(most: float) -> st.SearchStrategy[float | None]:
    """Draw a number, or nothing."""
    return st.none() | st.floats(0, most)


def formers() -> st.SearchStrategy[dict[str, object]]:
    """Draw what an entry said before."""
    return st.fixed_dictionaries(
        {
            "closed_on": DAYS,
            "causes": LISTS.map(list),
            "confirmed": st.sampled_from(["", *CONFIRMED_BY]),
            "corrections": LISTS.map(list),
            "outcome": st.sampled_from(RESULTS),
            "minutes": amounts(1e5),
            "spent": amounts(1e7),
            "comeback_km": amounts(3e6),
        }
    )


def entries() -> st.SearchStrategy[Entry]:
    """Draw closed cases."""
    from shiftlore.casebook.book_records import dump_plain

    return st.builds(
        Entry,
        id=st.integers(0, 16**20 - 1).map("{:020x}".format),
        closed_on=DAYS,
        case=st.dictionaries(WORDS, PLAIN, max_size=4).map(dump_plain),
        unit=TEXTS,
        area=TEXTS,
        causes=LISTS,
        templates=LISTS,
        cause_labels=LISTS,
        confirmed=st.sampled_from(["", *CONFIRMED_BY]),
        corrections=LISTS,
        job_labels=LISTS,
        outcome=st.sampled_from(RESULTS),
        minutes=amounts(1e5),
        spent=amounts(1e7),
        currency=TEXTS,
        comeback_km=amounts(3e6),
        odometer_km=amounts(3e6),
        person=TEXTS,
        told=TEXTS,
        signs=st.dictionaries(TEXTS, TEXTS, max_size=3),
        areas=SHARES,
        beliefs=SHARES,
        alone=SHARES,
        history=st.lists(formers(), max_size=2).map(tuple),
        program=TEXTS,
    )


def remains() -> st.SearchStrategy[Forgotten]:
    """Draw what is left of forgotten cases."""
    marks = st.integers(0, 16**32 - 1).map("{:032x}".format)
    return st.builds(Forgotten, marks, TEXTS, TEXTS, LISTS, st.sampled_from(RESULTS))


def rounds() -> st.SearchStrategy[PracticeRound]:
    """Draw rounds of practice."""
    seeds, money = st.integers(-(2**63) + 1, 2**63 - 1), st.floats(0, 1e7)
    days = st.datetimes(datetime.datetime(1990, 1, 1)).map(lambda day: day.isoformat(timespec="seconds"))
    return st.builds(PracticeRound, TEXTS, TEXTS, TEXTS, TEXTS, seeds, st.booleans(), money, money, days)
