"""The shipped knowledge and a small one of two causes, read once and shared by the tests.

The small one is clean, so that a test can spoil it in one place; with a unit sheet beside it, it is compiled.
"""

import os
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
from pytest import MonkeyPatch

from shiftlore.advising import NextSteps, next_steps, offer_options
from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_case, compile_unit
from shiftlore.knowledge import Knowledge, Shop, load_knowledge
from shiftlore.planning import LookAhead
from shiftlore.ranking import Review, review_knowledge

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "examples"
NO_SHOP, NO_CASEBOOK = (str(ROOT / "tests" / name) for name in ("no-shop.yaml", "no-casebook.db"))
"""Files that are not there, lest the settings and the cases of whoever runs the tests count."""

SMALL = {
    "causes/pump/worn_pump.yaml": """\
id: worn_pump
label: Worn pump
says: The pump is worn and pumps too little.
area: pump
status: draft
how_common: uncommon
wear: wear_out
raised_by:
  usage: {towing: 1.8}
leads_to:
  line_pressure_low: often
  fluid_colour: {dark: often, black: sometimes}
looks_like:
  worn_lining:
    because: A worn lining keeps to its own gears.
    tells_apart: [line_pressure_idle]
driven_on:
  severity: gets_worse
  says: It burns the linings.
  damages: [worn_lining]
source: common practice
""",
    "causes/elements/worn_lining.yaml": """\
id: worn_lining
label: "Worn linings in {name}"
says: "The linings of {name} are worn."
area: clutch_pack
each: element
status: draft
how_common: {per_thousand: 12}
wear: wear_out
leads_to:
  element_slips: {counted: {hits: 7, of: 9}}
looks_like:
  worn_pump: A worn pump spoils every gear.
driven_on: {severity: strands, says: The gear is lost., within_km: 3000}
types: [clutch, brake]
source: judgement
""",
    "states/all.yaml": """\
source: common practice
states:
- id: line_pressure_low
  label: Line pressure low
  unexplained: hardly_ever
  leads_to: {line_pressure_idle: usually, element_slips: sometimes}
- id: element_slips
  label: "{name} slips"
  each: element
  leads_to:
    gear_slips: {strength: often, where: applied, by_torque: true}
""",
    "findings/all.yaml": """\
source: common practice
findings:
- id: line_pressure_idle
  label: Line pressure low at idle
  ask: Is the line pressure low at idle?
  group: hydraulics
  got_by: measure
  words: [low line pressure]
  unexplained: rarely
- {id: gear_slips,
   label: "Slips in {name}",
   ask: "In which gears does it slip?",
   each: gear, together: drive,
   group: drive,
   got_by: road,
   words: [slips in gear, slipping], unexplained: rarely}
- id: fluid_colour
  label: Fluid colour
  ask: What colour is the fluid?
  grades: [red, dark, black]
  grade_labels: {red: red and clear}
  group: fluid
  got_by: look
  words: [dark fluid, black fluid]
  unexplained: {dark: rarely}
- id: no_codes
  label: No codes stored
  ask: Is no code stored?
  group: codes
  got_by: scan
  words: [no codes]
  stands_for:
  - {answer: "yes", groups: [drive], findings: [line_pressure_idle], answered: "no"}
""",
    "codes/all.yaml": """\
codes:
- {code: P0732, means: Gear 2 has the wrong ratio, finding: gear_slips, instance: "2"}
""",
    "backgrounds.yaml": """\
backgrounds:
- id: usage
  label: Use
  ask: How is it used?
  answers:
    normal: {share: 0.9, label: normal use}
    towing: {share: 0.1}
  words: [towing]
  source: judgement
""",
    "checks/all.yaml": """\
checks:
- id: pan_drop
  label: Drop the pan
  how: Drop the pan and look.
  minutes: 20
  access: pan_off
  consumables: [{price: pan_gasket, count: 1}]
  reveals: [fluid_colour]
  missed: seldom
  false_alarm: hardly_ever
  cautions: [hot_fluid]
  source: common practice
""",
    "jobs/all.yaml": """\
jobs:
- id: overhaul
  label: Overhaul
  says: Everything worn is renewed.
  kind: overhaul
  minutes: 900
  access: pan_off
  parts: [{price: pan_gasket}]
  cures: {worn_pump: nearly_always, worn_lining: nearly_always}
  follow_ups: [level_hot]
  cautions: [hot_fluid]
  source: common practice
""",
    "access.yaml": """\
access:
- {id: standing, label: As it stands}
- {id: pan_off, label: Pan off, parent: standing, open_minutes: 20, close_minutes: 25}
""",
    "follow_ups.yaml": "follow_ups:\n- {id: level_hot, label: Set the level, says: Set the level hot.}\n",
    "cautions.yaml": "cautions:\n- {id: hot_fluid, says: The fluid is hot.}\n",
    "prices.yaml": "prices:\n- {id: pan_gasket, label: Pan gasket, low: 8, typical: 15, high: 30}\n",
    "shop.yaml": 'name: A shop\naddress: ""\ncurrency: EUR\nlabour_per_hour: 90\ntools: [jack]\n',
    "units/step.yaml": "id: step\nlabel: Not known\nkind_only: yes\ngears: {1: {on: []}}\n",
    "textbook/worn_pump.yaml": """\
id: worn_pump
cause: worn_pump
says: A pump that whined.
unit: step
odometer_km: 180000
background: {usage: towing}
findings: {fluid_colour: dark, gear_slips_2: yes, P0732: yes, line_pressure_idle: {is: yes, doubt: think_so}}
source: judgement
""",
}


