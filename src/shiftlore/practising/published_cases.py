"""Published repairs to practise on: presented as they stand there; what else they show is drawn by chance from the rules.

What nobody wrote down is drawn given its cause and all that was presented.
"""

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from shiftlore.basics import UsageProblem
from shiftlore.compiling import compile_unit
from shiftlore.knowledge import Knowledge
from shiftlore.network import sample_seen
from shiftlore.practising.exercises import (
    LUCK,
    Exercise,
    Wish,
    bench_of,
    draw_doubts,
    draw_exercise,
    draw_place,
    p_missed,
)
from shiftlore.practising.recorded_drives import drive_vehicle
from shiftlore.practising.settling import settle_signs
from shiftlore.practising.typical import make_typical
from shiftlore.repairs import Remembered, choose_published
from shiftlore.simulating import Drawn, UnitBench, draw_luck

if TYPE_CHECKING:
    from shiftlore.casebook import PracticeScore

DRAWS = 400
"""Vehicles drawn of which one is taken, as often as it makes likely what was presented: judgement."""
_CHOICE = 5
NONE_HERE = "No published repairs came with these rules. Leave --published out."


def choose_repair(
    knowledge: Knowledge, level: int, seed: int, scores: "Mapping[str, PracticeScore]", area: str = ""
) -> Remembered:
    """Draw a published repair of a level, where the score is weak more often; of an area, if one is named.

    Raises: UsageProblem: there is none; says what to do instead.
    """
    published = choose_published(knowledge)
    if published is None:
        raise UsageProblem(NONE_HERE)
    fit = [one for one in map(published.recall, range(len(published))) if _is_fit(knowledge, one, level, area)]
    if not fit:
        raise UsageProblem("No published repair fits this level and area. Choose another, or leave --published out.")
    weights = np.array([p_missed(scores.get(one.area)) for one in fit])
    return fit[draw_place((seed, _CHOICE), len(fit), weights)]


def find_repair(knowledge: Knowledge, name: str) -> Remembered:
    """Give a published repair by its id.

    Raises: UsageProblem: there is none of this name that can be practised on.
    """
    published = choose_published(knowledge)
    place = (
        next((i for i in range(len(published)) if published.id_of(i) == name), None) if published is not None else None
    )
    found = published.recall(place) if published is not None and place is not None else None
    if found is None or not _is_fit(knowledge, found, max(one.practised_from for one in knowledge.areas.values()), ""):
        raise UsageProblem(
            f'There is no published repair "{name}" to practise on. Leave --repair out, or draw one: --published.'
        )
    return found


def _is_fit(knowledge: Knowledge, one: Remembered, level: int, area: str) -> bool:
    """Tell whether a repair has one cause that the rules know, of a level, and presented something that they read."""
    return (
        len(one.causes) == 1
        and one.causes[0] in knowledge.causes
        and one.vehicle in knowledge.sheets
        and knowledge.areas[knowledge.causes[one.causes[0]].area].practised_from <= level
        and area in ("", knowledge.causes[one.causes[0]].area)
        and any(knowledge.findings[key].complaint for key in one.signs if key in knowledge.findings)
    )


def make_exercise(knowledge: Knowledge, wish: Wish) -> Exercise:
    """Give the vehicle that a wish stands for: drawn from the rules, or a published repair.

    Raises: UsageProblem: there is no such vehicle, and what to ask for instead. UnknownId: no sheet carries the unit's id.
    """
    return draw_published(knowledge, wish) if wish.repair else draw_exercise(knowledge, wish)


def draw_published(knowledge: Knowledge, wish: Wish) -> Exercise:
    """Make the vehicle of a published repair.

    Raises: UsageProblem: there is none of this name, or its unit does not have that cause.
    """
    repair = find_repair(knowledge, wish.repair)
    bench = bench_of(compile_unit(knowledge, wish.unit))
    drawn = _draw_vehicle(bench, repair, wish.seed)
    sheet = knowledge.sheet_of(wish.unit)
    vehicle, driven = drive_vehicle(bench.compiled, sheet, drawn, wish.seed, kept=drawn.complaints)
    return Exercise(
        wish=wish,
        bench=bench,
        vehicle=vehicle,
        luck=draw_luck(bench, vehicle, (wish.seed, LUCK)),
        unsure=draw_doubts(bench, vehicle, wish),
        told=repair.told,
        report=repair.cause,
        driven=driven,
    )


def _draw_vehicle(bench: UnitBench, repair: Remembered, seed: int) -> Drawn:
    compiled = bench.compiled
    expansion, root = compiled.expansion, compiled.network.roots[0]
    is_it = [expansion.causes[cause].template == repair.causes[0] for cause in compiled.causes]
    takes = [len(member) == 1 and is_it[member[0]] for member in compiled.faults.members]
    weights = np.where(takes, compiled.p_faults, 0.0)
    if weights.sum() <= 0.0:
        raise UsageProblem(f"{expansion.unit} has no such cause as this repair. Give the unit that it was made on.")
    nodes = expansion.findings
    seen = {key: nodes[key].grades.index(grade) for key, grade in repair.signs.items()
            if key in nodes and grade in nodes[key].grades}  # fmt: skip
    rng = np.random.default_rng(seed)
    states = sample_seen(compiled.network, rng, DRAWS, {root: weights / weights.sum()}, seen)
    drawn = {name: states[name] for name in expansion.finding_records if name in states}
    members = compiled.faults.members[states[root]]
    drawn = make_typical(bench, members, drawn, seen)
    readings = settle_signs([compiled.causes[cause] for cause in members], expansion, drawn, seen)
    presented = sorted(seen, key=lambda name: (not expansion.finding_records[name].complaint, not seen[name]))
    return Drawn(members, readings, tuple(presented))
