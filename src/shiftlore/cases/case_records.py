"""A case as a frozen record, and the table of what a case may speak of."""

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace

import msgspec

from shiftlore.basics.problems import Mark, Problem
from shiftlore.basics.structs import Value

FORMAT_VERSION = 1
HIGHEST_ODOMETER_KM = 3_000_000
HIGHEST_BUDGET = 10_000_000
LONGEST_WORK_MINUTES = 100_000
LONGEST_DAYS = 3_650
RESULTS = CURED, NOT_CURED, CAME_BACK = ("cured", "not_cured", "came_back")
"""What may have come of a job."""
ONSETS = ("at_once", "within_days", "slowly")
"""How soon it came after what brought it on."""
MOST_SPEEDS = 16
"""Forward gears that a case may state; no automatic of a road vehicle comes near it."""
LAYOUTS = ("fwd", "rwd", "awd")
CONFIRMED_BY = ("cured", "seen", "assumed")
COMPLAINT, CODES, ODOMETER = "complaint", "codes", "odometer_km"
RECENT, REPLACED, LOOKS = "recent_events", "replaced_parts", "first_look"
"""Names of questions that are no finding, background or check."""
ENTERING = "entering "
"""Before the id of a check among what was asked: its results are being entered."""
EITHER = "|"
"""Between the members of an either-or among what was asked, each `finding=answer`."""
_NOWHERE = Mark()


class Known(Value, frozen=True):
    """What a case of one unit may speak of.

    Args:
        findings: expanded finding id -> its grades, the sound one first; yes/no is ``("no", "yes")``.
        backgrounds: background id -> its answers.
        units: ids of every unit sheet, those that stand for units not known among them.
        checks, jobs, access: ids.
        codes: trouble codes in capitals that carry weight; others are kept with a warning.
        aliases: another name of a finding -> its expanded id.
        doubts: words for how sure an answer is.
        elsewhere: findings that stand on other units only -> their grades.
        events: backgrounds after which a fault may begin.
        conditions: words for when a finding shows.
        measures: what may be given as a number with its unit -> the units in which it may be given.
        causes: ids that an outcome may name.
        code_findings: trouble code -> the finding that it answers.
        excludes: finding whose yes says that others are not there (a scan that found no code) -> these.
        includes: finding whose yes says that others are there too -> these.
        denied_by: finding -> findings that speak against it.
        onset_says: how it began -> finding -> what this answers; event_says: background of `events` -> its answers.
        grade_measured: what a number in base units answers: name, value -> finding -> grade; nothing where no limit is known.
        parts: general finding -> findings of which its no says that none is there.
        asks: names of questions, beside findings, backgrounds and checks.
        misfits: key of the case that its unit contradicts -> what is wrong, and what to write instead.
        tell_foreign: what to write instead of a job that nobody does on this unit; "" for all others.
    """

    findings: Mapping[str, tuple[str, ...]]
    backgrounds: Mapping[str, tuple[str, ...]]
    units: Collection[str]
    checks: Collection[str] = ()
    jobs: Collection[str] = ()
    access: Collection[str] = ()
    codes: Collection[str] = ()
    aliases: Mapping[str, str] = msgspec.field(default_factory=dict)
    doubts: Collection[str] = ("think_so",)
    elsewhere: Mapping[str, tuple[str, ...]] = msgspec.field(default_factory=dict)
    events: Collection[str] = ()
    conditions: Collection[str] = ()
    measures: Mapping[str, tuple[str, ...]] = msgspec.field(default_factory=dict)
    causes: Collection[str] = ()
    code_findings: Mapping[str, str] = msgspec.field(default_factory=dict)
    excludes: Mapping[str, Collection[str]] = msgspec.field(default_factory=dict)
    includes: Mapping[str, Collection[str]] = msgspec.field(default_factory=dict)
    denied_by: Mapping[str, Collection[str]] = msgspec.field(default_factory=dict)
    onset_says: Mapping[str, Mapping[str, str]] = msgspec.field(default_factory=dict)
    event_says: Mapping[str, tuple[str, ...]] = msgspec.field(default_factory=dict)
    grade_measured: Callable[[str, float], Mapping[str, str]] = lambda name, value: {}
    parts: Mapping[str, Collection[str]] = msgspec.field(default_factory=dict)
    asks: Collection[str] = ()
    misfits: Mapping[str, tuple[str, str]] = msgspec.field(default_factory=dict)
    tell_foreign: Callable[[str], str] = lambda job: ""