@cache
def shipped() -> Knowledge:
    """Give the knowledge that comes with the program."""
    return load_knowledge(ROOT / "knowledge")


@cache
def rules_alone() -> Knowledge:
    """Give the same rules without what published repairs have taught beside them; its units are compiled once a process."""
    return shipped().with_rules_alone()


@cache
def reviewed() -> Review:
    """Give the review of the knowledge that comes with the program: every job card ranked, which takes its time."""
    return review_knowledge(rules_alone())


def load_once(path: Path | str | None = None) -> Knowledge:
    """Load a knowledge; the one that comes with the program is loaded once a process."""
    return shipped() if path is None or Path(path).resolve() == ROOT / "knowledge" else load_knowledge(path)


def review_once(knowledge: Knowledge) -> Review:
    """Review a knowledge; the one that comes with the program is reviewed once a process."""
    return reviewed() if knowledge == shipped() else review_knowledge(knowledge)


MOST_KEPT = 48
"""So many results of each kind are kept in a process: what one module asks for again and again, and no more."""


def once(work: Callable[..., Any]) -> Callable[..., Any]:
    """Let work on the same case, compiled or not, be done once: tests that begin at the same place share the way there.

    What is asked with anything but cases, shops, numbers and words is worked out each time; what raises is not kept.
    Compiled cases and units are told apart by identity, all else by what it says.
    """
    kept: dict[object, tuple[object, ...]] = {}

    def give(*arguments: Any, **named: Any) -> Any:
        given = (*arguments, *named.values())
        if not all(one is None or isinstance(one, _ALIKE) for one in given):
            return work(*arguments, **named)
        key = (*named, *(repr(one) if isinstance(one, Case | Shop) else one for one in given))
        if key not in kept:
            kept[key] = (work(*arguments, **named),)
            if len(kept) > MOST_KEPT:
                del kept[next(iter(kept))]
        return kept[key][0]

    return give


_ALIKE = (Case, CompiledCase, CompiledUnit, LookAhead, Shop, str, int, float, tuple)
compile_once, offer_once, _next_once = once(compile_case), once(offer_options), once(next_steps)


def next_once(*arguments: Any, tell_done: Callable[[float], None] | None = None, **named: Any) -> NextSteps:
    """Choose the next steps of a case once; how far it is is told of a tree alone, which is grown each time."""
    told = {"tell_done": tell_done} if named.get("tree_depth") else {}
    return _next_once(*arguments, **named, **told)


def share_cases(patch: MonkeyPatch) -> None:
    """Let tests share cases that are compiled, the steps chosen for them, and the options offered."""
    patch.setattr("shiftlore.compiling.compile_case", compile_once)
    patch.setattr("shiftlore.sessions.interview.compile_case", compile_once)
    patch.setattr("shiftlore.advising.next_steps", next_once)
    patch.setattr("shiftlore.advising.offer_options", offer_once)


