"""The end of a case: what it was, what came of it, what it really took, and under which id it is filed."""

import datetime
import re

from shiftlore.cases.case_records import (
    CAME_BACK,
    CONFIRMED_BY,
    HIGHEST_BUDGET,
    HIGHEST_ODOMETER_KM,
    LONGEST_WORK_MINUTES,
    RESULTS,
    Outcome,
)
from shiftlore.reading import Fields, quoted

ID_FORM = re.compile(r"[0-9a-f]{20}")
"""Form of the id under which a case is filed."""


def read_outcome(fields: Fields, causes: tuple[str, ...], jobs: tuple[str, ...]) -> Outcome:
    """Read what stands under `outcome`; what is wrong goes into the problems of the case.

    Args:
        causes, jobs: its lists, read already.
    """
    outcome = Outcome(
        causes,
        confirmed=fields.word("confirmed", CONFIRMED_BY, ""),
        mark=fields.mark,
        jobs=jobs,
        result=fields.word("result", RESULTS, ""),
        minutes=fields.number("minutes", 0, LONGEST_WORK_MINUTES, None),
        spent=fields.number("spent", 0, HIGHEST_BUDGET, None),
        after_km=fields.number("after_km", 0, HIGHEST_ODOMETER_KM, None),
        closed_on=fields.text("closed_on", ""),
        id=fields.text("id", ""),
    )
    if outcome.after_km is not None and outcome.result != CAME_BACK:
        advice = f"Write result: {CAME_BACK}, or leave after_km out."
        fields.add(fields.value_mark("after_km"), "023", "after_km is of a fault that came back", advice)
    if outcome.closed_on and read_day(outcome.closed_on) is None:
        what = f"{quoted(outcome.closed_on)} is no date"
        fields.add(fields.value_mark("closed_on"), "035", what, "Write year, month and day, such as 2026-03-02.")
    if outcome.id and not ID_FORM.fullmatch(outcome.id):
        what = f"{quoted(outcome.id)} is no id of the casebook"
        fields.add(fields.value_mark("id"), "036", what, "Take it out; `shiftlore close` writes one.")
    fields.finish()
    return outcome


def read_day(text: str) -> datetime.date | None:
    """Read a date that is written YYYY-MM-DD, and in no other way; None where it is none.

    Example:
        >>> read_day("2026-03-02"), read_day("20260302"), read_day("2026-02-30")
        (datetime.date(2026, 3, 2), None, None)
    """
    try:
        day = datetime.date.fromisoformat(text)
    except ValueError:
        return None
    return day if day.isoformat() == text else None