class Vehicle(Value, frozen=True):
    """What says which sheet a case is judged by.

    Args:
        unit: id of a unit sheet, a kind, or the path of an own sheet; "" if not known.
        speeds, layout: forward gears and one of `LAYOUTS`; None and "" if not known.
        folder: from where a path is seen.
    """

    unit: str
    speeds: int | None = None
    layout: str = ""
    folder: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer.

    Args:
        finding: expanded finding id, or a trouble code in capitals.
        grade: ``yes``, ``no``, or a grade of the finding.
        doubt: None if sure, else a word such as ``think_so``.
        when: conditions under which this finding shows, and no other.
    """

    finding: str
    grade: str
    doubt: str | None = None
    mark: Mark = field(default=_NOWHERE, compare=False)
    when: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Done:
    """A check or job that was done, and what came of it.

    Args:
        id: check or job.
        result: of a job, one of `RESULTS`; "" while nobody knows.
        after_km, after_days: when the fault came back, or None.
        found_after: what was found after the job -> answer; all other findings count for the state before it.
    """

    id: str
    result: str = ""
    after_km: float | None = None
    after_days: float | None = None
    mark: Mark = field(default=_NOWHERE, compare=False)
    found_after: Mapping[str, Answer] = field(default_factory=dict, hash=False)


@dataclass(frozen=True, slots=True)
class Measured:
    """A number with its unit, as it was written."""

    value: float
    unit: str
    mark: Mark = field(default=_NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Onset:
    """How it began.

    Args:
        after: backgrounds after which it began.
        how: one of `ONSETS`, or "".
        odometer_km: distance at which it began, or None.
    """

    after: tuple[str, ...] = ()
    how: str = ""
    odometer_km: float | None = None
    mark: Mark = field(default=_NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Outcome:
    """What it was in the end, and what came of it.

    Args:
        causes: none where nobody knows.
        confirmed: how that is known, one of `CONFIRMED_BY`, or "".
        jobs: what was done for it.
        result: what came of it, one of `RESULTS`, or "" while nobody knows.
        minutes, spent: working time and money really spent, or None.
        after_km: distance after which it came back, or None.
        closed_on: date, YYYY-MM-DD, or "".
        id: under which it is filed in the casebook; "" where it never was.
    """

    causes: tuple[str, ...]
    confirmed: str = ""
    mark: Mark = field(default=_NOWHERE, compare=False)
    jobs: tuple[str, ...] = ()
    result: str = ""
    minutes: float | None = None
    spent: float | None = None
    after_km: float | None = None
    closed_on: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """One vehicle: what it is, what the owner came with, and what was found so far.

    Args:
        unit: id of a unit sheet, a kind, or the path of an own sheet.
        odometer_km: distance driven, 0 to 3,000,000, or None if not known.
        background: background id -> answer; what is left out is not known.
        complaint: expanded ids of the findings that the owner came with.
        findings: finding id or trouble code -> `Answer`, in the order given.
        done: checks and jobs already done, in order.
        access: state of disassembly now; "" while nothing is open.
        budget: what the owner will spend, in the shop's currency, or None.
        asked: what the interview has asked so far, answered or not known, in order.
        said: what was said of it, in the speaker's own words.
        note: free text; shop: name of the shop, free text.
        unanswered: findings that were asked and that nobody knows, written with `null`, in order.
        marks: (key, member) -> where it stands in the file.
        warnings: what was strange, but could be used.
        odometer_at_least: whether it has gone that far, or farther.
        background_doubts: (background, answer) -> word for how sure; of an answer that is no longer given it says nothing.
        speeds, layout: forward gears and one of `LAYOUTS`, beside a kind; None and "" if not known.
        onset: how it began, or None.
        measured: what was measured -> number and unit.
        either: groups of answers of which one was said, not which.
        outcome: what it was, or None while it is open.
        folder: where the case's file lies; "" if it has none.
    """

    unit: str
    odometer_km: float | None = None
    background: Mapping[str, str] = field(default_factory=dict)
    complaint: tuple[str, ...] = ()
    findings: Mapping[str, Answer] = field(default_factory=dict)
    done: tuple[Done, ...] = ()
    access: str = ""
    budget: float | None = None
    asked: tuple[str, ...] = ()
    note: str = ""
    shop: str = ""
    unanswered: tuple[str, ...] = ()
    marks: Mapping[tuple[str, ...], Mark] = field(default_factory=dict, compare=False)
    warnings: tuple[Problem, ...] = field(default=(), compare=False)
    odometer_at_least: bool = False
    background_doubts: Mapping[tuple[str, str], str] = field(default_factory=dict)
    speeds: int | None = None
    layout: str = ""
    onset: Onset | None = None
    measured: Mapping[str, Measured] = field(default_factory=dict)
    either: tuple[tuple[Answer, ...], ...] = ()
    outcome: Outcome | None = None
    said: tuple[str, ...] = ()
    folder: str = field(default="", compare=False)

    @property
    def vehicle(self) -> Vehicle:
        """Give what says which sheet it is judged by."""
        return Vehicle(self.unit, self.speeds, self.layout, self.folder)

    @property
    def done_ids(self) -> tuple[str, ...]:
        """List the checks and jobs already done, in order."""
        return tuple(item.id for item in self.done)

    def with_done(self, *more: Done) -> "Case":
        """Add what was done; of an id that stood there before, the new entry counts, in the last one's place."""
        done = list(self.done)
        for one in more:
            place = next(iter(place_last(done, [one.id])), len(done))
            done[place : place + 1] = [one]
        return replace(self, done=tuple(done))

    def without_last(self, ids: Collection[str]) -> "Case":
        """Give the case as it stood before some of its work was done; of a job that was done twice, the last time."""
        ours = place_last(self.done, ids)
        return replace(self, outcome=None, done=tuple(item for i, item in enumerate(self.done) if i not in ours))

    def as_milder(self, milder: Mapping[str, str]) -> "Case":
        """Give the case in which what is so under one condition alone stands as the milder finding.

        Args:
            milder: `finding when condition` -> that finding.
        """
        said = {" when ".join((key, *one.when)): key for key, one in self.findings.items() if one.when}
        names = {said[key]: name for key, name in milder.items() if key in said}
        if not names:
            return self
        found = {names.get(key, key): replace(one, finding=names.get(key, key)) for key, one in self.findings.items()}
        return replace(self, findings=found, complaint=tuple(names.get(key, key) for key in self.complaint))

    def with_findings(self, more: Mapping[str, Answer]) -> "Case":
        """Add answers: for the state after the last job of which a result is known, else for the one state there was."""
        place = max((i for i, item in enumerate(self.done) if item.result in (NOT_CURED, CAME_BACK)), default=None)
        if place is None:
            return replace(self, findings={**self.findings, **more})
        done = list(self.done)
        done[place] = replace(done[place], found_after={**done[place].found_after, **more})
        return replace(self, done=tuple(done))


def place_last(done: Sequence[Done], ids: Collection[str]) -> list[int]:
    """Give the places where each of some ids stands last, ascending."""
    return sorted({item.id: i for i, item in enumerate(done) if item.id in ids}.values())
