"""All of the trade in one record, with the shop and its price book, and what is asked of it as a whole."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from shiftlore.basics.problems import KnowledgeError, Mark, Problem, UnknownId, nearest
from shiftlore.basics.structs import Count, Record, Share, Unsigned
from shiftlore.knowledge.language import Language
from shiftlore.knowledge.records import (
    NOWHERE,
    Access,
    Area,
    Cause,
    Caution,
    Check,
    Code,
    Finding,
    FollowUp,
    Gauge,
    Job,
    State,
    TextbookCase,
    Words,
)
from shiftlore.sheets import UnitSheet

SHEET_ENDINGS = (".yaml", ".yml", ".json")
NEAR = "near"
"""Beside the answers of a finding: what only sounds like it."""
SHIPPED = "shipped"
"""Noted in `worked_out` of the knowledge that came with the program."""
RULES_ALONE = "rules alone"
"""Noted there where what published repairs have taught is to be left out."""
OVERLAY = "overlay"
"""Noted there where learned numbers are laid over the rules: these, and the rules without them."""
READ_FROM = "read from"
"""Noted there: a hash of the files that the rules were read from."""


class Guess(Record, frozen=True):
    """What an answer most likely is, by what else is told of the vehicle.

    Args:
        chances: answer -> its chance, 0..1; they add up to 1.
        told: findings and backgrounds -> the answer that was given to each.
        fewest, most: forward gears between which it holds; None where that side is open.
    """

    chances: Mapping[str, Share]
    told: Mapping[str, str] = msgspec.field(default_factory=dict)
    fewest: Count | None = None
    most: Count | None = None
    mark: Mark = NOWHERE

    def holds_for(self, speeds: int | None) -> bool:
        """Tell whether it is for so many forward gears; where it names a number, they must be known.

        Example:
            >>> Guess({"yes": 1.0}, most=3).holds_for(3), Guess({"yes": 1.0}, most=3).holds_for(None)
            (True, False)
        """
        if self.fewest is None and self.most is None:
            return True
        return speeds is not None and (self.fewest or 0) <= speeds <= (speeds if self.most is None else self.most)


class Background(Record, frozen=True):
    """Something known of the vehicle's life; shares say how common each answer is among complaints.

    Args:
        opening: place among what is asked of every vehicle, from 1; None for others. event: whether a fault may begin after it.
        replaced: whether a part was renewed in vain; done: the jobs of that; by_jobs: kinds of jobs after which it holds.
        recent: answers of late work; began_km, at_least_km, warranty_km: answer -> distance at its begin, at least, covered.
        units_with: tags of the units that may have it either way; guessed: what it is where nobody told, the first that fits.
    """

    id: str
    label: str
    ask: str
    shares: Mapping[str, Share]
    grade_labels: Mapping[str, str]
    words: tuple[str, ...]
    source: str
    mark: Mark = NOWHERE
    opening: Count | None = None
    replaced: bool = False
    recent: tuple[str, ...] = ()
    event: bool = False
    by_jobs: tuple[str, ...] = ()
    done: tuple[str, ...] = ()
    began_km: Mapping[str, Unsigned] = msgspec.field(default_factory=dict)
    at_least_km: Mapping[str, Unsigned] = msgspec.field(default_factory=dict)
    warranty_km: Mapping[str, Unsigned] = msgspec.field(default_factory=dict)
    units_with: tuple[str, ...] = ()
    guessed: tuple[Guess, ...] = ()

    @property
    def happened(self) -> str:
        """The answer that says that it happened: the late one, else the last."""
        return self.recent[-1] if self.recent else list(self.shares)[-1]


class Price(Record, frozen=True):
    """One line of the price book, in the shop's currency."""

    id: str
    label: str
    low: Unsigned
    typical: Unsigned
    high: Unsigned
    mark: Mark = NOWHERE


class Shop(Record, frozen=True):
    """Labour rate, currency, tools at hand and what the shop prints of itself.

    Args:
        invented: what of its prices is an example only: ``labour``, ``parts``.
        tax_percent: the tax that rate and prices include; 0 where they are net.
        check_minutes: what every check takes beside its own time: the tool fetched, the result written down.
        day_cost, owner_day_cost: a day on which a vehicle stands in the shop, and on which its owner is without it.
        return_cost: one more appointment that was agreed beforehand; a comeback costs `comeback_cost`.
        tools_borrowed: what the shop can borrow or hire, each at `borrow_cost`.
    """

    name: str
    address: str
    logo: str
    currency: str
    locale: str
    labour_per_hour: Unsigned
    tools: tuple[str, ...]
    road_test_minutes: Unsigned
    comeback_cost: Unsigned
    quote_days: Count
    mark: Mark = NOWHERE
    invented: tuple[str, ...] = ()
    tax_percent: Unsigned = 0.0
    check_minutes: Unsigned = 0.0
    day_cost: Unsigned = 0.0
    owner_day_cost: Unsigned = 0.0
    return_cost: Unsigned = 0.0
    borrow_cost: Unsigned = 0.0
    tools_borrowed: tuple[str, ...] = ()

    def has(self, tools: Iterable[str]) -> bool:
        """Tell whether all of some tools are at hand or can be borrowed."""
        return {*self.tools, *self.tools_borrowed}.issuperset(tools)