def share_trade(patch: MonkeyPatch) -> None:
    """Let commands that run in this process share the loaded knowledge, the units compiled from it, and its review."""
    share_cases(patch)
    patch.setenv("SHIFTLORE_SHOP", NO_SHOP)
    patch.setenv("SHIFTLORE_CASEBOOK", os.environ.get("SHIFTLORE_CASEBOOK") or NO_CASEBOOK)
    patch.setattr("shiftlore.knowledge.load_knowledge", load_once)
    patch.setattr("shiftlore.ranking.review_knowledge", review_once)


@cache
def unit_of(unit_id: str = "long5") -> CompiledUnit:
    """Give a shipped unit, compiled."""
    return compile_unit(shipped(), unit_id)


def write_small(folder: Path, unit: str = "long5", changes: Mapping[str, str] | None = None) -> Path:
    """Write the small knowledge, some files of it changed, into a folder; with a shipped unit sheet unless `unit` is ""."""
    for name in ("words.yaml", "areas.yaml", *([f"units/{unit}.yaml"] if unit else [])):
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes((ROOT / "knowledge" / name).read_bytes())
    for name, text in {**SMALL, **(changes or {})}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@cache
def small_unit(unit: str = "long5") -> CompiledUnit:
    """Give a unit compiled from the small knowledge."""
    with TemporaryDirectory() as folder:
        return compile_unit(load_knowledge(write_small(Path(folder), unit)), unit)


def make_case(unit: str = "long5", answers: Mapping[str, str] | None = None, **more: object) -> Case:
    """Make a case of sure answers."""
    findings = {key: Answer(key, grade) for key, grade in (answers or {}).items()}
    return Case(unit, findings=findings, **more)  # type: ignore[arg-type]


def compiled_of(answers: Mapping[str, str] | None = None, unit: str = "long5", **more: object) -> CompiledCase:
    """Compile a case of a shipped unit."""
    return compile_once(unit_of(unit), make_case(unit, answers, **more))


@cache
def slipping(**more: object) -> CompiledCase:
    """Compile a vehicle that slips, with dark burnt fluid."""
    return compiled_of({"slips": "yes", "fluid_smell_burnt": "yes", "fluid_colour": "dark"}, **more)


def small_case(answers: Mapping[str, str] | None = None, **more: object) -> CompiledCase:
    """Compile a case of the small knowledge."""
    return compile_case(small_unit(), make_case("long5", answers, **more))


def p_area(compiled: CompiledCase, *areas: str) -> float:
    """Add up P over all causes of some areas."""
    records = compiled.expansion.causes
    named = zip(compiled.causes, compiled.p_causes, strict=True)
    return float(sum(p for cause, p in named if records[cause].area in areas))


def draw_answers(compiled: CompiledCase, seed: int, n_telling: int = 12, n_sound: int = 28) -> dict[str, int]:
    """Draw a complete set of answers that one vehicle could give: ancestral sampling, then a selection.

    Signs that the vehicle shows are taken first; where it shows too few, likely ones of its fault are added.
    """
    rng = np.random.default_rng(seed)
    tables = compiled.engine.tables
    root = int(rng.choice(tables.n_root, p=tables.prior))
    hidden = rng.uniform(size=len(tables.hidden)) < tables.p_hidden[:, root]
    telling: list[tuple[float, str, int]] = []
    sound = []
    for key, gate in tables.gates.items():
        cumulated = gate.cum_root[:, root].copy()
        for position, row in zip(gate.hidden, gate.cum_hidden, strict=True):
            cumulated = cumulated * (row if hidden[position] else 1.0)
        state = int(np.searchsorted(cumulated, rng.uniform()))
        if state:
            telling.append((-1.0, key, state))
        else:
            sound.append(key)
            telling.append((float(cumulated[0]), key, int(np.argmax(np.diff(cumulated)) + 1)))
    chosen = sorted(telling)[:n_telling]
    named = {key: state for _, key, state in chosen}
    left = [key for key in sound if key not in named]
    picked = rng.permutation(len(left))[:n_sound]
    return named | {left[i]: 0 for i in picked.tolist()}
