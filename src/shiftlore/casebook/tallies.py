"""What a shop's closed cases add up to: what came in, what it was, what was cured at once, and what checks were for nothing.

Shares carry the interval of Wilson at 95 % (Wilson 1927, "Probable inference, the law of succession, and statistical
inference", J. Amer. Statist. Assoc. 22, 209-212), which stays within 0 and 1 and holds for few cases too (Brown, Cai and
DasGupta 2001, "Interval Estimation for a Binomial Proportion", Statistical Science 16).
"""

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

from shiftlore.advising.pricing import price_labour, price_needs
from shiftlore.basics import ShiftloreError
from shiftlore.basics.quantities import NORMAL_95
from shiftlore.casebook.book_records import Entry
from shiftlore.casebook.recalling import read_filed
from shiftlore.cases import CAME_BACK, CURED
from shiftlore.compiling import CompiledCase, Overlay, compile_case, compile_unit
from shiftlore.knowledge import Knowledge, name_in_general
from shiftlore.knowledge.rulebook import OVERLAY as LAID_OVER

BANDS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_P_LEAST = 1e-3
"""Least probability that is counted for what it was: a program may not be damned for ever by one case (judgement)."""


@dataclass(frozen=True, slots=True)
class WilsonShare:
    """How many of how many, with the interval of Wilson at 95 %."""

    hits: int
    of: int
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class NamedCount:
    """How often something was there; its id and its label."""

    id: str
    label: str
    count: int


@dataclass(frozen=True, slots=True)
class ReliabilityBand:
    """Cases whose likeliest area was given a probability from `low` to `high`: mean of it, and how many it was."""

    low: float
    high: float
    mean: float
    right: WilsonShare


@dataclass(frozen=True, slots=True)
class Belief:
    """How good the program's belief before the outcome was known has been, over cases whose area is known.

    Args:
        first: how often the likeliest area was right.
        brier: mean square of probability of the likeliest area minus 1 where it was right, 0 where it was not.
        brier_even: what always saying the same best number would have got.
        p_right: geometric mean of the probability that the right area had; its logarithm is the log score.
    """

    first: WilsonShare
    bands: tuple[ReliabilityBand, ...]
    brier: float
    brier_even: float
    p_right: float


@dataclass(frozen=True, slots=True)
class IdleCheck:
    """Checks of one kind: how often made, how often what they showed moved nothing, and what these cost."""

    id: str
    label: str
    made: int
    idle: int
    money: float


@dataclass(frozen=True, slots=True)
class CasebookReport:
    """What a shop's closed cases add up to.

    Args:
        n: cases that are here; forgotten: cases of which only the count is left, which stand in nothing else below.
        first, last: dates of the first and the last closing, or "".
        cured: cured at the first visit; comebacks: came back; distances: after which they did, sorted.
        spent, minutes: totals of cases that tell them; n_spent, n_minutes: how many do; currency: of all of them, or "".
        checks: by what was spent for nothing, most first; n_unread: cases that today's rules cannot read.
        taught: (what, by the rules, now, seen) of the overlay's numbers that moved most; n_taught: cases it rests on.
    """

    n: int
    forgotten: int
    first: str
    last: str
    complaints: tuple[NamedCount, ...]
    areas: tuple[NamedCount, ...]
    causes: tuple[NamedCount, ...]
    cured: WilsonShare
    comebacks: WilsonShare
    distances: tuple[float, ...]
    median_spent: float | None
    spent: float
    n_spent: int
    minutes: float
    n_minutes: int
    currency: str
    belief: Belief | None
    checks: tuple[IdleCheck, ...] = ()
    n_unread: int = 0
    taught: tuple[tuple[str, float, float, float], ...] = ()
    n_taught: int = 0

    @property
    def idle_money(self) -> float:
        """What was spent on checks that moved nothing."""
        return sum(check.money for check in self.checks)


