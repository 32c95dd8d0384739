"""What the casebook keeps, as frozen records: closed cases, what is left of forgotten ones, and rounds of practice.

Every record checks itself, so that nothing can be kept that could not be read again: texts hold nothing that a database
refuses, numbers are numbers, and a case is one JSON object in one way of writing.
"""

import datetime
import hashlib
import json
import re
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from shiftlore.basics.problems import HIDDEN, ShiftloreError
from shiftlore.basics.structs import Value
from shiftlore.cases import CONFIRMED_BY, HIGHEST_BUDGET, HIGHEST_ODOMETER_KM, LONGEST_WORK_MINUTES, RESULTS, read_day
from shiftlore.cases.outcomes import ID_FORM
from shiftlore.version import __version__

LATEST = 2
"""Today's form of the tables: as many as there are steps in `book_tables`."""
LARGEST_WHOLE = 2**63 - 1
LONGEST_TEXT, LONGEST_CASE = 2_000, 1_000_000
NUMBERS: Mapping[str, float] = {
    "minutes": LONGEST_WORK_MINUTES,
    "spent": HIGHEST_BUDGET,
    "comeback_km": HIGHEST_ODOMETER_KM,
}
"""Numbers that an entry may hold -> the largest one; the smallest is 0."""
LISTS = ("causes", "templates", "cause_labels", "corrections", "job_labels")
"""Fields of an entry that are lists of texts."""
SHARES = ("areas", "beliefs", "alone")
"""Fields of an entry that are mappings to probabilities."""
AMENDED = ("closed_on", "causes", "confirmed", "corrections", "outcome", "minutes", "spent", "comeback_km")
"""What a later closing may change, and the history keeps."""


class EntryProblem(ShiftloreError):
    """A record cannot be kept as it is: what is wrong, and what to write instead."""


class DamagedRow(Exception):
    """What stands in a casebook cannot have been filed there: which row, and why."""


def make_id() -> str:
    """Make the id of a case that is closed for the first time: 20 hexadecimal digits, by chance."""
    return secrets.token_hex(10)


def mark_forgotten(entry_id: str) -> str:
    """Give the mark by which only who holds the id can tell that its case was forgotten."""
    return hashlib.blake2b(entry_id.encode(), digest_size=16, person=b"forgotten").hexdigest()


def dump_plain(value: Any) -> str:
    """Write a plain value as JSON in the one way in which it is kept and exported.

    Raises: EntryProblem: it holds a number that is none, or text that no file can hold.
    """
    try:
        text = json.dumps(value, ensure_ascii=False, allow_nan=False)
        text.encode("utf-8")
    except (TypeError, ValueError, RecursionError) as error:
        raise EntryProblem(f"This cannot be kept: {error}. Write plain text and numbers.") from error
    return text


