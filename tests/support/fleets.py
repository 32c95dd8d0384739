"""Rows of an invented fleet: vehicles drawn from the rules, with all that a case may say."""

import json
import random
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from shiftlore.cases import Case
from shiftlore.compiling import CompiledCase, compile_beforehand
from shiftlore.exact import Doubted
from shiftlore.knowledge import Knowledge, load_knowledge
from support.trade import draw_answers, unit_of, write_small

LIVES: tuple[Mapping[str, str], ...] = (
    {},
    {"usage": "towing"},
    {"service_record": "late", "hot_climate": "yes"},
    {"usage": "taxi_or_delivery", "service_record": "in_time"},
)
KEYS = ("plain", "doubt", "onset", "measured", "either", "when", "done", "at_least", "background_doubt")
"""What a drawn row says beside its answers."""
SMALL_ROWS = (
    {"unit": "long5", "findings": {"fluid_colour": "dark"}},
    {"unit": "long5", "findings": {"line_pressure_idle": "yes"}, "odometer_km": 90000},
    {"unit": "long5", "findings": {"gear_slips_2": "yes", "fluid_colour": "red"}},
)


@cache
def blank_of(unit: str) -> CompiledCase:
    """Give a unit without any answer."""
    return compile_beforehand(unit_of(unit), Case(unit))


def draw_row(unit: str, seed: int, *, telling: int = 4, sound: int = 6, key: str = "plain") -> dict[str, Any]:
    """Draw one row: a vehicle of the unit with some of its answers, and one more key."""
    rng, blank = random.Random(seed), blank_of(unit)
    nodes = blank.expansion.findings
    drawn = draw_answers(blank, seed, telling, sound)
    records = blank.expansion.finding_records
    findings: dict[str, Any] = {name: nodes[name].grades[i] for name, i in drawn.items() if not records[name].none_by}
    row: dict[str, Any] = {"id": f"{unit}-{seed}", "unit": unit, "findings": findings}
    row["background"] = dict(rng.choice(LIVES))
    if rng.random() < 0.8:
        row["odometer_km"] = rng.randrange(20_000, 300_000)
    if key == "doubt":
        row["findings"] = {name: {"is": is_, "doubt": "think_so"} for name, is_ in findings.items()}
    elif key == "onset":
        row["onset"] = {"after": ["battery_work"], "how": "at_once"}
        row["findings"] = {name: is_ for name, is_ in findings.items() if not name.startswith(("began", "grew"))}
    elif key == "measured":
        row["findings"].pop("line_pressure_idle", None)
        row["measured"] = {"line_pressure_idle": {"value": 2.1, "unit": "bar"}}
    elif key == "either":
        row["either"] = [["slips_pull_away", {"engage_delay_drive": "delayed"}]]
    elif key == "when":
        row["findings"]["engage_harsh_reverse"] = {"is": "yes", "when": ["hot"]}
    elif key == "done":
        row["done"] = ["pan_drop", {"job": "converter_exchange_job", "result": "not_cured"}]
    elif key == "at_least":
        row["odometer_km"] = {"at_least": 150_000}
    elif key == "background_doubt":
        row["background"] = {"rebuilt": {"is": "just_now", "doubt": "think_so"}}
    return row


def draw_evidence(seed: int, *, telling: int = 4, sound: int = 8, doubted: bool = False) -> dict[str, int | Doubted]:
    """Draw answers of the five-speed as the engine takes them; every second one doubted where that is asked for."""
    nodes = unit_of("long5").expansion.findings
    found: dict[str, int | Doubted] = {}
    for i, (name, grade) in enumerate(draw_row("long5", seed, telling=telling, sound=sound)["findings"].items()):
        place = nodes[name].grades.index(grade)
        found[name] = Doubted(place, 0.01 if place else 0.0, 0.2) if doubted and i % 2 else place
    return found


def write_rows(path: Path, rows: list[Any]) -> Path:
    """Write rows as JSON Lines."""
    path.write_text("".join(json.dumps(row) + "\n" for row in rows), encoding="utf-8")
    return path


@cache
def small_trade() -> Knowledge:
    """Give the small knowledge of two causes: quick to load in every process."""
    with TemporaryDirectory() as folder:
        return load_knowledge(write_small(Path(folder), "long5"))


def small_rows(count: int) -> list[dict[str, Any]]:
    """Give rows of the small knowledge, each with an id of its own."""
    return [{**SMALL_ROWS[i % len(SMALL_ROWS)], "id": f"v{i}"} for i in range(count)]