def measure_share(hits: int, of: int) -> WilsonShare:
    """Give a share with the interval of Wilson at 95 %.

    Example:
        >>> one = measure_share(8, 10)
        >>> round(one.low, 3), round(one.high, 3)
        (0.49, 0.943)
    """
    if not of:
        return WilsonShare(0, 0, 0.0, 1.0)
    z2, p = NORMAL_95**2, hits / of
    middle, half = p + z2 / (2 * of), NORMAL_95 * math.sqrt(p * (1 - p) / of + z2 / (4 * of * of))
    low, high = ((middle + sign * half) / (1 + z2 / of) for sign in (-1, 1))
    return WilsonShare(hits, of, max(low, 0.0), min(high, 1.0))


def tally_casebook(
    knowledge: Knowledge,
    entries: Iterable[Entry],
    forgotten: int = 0,
    tell_done: Callable[[int], None] = lambda count: None,
) -> CasebookReport:
    """Add a shop's closed cases up.

    Args:
        knowledge: whose prices and rules count, and the overlay that lies over them.
        tell_done: called with how many are done, after each.
    """
    kept = sorted(entries, key=lambda entry: (entry.closed_on, entry.id))
    complaints: Counter[tuple[str, str]] = Counter()
    made: list[tuple[str, str, bool, float]] = []
    n_unread = 0
    for done, entry in enumerate(kept, 1):
        try:
            compiled = read_entry(knowledge, entry)
            complaints.update(_list_complaints(knowledge, compiled))
            made += judge_checks(compiled)
        except ShiftloreError:
            n_unread += 1
            complaints.update((key, key.replace("_", " ")) for key in entry.complaint)
        tell_done(done)
    known, labels = [entry for entry in kept if entry.area], {key: area.label for key, area in knowledge.areas.items()}
    spent = [entry.spent for entry in kept if entry.spent is not None]
    minutes = [entry.minutes for entry in kept if entry.minutes is not None]
    currencies = {entry.currency for entry in kept if entry.spent is not None}
    overlay, _ = knowledge.worked_out.get(LAID_OVER, (Overlay(), knowledge))
    back = [entry for entry in kept if CAME_BACK in _outcomes(entry)]
    return CasebookReport(
        n=len(kept),
        forgotten=forgotten,
        first=kept[0].closed_on if kept else "",
        last=kept[-1].closed_on if kept else "",
        complaints=_order((key, label, count) for (key, label), count in complaints.items()),
        areas=_count((entry.area for entry in known), lambda key: labels.get(key, key.replace("_", " "))),
        causes=_count((key for entry in known for key in {*entry.templates}), lambda key: _label_cause(knowledge, key)),
        cured=measure_share(sum({CURED} == {*_outcomes(entry)} for entry in kept), len(kept)),
        comebacks=measure_share(len(back), len(kept)),
        distances=tuple(sorted(entry.comeback_km for entry in back if entry.comeback_km is not None)),
        median_spent=median(spent) if spent else None,
        spent=sum(spent),
        n_spent=len(spent),
        minutes=sum(minutes),
        n_minutes=len(minutes),
        currency=currencies.pop() if len(currencies) == 1 else "",
        belief=measure_belief(known),
        checks=_sum_checks(made),
        n_unread=n_unread,
        taught=tuple(_list_taught(knowledge, overlay)),
        n_taught=sum(overlay.cases.values()),
    )


def read_entry(knowledge: Knowledge, entry: Entry) -> CompiledCase:
    """Compile a closed case as it stood before its outcome, under today's rules.

    Raises: ShiftloreError: these cannot read it, or no cause gives its answers.
    """
    case = read_filed(knowledge, entry)
    return compile_case(compile_unit(knowledge, case.vehicle), case.without_last(entry.corrections))


def judge_checks(compiled: CompiledCase) -> Iterator[tuple[str, str, bool, float]]:
    """Say of each check that was made whether what it showed moved anything: id, label, whether not, its price.

    It moved nothing where without its answers, and with all others, the same cause would have been the likeliest. Its price is
    the work on it and what it uses up, by the shop's book, without opening and closing the vehicle. A check of which nothing
    that it shows was noted is left out.
    Raises: ImpossibleEvidence: the answers cannot all be true.
    """
    knowledge, case = compiled.knowledge, compiled.case
    shop = knowledge.shop
    first = _name_first(compiled)
    for key in dict.fromkeys(item.id for item in case.done):
        check = compiled.expansion.checks.get(key)
        shown = {*compiled.expansion.reveals.get(key, ())} & {*case.findings} - {*case.complaint}
        if check is None or not shown or shop is None:
            continue
        left = {name: answer for name, answer in case.findings.items() if name not in shown}
        without = replace(case, findings=left, done=tuple(item for item in case.done if item.id != key))
        price = price_labour(shop, check.minutes) + price_needs(knowledge, check.consumables).typical
        is_idle = first == _name_first(compile_case(compiled.unit, without))
        yield key, check.label, is_idle, price