@dataclass(frozen=True, slots=True)
class Knowledge:
    """All of the trade that was read, by id; `sheets` holds the unit sheets as records.

    Args:
        sayings: language -> finding or background -> answer -> how people say it; `NEAR` holds what only sounds alike.
        retired: id of a dead rule -> id of what replaced it, or None.
        places: where single words stand, for the validators; empty when read from the cache.
        worked_out: what was worked out from this knowledge and is kept as long as it lives (units by their id).
    """

    words: Words
    areas: Mapping[str, Area] = field(default_factory=dict)
    causes: Mapping[str, Cause] = field(default_factory=dict)
    states: Mapping[str, State] = field(default_factory=dict)
    findings: Mapping[str, Finding] = field(default_factory=dict)
    backgrounds: Mapping[str, Background] = field(default_factory=dict)
    checks: Mapping[str, Check] = field(default_factory=dict)
    jobs: Mapping[str, Job] = field(default_factory=dict)
    access: Mapping[str, Access] = field(default_factory=dict)
    follow_ups: Mapping[str, FollowUp] = field(default_factory=dict)
    cautions: Mapping[str, Caution] = field(default_factory=dict)
    prices: Mapping[str, Price] = field(default_factory=dict)
    codes: Mapping[str, Code] = field(default_factory=dict)
    sheets: Mapping[str, UnitSheet] = field(default_factory=dict)
    languages: Mapping[str, Language] = field(default_factory=dict)
    sayings: Mapping[str, Mapping[str, Mapping[str, tuple[str, ...]]]] = field(default_factory=dict)
    textbook: Mapping[str, TextbookCase] = field(default_factory=dict)
    shop: Shop | None = None
    retired: Mapping[str, str | None] = field(default_factory=dict)
    places: Mapping[tuple[str, ...], Mark] = field(default_factory=dict)
    worked_out: dict[object, Any] = field(default_factory=dict, init=False, compare=False, repr=False)

    @property
    def parents(self) -> tuple[Cause | State, ...]:
        """Give everything that leads to something: the causes, then the states."""
        return (*self.causes.values(), *self.states.values())

    @property
    def children(self) -> tuple[Finding | State, ...]:
        """Give everything that something leads to: the findings, then the states."""
        return (*self.findings.values(), *self.states.values())

    def jobs_within(self, job_id: str) -> frozenset[str]:
        """Give all jobs that are done with a job, by what it contains, and what that contains."""
        found, left = set[str](), [job_id]
        while left:
            record = self.jobs.get(left.pop())
            new = set(record.contains) - found - {job_id} if record else set()
            found |= new
            left += new
        return frozenset(found)

    def kind_of_cure(self, job_id: str) -> str:
        """Give the job that stands for all of one kind: those that contain each other or the same; "" for one by itself."""
        if Knowledge.kind_of_cure not in self.worked_out:
            kinds = {key: {key} for key in self.jobs}
            for key, record in self.jobs.items():
                for part in record.contains:
                    joined = kinds[key] | kinds.get(part, set())
                    kinds |= dict.fromkeys(joined, joined)
            self.worked_out[Knowledge.kind_of_cure] = {
                key: min(alike) for key, alike in kinds.items() if len(alike) > 1
            }
        kind: str = self.worked_out[Knowledge.kind_of_cure].get(job_id, "")
        return kind

    def sheet_of(self, unit_id: str, folder: str = "") -> UnitSheet:
        """Give the sheet of a unit.

        Args:
            unit_id: its id, or the path of a sheet of one's own.
            folder: from where a path is seen first; then from where one stands.
        Raises: UnknownId: no sheet carries the id, or no file has the name. KnowledgeError: the own sheet has problems.
        """
        if unit_id not in self.sheets and Path(unit_id).suffix in SHEET_ENDINGS:
            paths = [path for path in (Path(folder, unit_id), Path(unit_id)) if path.is_file()]
            if not paths:
                raise UnknownId(f"There is no unit sheet {unit_id}. Give its path, or the id of a unit.")
            from shiftlore.sheets import load_sheet

            own = load_sheet(paths[0])
            if wrong := self.judge_tags(own):
                raise KnowledgeError(wrong)
            return own
        if unit_id not in self.sheets:
            near = ", ".join(nearest(unit_id, self.sheets)) or ", ".join(sorted(self.sheets))
            raise UnknownId(f'There is no unit "{unit_id}". Write one of: {near}.')
        return self.sheets[unit_id]

    def judge_tags(self, sheet: UnitSheet) -> list[Problem]:
        """Tell every tag of a sheet that nobody else knows, and that is spelled like one that rules or other sheets know."""
        records = (
            one for kind in (self.causes, self.states, self.findings, self.checks, self.jobs) for one in kind.values()
        )
        known = {tag for one in records for tag in (*one.scope.needs, *one.scope.not_with)}
        others = (other for other in self.sheets.values() if other.id != sheet.id)
        known |= {tag for other in others for tag in (*other.tags, *other.possible_tags)}
        problems = []
        for key in ("tags", "possible_tags"):
            for tag in (tag for tag in getattr(sheet, key) if tag not in known):
                if near := nearest(tag, sorted(known), 1):
                    mark, what = sheet.places.get(key, sheet.mark), f'No rule and no other unit knows the tag "{tag}"'
                    problems.append(Problem(mark, "K133", what, f"Did you mean {near[0]}?"))
        return problems

    def with_rules_alone(self) -> "Knowledge":
        """Give the same rules without what published repairs have taught beside them."""
        alone = self.vary()
        alone.worked_out[RULES_ALONE] = True
        return alone

    def vary(self, **changes: Any) -> "Knowledge":
        """Give the same rules with other records; nothing that was worked out is kept, but what is noted of the rules is."""
        varied = replace(self, **changes)
        noted = (SHIPPED, RULES_ALONE, OVERLAY, *(() if changes else (READ_FROM,)))
        varied.worked_out.update({note: self.worked_out[note] for note in noted if note in self.worked_out})
        return varied

    @property
    def currency(self) -> str:
        """Give the code of the shop's currency; "" where there is no shop."""
        return "" if self.shop is None else self.shop.currency

    @property
    def unopened(self) -> str:
        """Name the state of disassembly in which nothing is open; "" where none is written."""
        return next((name for name, level in self.access.items() if level.parent is None), "")

    def access_path(self, level: str) -> tuple[str, ...]:
        """List a state of disassembly and those that it starts from, innermost first."""
        path: list[str] = []
        name: str | None = level
        while name is not None:
            path.append(name)
            name = self.access[name].parent
        return tuple(path)

    def access_minutes(self, sheet: UnitSheet, level: str) -> tuple[float, float]:
        """Give the minutes to open to a state from its parent and to close it; the unit's own where its sheet says."""
        usual, own = self.access[level], sheet.access.get(level)
        opening, closing = usual.open_minutes, usual.close_minutes
        if own is not None:
            opening = opening if own.open_minutes is None else own.open_minutes
            closing = closing if own.close_minutes is None else own.close_minutes
        return opening, closing