@dataclass(frozen=True, slots=True)
class Entry:
    """One closed case.

    Args:
        id: 20 hexadecimal digits; the case file carries it too.
        closed_on: date, YYYY-MM-DD.
        case: the case as JSON text, with neither owner nor free words in it.
        unit: id of the unit sheet, or a kind.
        area: area of the first cause; "" where nobody knows the cause.
        causes: what it was, as the case names it; templates: the same as the rules write it.
        cause_labels: the same in words.
        confirmed: one of `cases.CONFIRMED_BY`, or "".
        corrections: jobs that were done for it; job_labels: the same in words.
        outcome: one of `cases.RESULTS`.
        minutes, spent: hours and money really spent, or None; currency: its code, or "".
        comeback_km: distance after which it came back, or None.
        odometer_km: distance driven when it came in, or None.
        person: whose vehicle it is; "" unless it was asked to be kept.
        told: what it came with, in one short line.
        signs: finding -> grade, of what was found before the last job.
        areas: area -> probability that a cause of it was at work, before the outcome was known.
        beliefs: cause as the rules write it -> the same.
        alone: the same of a vehicle with one cause, by the rules alone: what it looked like.
        history: what it said before it was amended, oldest first.
        program: version that believed so.
    """

    id: str
    closed_on: str
    case: str
    unit: str = ""
    area: str = ""
    causes: tuple[str, ...] = ()
    templates: tuple[str, ...] = ()
    cause_labels: tuple[str, ...] = ()
    confirmed: str = ""
    corrections: tuple[str, ...] = ()
    job_labels: tuple[str, ...] = ()
    outcome: str = ""
    minutes: float | None = None
    spent: float | None = None
    currency: str = ""
    comeback_km: float | None = None
    odometer_km: float | None = None
    person: str = ""
    told: str = ""
    signs: Mapping[str, str] = field(default_factory=dict, hash=False)
    areas: Mapping[str, float] = field(default_factory=dict, hash=False)
    beliefs: Mapping[str, float] = field(default_factory=dict, hash=False)
    alone: Mapping[str, float] = field(default_factory=dict, hash=False)
    history: tuple[Mapping[str, Any], ...] = field(default=(), hash=False)
    program: str = __version__

    def __post_init__(self) -> None:
        if not isinstance(self.id, str) or not ID_FORM.fullmatch(self.id):
            raise EntryProblem(f'"{_short(self.id)}" is no id of a case. Write 20 hexadecimal digits.')
        _need_day("closed_on", self.closed_on)
        for name in ("unit", "area", "currency", "person", "told", "program"):
            _need_text(name, getattr(self, name))
        for name in LISTS:
            object.__setattr__(self, name, _need_list(name, getattr(self, name)))
            for text in getattr(self, name):
                _need_text(name, text)
        _need_word("confirmed", self.confirmed, ("", *CONFIRMED_BY))
        _need_word("outcome", self.outcome, RESULTS)
        for name, most in (*NUMBERS.items(), ("odometer_km", HIGHEST_ODOMETER_KM)):
            object.__setattr__(self, name, _need_number(name, getattr(self, name), most))
        for name, grade in _need_mapping("signs", self.signs).items():
            _need_text("signs", name)
            _need_text("signs", grade)
        for name in SHARES:
            object.__setattr__(self, name, _need_shares(name, getattr(self, name)))
        object.__setattr__(self, "case", _need_case(self.case))
        object.__setattr__(self, "history", tuple(map(_need_former, _need_list("history", self.history))))

    @property
    def complaint(self) -> list[str]:
        """Name what the owner came with, as the case has it."""
        found = json.loads(self.case).get("complaint")
        return [str(key) for key in found] if isinstance(found, list) else []

    def amended(self, later: "Entry") -> "Entry":
        """Give this entry as a later closing has it, with what it said before in its history; the same if nothing changed."""
        old, new = ({name: getattr(one, name) for name in AMENDED} for one in (self, later))
        person = later.person or self.person
        if {**old, "closed_on": ""} == {**new, "closed_on": ""}:
            return replace(self, person=person)
        former = {name: list(value) if isinstance(value, tuple) else value for name, value in old.items()}
        first = self if self.beliefs else later
        return replace(
            later,
            history=(*self.history, former),
            person=person,
            told=first.told,
            signs=first.signs,
            areas=first.areas,
            beliefs=first.beliefs,
            alone=first.alone,
            program=first.program,
        )


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What is left of a case that was forgotten: nothing but what the counts need.

    Args:
        mark: see `mark_forgotten`.
        templates: what it was, as the rules write it.
    """

    mark: str
    area: str = ""
    unit: str = ""
    templates: tuple[str, ...] = ()
    outcome: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.mark, str) or not re.fullmatch(r"[0-9a-f]{32}", self.mark):
            raise EntryProblem(f'"{_short(self.mark)}" is no mark of a forgotten case. Write 32 hexadecimal digits.')
        object.__setattr__(self, "templates", _need_list("templates", self.templates))
        for text in (self.area, self.unit, *self.templates):
            _need_text("forgotten", text)
        _need_word("outcome", self.outcome, RESULTS)


@dataclass(frozen=True, slots=True)
class PracticeRound:
    """One made-up vehicle that an apprentice worked on to its end.

    Args:
        area, cause, unit: what it had, as the rules write it.
        level: how much may be wrong, a word.
        seed: the whole number by which it was drawn.
        found: whether the apprentice named what it was.
        spent: money that the apprentice's choices cost; planned: what the planner's would have.
        finished_on: date, or date and time, as ISO 8601 writes it. A round told twice in all of this is one.
    """

    area: str
    cause: str
    unit: str
    level: str
    seed: int
    found: bool
    spent: float
    planned: float
    finished_on: str

    def __post_init__(self) -> None:
        for name in ("area", "cause", "unit", "level"):
            _need_text(name, getattr(self, name))
        if isinstance(self.seed, bool) or not isinstance(self.seed, int) or abs(self.seed) > LARGEST_WHOLE:
            raise EntryProblem(f'seed "{_short(self.seed)}" will not do. Write a whole number below {LARGEST_WHOLE}.')
        if not isinstance(self.found, bool):
            raise EntryProblem(f'found "{_short(self.found)}" will not do. Write true or false.')
        for name in ("spent", "planned"):
            number = _need_number(name, getattr(self, name), HIGHEST_BUDGET)
            if number is None:
                raise EntryProblem(f"{name} is missing. Write what was spent, or 0.")
            object.__setattr__(self, name, number)
        _need_date("finished_on", self.finished_on)

    @property
    def key(self) -> str:
        """Give what makes a round itself: a hash of all that is told of it."""
        told = dump_plain([getattr(self, name) for name in self.__slots__])
        return hashlib.blake2b(told.encode("utf-8"), digest_size=16).hexdigest()


class PracticeScore(Value, frozen=True):
    """How practice has gone in one area: rounds, how many found it, and money spent by the apprentice and by the planner."""

    rounds: int
    found: int
    spent: float
    planned: float


def _short(value: object) -> str:
    return HIDDEN.sub("?", str(value))[:40]


def _need_text(name: str, value: object) -> None:
    if not isinstance(value, str):
        raise EntryProblem(f"{name} is no text. Write it in quotes.")
    if HIDDEN.search(value) or len(value) > LONGEST_TEXT:
        raise EntryProblem(f'{name} "{_short(value)}" will not do. Write at most {LONGEST_TEXT} visible characters.')


def _need_list(name: str, value: object) -> tuple[Any, ...]:
    if not isinstance(value, tuple | list):
        raise EntryProblem(f"{name} is no list. Write it in brackets.")
    return tuple(value)


def _need_word(name: str, value: object, words: tuple[str, ...]) -> None:
    if value not in words:
        raise EntryProblem(f'{name} "{_short(value)}" will not do. Write one of: {", ".join(filter(None, words))}.')


def _need_day(name: str, value: object) -> None:
    if not isinstance(value, str) or read_day(value) is None:
        raise EntryProblem(f'{name} "{_short(value)}" is no date. Write it like 2026-03-02.')


def _need_date(name: str, value: object) -> None:
    try:
        datetime.datetime.fromisoformat(value if isinstance(value, str) else "")
    except ValueError as error:
        raise EntryProblem(f'{name} "{_short(value)}" is no date. Write it like 2026-03-02.') from error
    _need_text(name, value)


def _need_number(name: str, value: object, most: float) -> float | None:
    """Take a number; whole ones become decimal, as a database gives them back."""
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value <= most:
        raise EntryProblem(f'{name} "{_short(value)}" will not do. Write a number from 0 to {most:,.0f}, or null.')
    return float(value) + 0.0  # no minus zero


def _need_mapping(name: str, value: object) -> Mapping[str, Any]:
    if not isinstance(value, Mapping):
        raise EntryProblem(f"{name} is no mapping. Write it in braces.")
    return value


def _need_shares(name: str, value: object) -> dict[str, float]:
    found = _need_mapping(name, value)
    for key, share in found.items():
        _need_text(name, key)
        if isinstance(share, bool) or not isinstance(share, int | float) or not 0 <= share <= 1:
            raise EntryProblem(f'{name}: {_short(key)} "{_short(share)}" will not do. Write a number from 0 to 1.')
    return {key: float(share) + 0.0 for key, share in found.items()}


def _need_case(text: object) -> str:
    """Take a case's text, and give it in the one way of writing."""
    try:
        plain = json.loads(text if isinstance(text, str) else "", parse_constant=_refuse_constant)
    except (ValueError, RecursionError) as error:
        raise EntryProblem("case is no JSON object. Write the case as JSON.") from error
    if not isinstance(plain, dict):
        raise EntryProblem("case is no JSON object. Write the case as JSON.")
    written = dump_plain(plain)
    if len(written) > LONGEST_CASE:
        raise EntryProblem(f"case is too long. Write at most {LONGEST_CASE:,} characters.")
    return written


def _refuse_constant(word: str) -> float:
    raise ValueError(f"{word} is no number")


def _need_former(value: object) -> dict[str, Any]:
    """Take what an entry said before: the fields that may be amended, and no others."""
    if not isinstance(value, Mapping) or set(value) != set(AMENDED):
        raise EntryProblem(f"history does not hold what was said before. Write for each: {', '.join(AMENDED)}.")
    _need_day("closed_on", value["closed_on"])
    _need_word("confirmed", value["confirmed"], ("", *CONFIRMED_BY))
    _need_word("outcome", value["outcome"], RESULTS)
    lists = {name: list(_need_list(name, value[name])) for name in ("causes", "corrections")}
    for name, texts in lists.items():
        for text in texts:
            _need_text(name, text)
    numbers = {name: _need_number(name, value[name], most) for name, most in NUMBERS.items()}
    return {name: lists.get(name, numbers.get(name, value[name])) for name in AMENDED}