def _name_first(compiled: CompiledCase) -> str:
    """Name the likeliest cause, as the rules write it."""
    return compiled.expansion.causes[compiled.causes[int(compiled.causes_now.argmax())]].template


def measure_belief(entries: Sequence[Entry]) -> Belief | None:
    """Measure how good the belief in areas was; None where no case tells it.

    Args:
        entries: cases whose area is known.
    """
    kept = [entry for entry in entries if entry.areas]
    if not kept:
        return None
    tops = [max(entry.areas, key=lambda area: entry.areas[area]) for entry in kept]
    said = [min(entry.areas[top], 1.0) for entry, top in zip(kept, tops, strict=True)]
    right = [top == entry.area for entry, top in zip(kept, tops, strict=True)]
    logs = [math.log(max(min(entry.areas.get(entry.area, 0.0), 1.0), _P_LEAST)) for entry in kept]
    share = sum(right) / len(kept)
    return Belief(
        measure_share(sum(right), len(kept)),
        tuple(_list_bands(said, right)),
        brier=sum((p - hit) ** 2 for p, hit in zip(said, right, strict=True)) / len(kept),
        brier_even=share * (1 - share),
        p_right=math.exp(sum(logs) / len(logs)),
    )


def _list_bands(said: Sequence[float], right: Sequence[bool]) -> Iterator[ReliabilityBand]:
    for low, high in pairwise(BANDS):
        inside = [(p, hit) for p, hit in zip(said, right, strict=True) if low <= p < high or p == high == BANDS[-1]]
        if inside:
            mean = sum(p for p, _ in inside) / len(inside)
            yield ReliabilityBand(low, high, mean, measure_share(sum(hit for _, hit in inside), len(inside)))


def _outcomes(entry: Entry) -> list[str]:
    """List what was said to have come of it, the first visit first."""
    return [*(str(former.get("outcome", "")) for former in entry.history), entry.outcome]


def _list_complaints(knowledge: Knowledge, compiled: CompiledCase) -> set[tuple[str, str]]:
    """Name what the owner came with, as the rules write it."""
    records = compiled.expansion.finding_records
    found = {records[key].id for key in compiled.case.complaint if key in records}
    return {(key, name_in_general(knowledge.findings[key])) for key in found if key in knowledge.findings}


def _count(ids: Iterable[str], label: Callable[[str], str]) -> tuple[NamedCount, ...]:
    return _order((key, label(key), count) for key, count in Counter(ids).items())


def _order(rows: Iterable[tuple[str, str, int]]) -> tuple[NamedCount, ...]:
    return tuple(NamedCount(*row) for row in sorted(rows, key=lambda row: (-row[2], row[1], row[0])))


def _label_cause(knowledge: Knowledge, cause: str) -> str:
    return name_in_general(knowledge.causes[cause]) if cause in knowledge.causes else cause.replace("_", " ")


def _sum_checks(made: Sequence[tuple[str, str, bool, float]]) -> tuple[IdleCheck, ...]:
    found: dict[str, IdleCheck] = {}
    for key, label, is_idle, price in made:
        old = found.get(key, IdleCheck(key, label, 0, 0, 0.0))
        found[key] = replace(old, made=old.made + 1, idle=old.idle + is_idle, money=old.money + price * is_idle)
    return tuple(sorted(found.values(), key=lambda check: (-check.money, -check.made, check.id)))


def _list_taught(knowledge: Knowledge, overlay: Overlay) -> Iterator[tuple[str, float, float, float]]:
    """List the base rates that moved most, per thousand complaints."""
    moved = sorted(
        overlay.base_rates.items(), key=lambda item: (-abs(math.log(item[1].learned / item[1].rules)), item[0])
    )
    for cause, one in moved:
        yield _label_cause(knowledge, cause), one.rules, one.learned, one.there