def answer_number(
    gauge: Gauge, value: float, sound: str, *, stated: tuple[float | None, float | None] | None = None
) -> str | None:
    """Say what a number in the base unit of its kind answers, or None where it says nothing.

    Args:
        sound: the sound answer; stated: the bounds that a unit's sheet states, instead of those of the gauge.
    """
    reached = [grade for grade, bound in gauge.further.items() if value >= bound]
    if reached:
        return reached[-1]
    low, high = (gauge.low, gauge.high) if stated is None else stated
    if low is None and high is None:
        return None
    if low is not None and value < low:
        return gauge.below
    if high is not None and value > high:
        return gauge.above
    return None if gauge.wide and stated is None else sound


Kept = TypeVar("Kept")
KEPT_FIELDS = {one.name: one.type for one in fields(Knowledge) if one.name not in ("places", "worked_out")}
_KeptKnowledge = msgspec.defstruct("_KeptKnowledge", [*KEPT_FIELDS.items()], array_like=True)


def encode_knowledge(knowledge: Knowledge, sort_keys: bool = False) -> bytes:
    """Write the knowledge as MessagePack, as msgspec writes it; the places of single words are left out.

    Args:
        sort_keys: equal rules give equal bytes, whatever the order in which they were read.
    """
    values = _KeptKnowledge(*(getattr(knowledge, name) for name in KEPT_FIELDS))
    return msgspec.msgpack.encode(values, order="sorted" if sort_keys else None)


def decode_knowledge(content: bytes) -> Knowledge:
    """Build the knowledge from what `encode_knowledge` wrote.

    Raises: ValueError: it is something else, or a number is out of range.
    """
    kept = decode_record(_KeptKnowledge, content)
    return Knowledge(**{name: getattr(kept, name) for name in KEPT_FIELDS})


def encode_record(record: Any) -> bytes:
    """Write one record, with all that is in it."""
    return msgspec.msgpack.encode(record)


def decode_record(wanted: type[Kept], content: bytes) -> Kept:
    """Build a record from what `encode_record` wrote.

    Raises: ValueError: it is something else, or a number is out of range.
    """
    return msgspec.msgpack.decode(content, type=wanted)
