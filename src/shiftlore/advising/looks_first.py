"""The order of a careful visit: what is made for a told sign is looked at before what costs as much or more."""

from collections.abc import Mapping, Sequence

import numpy as np

from shiftlore.compiling import CompiledCase, chance_of_fit
from shiftlore.knowledge import Check
from shiftlore.planning import Decision, Step, list_looks

LOOK_FIRST = "look_first"
"""Reason to look before dear work, as the planner gives it."""
EVEN = 0.5
"""Chance that nothing of the kind was done below which a vehicle went through it."""
LEAST_HAD = 1 / 3
"""Chance that the vehicle has what a check looks at, below which it does not go first (judgement)."""


def is_made_for(compiled: CompiledCase, check: Check) -> bool:
    """Tell whether a check is made for a sign that is told, or for what the vehicle went through; of what it may well have."""
    records, lived = compiled.knowledge.backgrounds, compiled.lived
    if chance_of_fit(compiled, check) < LEAST_HAD:
        return False
    been = (name for name in check.made_for if name in lived)
    through = any(lived[name].get(next(iter(records[name].shares)), 0.0) < EVEN for name in been)
    return through or not compiled.telling.isdisjoint(check.made_for)


def list_made_for(
    compiled: CompiledCase, checks: Mapping[str, Check], reveals: Mapping[str, Sequence[str]]
) -> dict[str, int]:
    """List the checks that are made for a told sign, each with its place in a careful visit, 0 for none.

    With a place it is listed as long as something is open that is looked at before anything else, such as the level.

    Args:
        reveals: findings of each check that are not known yet.
    """
    records = compiled.expansion.finding_records
    made_for = {key: check.visit_order for key, check in checks.items() if is_made_for(compiled, check)}
    opens = {key: any(records[name].early_look for name in reveals[key]) for key in made_for}
    return {key: place for key, place in made_for.items() if not place or opens[key]}


def put_looks_first(choice: Decision, made_for: Mapping[str, int], belief: np.ndarray) -> Decision:
    """Put checks that are made for a told sign before every job, and before checks that cost no less (common practice).

    Those with which every careful visit begins go before all else: the level of what does not move is read before it is
    listened to, taken apart or given a part.

    Args:
        made_for: as `list_made_for` gives it; belief: as in `list_looks`.
    """
    looks = sorted(list_looks(choice, made_for, belief), key=_price)
    first = {made_for[step.ids[0]]: step for step in reversed(looks)}  # of several with one place the cheapest
    begin = [first[place] for place in sorted(first) if place]
    looks = [step for step in looks if not made_for[step.ids[0]]]
    steps, stop = [step for step in choice.steps if step not in looks and step not in begin], choice.stop
    for look in looks:
        dearer = (at for at, step in enumerate(steps) if step.kind == "job" or _price(look) <= _price(step))
        steps.insert(next(dearer, len(steps)), look)
    steps = [*begin, *steps]
    if stop.advised and steps and steps[0].kind != "job":
        name, saving = steps[0].ids[0], steps[0].expected_saving
        stop = stop.vary(advised=False, reason=LOOK_FIRST, best_check=name, best_check_saving=saving)
    return choice.vary(steps=tuple(steps), stop=stop)


def _price(step: Step) -> float:
    return step.cost.total + step.cost.closing_later
