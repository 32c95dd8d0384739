"""A made-up casebook: vehicles drawn from the model, closed as a shop closes them. No owner is in it."""

import datetime
import random
from dataclasses import replace
from functools import cache

import numpy as np

from shiftlore.casebook import Entry
from shiftlore.casebook.closing import make_entry
from shiftlore.cases import CAME_BACK, CURED, NOT_CURED, Answer, Case, Done, Outcome
from shiftlore.compiling import CompiledCase, compile_beforehand
from shiftlore.network import sample_network
from support.trade import shipped, unit_of

UNITS = ("long5", "trans4")
FIRST_DAY = datetime.date(2025, 1, 7)
SHARES = (0.78, 0.12, 0.10)
"""How often a vehicle is cured, not cured, and comes back."""


DRAWN = 120
"""Vehicles drawn of each unit: enough that most of what is drawn rarely need not be taken."""


@cache
def demo_entries(count: int = 36, seed: int = 5) -> tuple[Entry, ...]:
    """Give closed cases of vehicles with a hidden cause; of each the owner's signs and what a check or two showed."""
    dice = random.Random(seed)
    vehicles = [_draw_vehicles(unit, place) for place, unit in enumerate(UNITS)]
    return tuple(_close_one(*vehicles[number % len(UNITS)], number, dice) for number in range(count))


def _draw_vehicles(unit: str, seed: int) -> tuple[CompiledCase, list[dict[str, int]]]:
    """Draw vehicles with one cause each, of which the owner tells something."""
    compiled = compile_beforehand(unit_of(unit), Case(unit))
    table = sample_network(compiled.network, np.random.default_rng(seed), DRAWN)
    rows = [{key: int(column[place]) for key, column in table.items()} for place in range(DRAWN)]
    root, n_causes = compiled.engine.tables.root, len(compiled.causes)
    return compiled, [row for row in rows if 0 < row[root] <= n_causes and _list_told(compiled, row)]


def _list_told(compiled: CompiledCase, drawn: dict[str, int]) -> list[str]:
    records = compiled.expansion.finding_records
    told = [key for key in compiled.expansion.findings if drawn[key] and records[key].got_by == "owner"]
    return told if any(_is_complaint(compiled, key) for key in told) else []


def _is_complaint(compiled: CompiledCase, key: str) -> bool:
    record = compiled.expansion.finding_records[key]
    grades = compiled.expansion.findings[key].grades
    return record.speaks_of is None and record.condition is None and not record.onset and grades[1] == "yes"


def _close_one(compiled: CompiledCase, vehicles: list[dict[str, int]], number: int, dice: random.Random) -> Entry:
    expansion, unit = compiled.expansion, compiled.case.unit
    drawn = vehicles[number // len(UNITS)]
    fault, telling = compiled.faults.names[drawn[compiled.engine.tables.root]], _list_told(compiled, drawn)
    complaint = tuple(key for key in telling if _is_complaint(compiled, key))[:2]
    findings = {key: Answer(key, expansion.findings[key].grades[drawn[key]]) for key in telling[:6]}
    done: list[Done] = []
    for check in dice.sample(["fluid_look", "pan_drop", "leak_look", "connector_look"], 2):
        reveals = expansion.reveals.get(check, ())
        done += [Done(check)] if reveals else []
        findings |= {key: Answer(key, expansion.findings[key].grades[drawn[key]]) for key in reveals[:6]}
    jobs = [job for job, cured in expansion.cures.items() if fault in cured]
    result = dice.choices((CURED, NOT_CURED, CAME_BACK), SHARES)[0]
    outcome = Outcome(
        causes=(fault,),
        confirmed="cured" if result == CURED else "assumed",
        jobs=tuple(sorted(jobs)[:1]),
        result=result,
        minutes=float(dice.randrange(30, 600, 15)),
        spent=float(dice.randrange(80, 2600, 20)),
        after_km=float(dice.randrange(200, 9000, 100)) if result == CAME_BACK else None,
        closed_on=(FIRST_DAY + datetime.timedelta(days=9 * number)).isoformat(),
        id=f"{number:020x}",
    )
    case = Case(unit, odometer_km=float(dice.randrange(60, 260) * 1000), complaint=complaint, findings=findings)
    return make_entry(shipped(), replace(case, done=tuple(done), outcome=outcome))
