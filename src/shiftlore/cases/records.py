"""A case as a frozen record, and the table of what a case may speak of."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from shiftlore.basics.problems import Mark, Problem

FORMAT_VERSION = 1
HIGHEST_ODOMETER_KM = 3_000_000
HIGHEST_BUDGET = 10_000_000
_NOWHERE = Mark()


@dataclass(frozen=True, slots=True)
class Known:
    """What a case of one unit may speak of.

    Args:
        findings: expanded finding id -> its grades, the sound one first; yes/no is ``("no", "yes")``.
        backgrounds: background id -> its answers.
        units: ids of every unit sheet, those that stand for units not known among them.
        checks, jobs, access: ids.
        codes: trouble codes in capitals that carry weight; others are kept with a warning.
        aliases: another name of a finding -> its expanded id.
        doubts: words for how sure an answer is.
        elsewhere: findings, or the beginnings of their ids, that stand on other units only -> their grades.
    """

    findings: Mapping[str, tuple[str, ...]]
    backgrounds: Mapping[str, tuple[str, ...]]
    units: Collection[str]
    checks: Collection[str] = ()
    jobs: Collection[str] = ()
    access: Collection[str] = ()
    codes: Collection[str] = ()
    aliases: Mapping[str, str] = field(default_factory=dict)
    doubts: Collection[str] = ("think_so",)
    elsewhere: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def grades_elsewhere(self, name: str) -> tuple[str, ...] | None:
        """Give the grades of a finding that another unit has (`ratio_code_gear_7` on a five-speed), or None."""
        if name in self.elsewhere:
            return self.elsewhere[name]
        cut = name
        while "_" in cut:
            cut = cut.rpartition("_")[0]
            if f"{cut}_" in self.elsewhere:
                return self.elsewhere[f"{cut}_"]
        return None


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer.

    Args:
        finding: expanded finding id, or a trouble code in capitals.
        grade: ``yes``, ``no``, or a grade of the finding.
        doubt: None if sure, else a word such as ``think_so``.
    """

    finding: str
    grade: str
    doubt: str | None = None
    mark: Mark = field(default=_NOWHERE, compare=False)


@dataclass(frozen=True, slots=True)
class Case:
    """One vehicle: what it is, what the owner came with, and what was found so far.

    Args:
        unit: id of a unit sheet.
        odometer_km: distance driven, 0 to 3,000,000, or None if not known.
        background: background id -> answer; what is left out is not known.
        complaint: expanded ids of the findings that the owner came with.
        findings: finding id or trouble code -> `Answer`, in the order given.
        done: checks and jobs already done on this visit, in order.
        access: state of disassembly now; "" while nothing is open.
        budget: what the owner will spend, in the shop's currency, or None.
        asked: what the interview has asked so far, answered or not known, in order.
        note: free text; shop: name of the shop, free text.
        unanswered: findings that were asked and that nobody knows, written with `null`, in order.
        marks: (key, member) -> where it stands in the file.
        warnings: what was strange, but could be used.
    """

    unit: str
    odometer_km: float | None = None
    background: Mapping[str, str] = field(default_factory=dict)
    complaint: tuple[str, ...] = ()
    findings: Mapping[str, Answer] = field(default_factory=dict)
    done: tuple[str, ...] = ()
    access: str = ""
    budget: float | None = None
    asked: tuple[str, ...] = ()
    note: str = ""
    shop: str = ""
    unanswered: tuple[str, ...] = ()
    marks: Mapping[tuple[str, ...], Mark] = field(default_factory=dict, compare=False)
    warnings: tuple[Problem, ...] = field(default=(), compare=False)
