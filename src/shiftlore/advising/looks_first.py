"""Which checks begin a careful visit, and which are made for what is told: the planner makes these before work."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from shiftlore.compiling import CompiledCase, chance_of_fit
from shiftlore.knowledge import Check
from shiftlore.planning import LEAST_MEANT, Step

EVEN = 0.5
"""Chance that nothing of the kind was done below which a vehicle went through it, or that nothing shows, that it does."""
LEAST_HAD = 1 / 3
"""Chance that the vehicle has what a check looks at, below which it does not go first (judgement)."""


class LookPlace(NamedTuple):
    """The place of a check in a careful visit, 0 for none, whether it is made for what is told, and then likely shows it."""

    early: int
    made_for: bool
    proves: bool


def is_made_for(compiled: CompiledCase, check: Check) -> bool:
    """Tell whether a check is made for a told sign, a likely cause, or what it went through; of what it may well have."""
    records, lived = compiled.knowledge.backgrounds, compiled.lived
    if chance_of_fit(compiled, check) < LEAST_HAD:
        return False
    been = (name for name in check.made_for if name in lived)
    through = any(lived[name].get(next(iter(records[name].shares)), 0.0) < EVEN for name in been)
    suspected = [compiled.causes.index(one) for one in check.made_for if one in compiled.causes]
    is_likely = bool(suspected) and float(compiled.causes_now[suspected].sum()) >= LEAST_MEANT
    return through or is_likely or not compiled.telling.isdisjoint(check.made_for)


def place_look(compiled: CompiledCase, check: Check) -> LookPlace:
    """Give the place of a check in a careful visit, and say what it is made for.

    With a place it goes first as long as something is open that is looked at before anything else, such as the level, or
    where it reads codes as long as none was read.
    """
    records, shown = compiled.expansion.finding_records, {*compiled.expansion.reveals[check.id]}
    first = {name for name in shown if records[name].early_look}
    is_begun = first <= compiled.settled if first else is_scan(compiled, check.id) and shown & {*list_codes(compiled)}
    if (check.visit_order and is_begun) or not is_made_for(compiled, check):
        return LookPlace(0 if is_begun else check.visit_order, made_for=False, proves=False)
    sound = compiled.predict_now(sorted(shown - compiled.settled)).values()
    return LookPlace(
        check.visit_order, True, proves=any(float(table[0] @ compiled.faults_now) < EVEN for table in sound)
    )


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
