"""Which checks begin a careful visit, and which are made for what is told: the planner makes these before work."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from shiftlore.compiling import TOLD, CompiledCase, chance_of_fit
from shiftlore.knowledge import Check, Job
from shiftlore.planning import LEAST_MEANT, PricedCheck, Step

EVEN = 0.5
"""Chance that nothing of the kind was done below which a vehicle went through it, or that nothing shows, that it does."""
LEAST_HAD = 1 / 3
"""Chance that the vehicle has what a check looks at, below which it does not go first (judgement)."""


LOOKED = frozenset({"look", "scan", "measure", "open"})
"""Ways of finding out by which a fault itself can be seen; what is told, a code or a road test shows what it does."""
NAMES_IT, NAMED, SURE = 0.7, 100.0, 0.6
"""A look shows a fault itself that shows in it so often, and no other half as often. Its work comes first where it alone
explains the case with this chance, and where these odds, times how much oftener it shows so than any vehicle does, are so
many (judgement)."""


class LookPlace(NamedTuple):
    """The place of a check in a careful visit, 0 for none, whether it is made for what is told, and then likely shows it."""

    early: int
    made_for: bool
    proves: bool


def is_made_for(compiled: CompiledCase, check: Check, but: Collection[str] = ()) -> bool:
    """Tell whether a check is made for a told sign, a likely cause, or what it went through; of what it may well have.

    Args:
        but: signs that do not count.
    """
    records, lived = compiled.knowledge.backgrounds, compiled.lived
    if chance_of_fit(compiled, check) < LEAST_HAD:
        return False
    been = (name for name in check.made_for if name in lived)
    through = any(lived[name].get(next(iter(records[name].shares)), 0.0) < EVEN for name in been)
    suspected = [compiled.causes.index(one) for one in check.made_for if one in compiled.causes]
    is_likely = bool(suspected) and float(compiled.causes_now[suspected].sum()) >= LEAST_MEANT
    return through or is_likely or not compiled.telling.isdisjoint({*check.made_for}.difference(but))


def place_look(compiled: CompiledCase, check: Check) -> LookPlace:
    """Give the place of a check in a careful visit, and say what it is made for.

    With a place it goes first as long as something is open that is looked at before anything else, such as the level, or
    where it reads codes as long as none was read. What is offered only for what is told, and shows that itself, is no hurry.
    """
    records, shown = compiled.expansion.finding_records, {*compiled.expansion.reveals[check.id]}
    first = {name for name in shown if records[name].early_look}
    is_begun = first <= compiled.settled if first else is_scan(compiled, check.id) and shown & {*list_codes(compiled)}
    if (check.visit_order and is_begun) or not is_made_for(compiled, check, shown if check.only_so else set()):
        return LookPlace(0 if is_begun else check.visit_order, made_for=False, proves=False)
    sound = compiled.predict_now(sorted(shown - compiled.settled)).values()
    return LookPlace(
        check.visit_order, True, proves=any(float(table[0] @ compiled.faults_now) < EVEN for table in sound)
    )


def place_check(compiled: CompiledCase, priced: PricedCheck, check: Check, jobs: Mapping[str, Job]) -> PricedCheck:
    """Give a priced check its place in a careful visit, and the jobs that wait for it."""
    return priced.vary(**place_look(compiled, check)._asdict(), before=list_waiting(compiled, check, jobs))


def list_waiting(compiled: CompiledCase, check: Check, jobs: Mapping[str, Job]) -> frozenset[str]:
    """List the jobs of which none is done before a check, until what it looks at first, or what lies open in it, is told."""
    records, named = compiled.expansion.finding_records, {*check.before}
    shown = [(name, records[name]) for name in compiled.expansion.reveals[check.id] if check.before]
    first = [name for name, one in shown if one.early_look == 1] or [
        name for name, one in shown if one.got_by == "open"
    ]
    if not compiled.settled.isdisjoint(first):
        return frozenset()
    return frozenset(key for key, job in jobs.items() if not named.isdisjoint((job.kind, *job.follow_ups, *job.does)))


def is_fault_seen(compiled: CompiledCase) -> bool:
    """Tell whether somebody looked at the fault itself, and it alone explains what is told: its work comes first.

    No road test, code or reading says more than the look. What only may be there, or leaves a part of the complaint to
    something else, is checked on; so is what was said in doubt.
    """
    if is_fault_seen not in compiled.worked_out:
        compiled.worked_out[is_fault_seen] = _find_seen(compiled)
    return bool(compiled.worked_out[is_fault_seen])


def _find_seen(compiled: CompiledCase) -> bool:
    alone = compiled.faults_now[1 : len(compiled.causes) + 1]
    likeliest = int(np.argmax(alone))
    p = float(alone[likeliest])
    if p < SURE:
        return False
    records, coded = compiled.expansion.finding_records, {code.finding for code in compiled.knowledge.codes.values()}
    looked = {name for name in compiled.known if records[name].got_by in LOOKED and records[name].id not in coded}
    grades = {
        name: state for name, state in compiled.known.items() if name in looked and isinstance(state, int) and state
    }
    for name, table in compiled.engine.predict({}, [*grades]).items() if grades else ():
        shown = table[grades[name], 1 : len(alone) + 1]
        is_named = shown[likeliest] >= NAMES_IT and np.count_nonzero(2 * shown > shown[likeliest]) == 1
        if is_named and p * shown[likeliest] >= NAMED * (1 - p) * compiled.prepared.how_often(name, grades[name]):
            return True
    return False


def drop_alike(steps: Sequence[Step], reveals: Mapping[str, tuple[str, ...]]) -> tuple[Step, ...]:
    """Keep the better of two checks that answer the same: all that the later shows, or most of it and nothing else.

    Args:
        steps: best first; reveals: check -> findings that are open.
    """
    kept: list[Step] = []
    for step in steps:
        shown = {*reveals.get(step.ids[0], ())} if step.kind == "check" else set()
        others = [{*reveals.get(one.ids[0], ())} for one in kept if one.kind == "check"] if shown else []
        if not any(shown <= other or (other <= shown and 2 * len(other) >= len(shown)) for other in others):
            kept.append(step)
    return tuple(kept)


def is_scan(compiled: CompiledCase, check_id: str) -> bool:
    """Tell whether a check reads all codes that are stored."""
    records = compiled.expansion.finding_records
    return any(records[finding].none_by for finding in compiled.expansion.reveals.get(check_id, ()))


def list_general(compiled: CompiledCase) -> set[str]:
    """List what asks in general for a part that is told to show: it says nothing more."""
    parts, telling = compiled.expansion.of_template, compiled.telling
    general = ((key, record.general_of) for key, record in compiled.expansion.finding_records.items())
    return {key for key, names in general if any(telling.intersection(parts.get(name, ())) for name in names)}


def list_codes(compiled: CompiledCase) -> list[str]:
    """List what is told that a scan shows, but for what says that one found nothing, or that one is to be made."""
    records, checks = compiled.expansion.finding_records, compiled.expansion.checks
    read = [answer.finding for answer in compiled.all_answers if answer.grade == "yes"]
    unread = {sign for key in checks if is_scan(compiled, key) for sign in checks[key].made_for}
    return [one for one in read if records[one].got_by == "scan" and not records[one].none_by and one not in unread]


def find_scans_made(compiled: CompiledCase) -> set[str]:
    """Find the scans that were made, told by the codes: of those that show a stored code the least telling one.

    What shows no more than such a scan need not be made either.
    """
    records = compiled.expansion.finding_records
    reveals = {key: set(found) for key, found in compiled.expansion.reveals.items() if is_scan(compiled, key)}
    scans = sorted(reveals, key=lambda key: len(reveals[key]))
    told = {answer.finding for answer in compiled.all_answers if answer.grade == "yes"}
    by_code = (next((scan for scan in scans if code in reveals[scan]), "") for code in list_codes(compiled))
    by_none = (scan for scan in scans if any(records[finding].none_by for finding in reveals[scan] & told))
    made = {*by_code, *by_none} - {""}
    shown = {finding for scan in made for finding in reveals[scan]}
    return made | {scan for scan in scans if all(one in shown or records[one].none_by for one in reveals[scan])}


def find_answered(compiled: CompiledCase) -> set[str]:
    """Find the checks of which all is told that they alone show, and that nobody tells by himself.

    Whoever told level, colour and smell has made the look with which these are found, and saw what else it shows.
    """
    records, reveals = compiled.expansion.finding_records, compiled.expansion.reveals
    shown = Counter(name for names in reveals.values() for name in {*names} if records[name].got_by not in TOLD)
    own = {key: {name for name in names if shown[name] == 1} for key, names in reveals.items()}
    early = {key: {name: records[name].early_look for name in names} for key, names in reveals.items()}
    first = {key: {name for name, at in places.items() if at} for key, places in early.items() if 1 in places.values()}
    made = {key for key, names in first.items() if names <= compiled.settled}
    return made | {key for key, names in own.items() if names and names <= compiled.told}
