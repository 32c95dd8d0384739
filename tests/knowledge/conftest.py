"""A small knowledge folder that is clean, to be spoiled in one place by each test."""

import shutil
from pathlib import Path

import pytest

from shiftlore.knowledge import collect_knowledge
from shiftlore.knowledge.forms import FORMS
from shiftlore.knowledge.intake import Intake
from shiftlore.knowledge.readers import read_record
from shiftlore.knowledge.strengths import read_words
from shiftlore.reading import read_yaml

REPOSITORY = Path(__file__).parents[2]
FILES = {
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
- id: gear_slips
  label: "Slips in {name}"
  ask: "In which gears does it slip?"
  each: gear
  group: drive
  got_by: road
  words: [slips in gear, slipping]
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


def write_folder(path, changes=None):
    """Write the clean folder with some files changed, and give its path."""
    for name in ("words.yaml", "areas.yaml"):
        shutil.copy(REPOSITORY / "knowledge" / name, path / name)
    for name, text in {**FILES, **(changes or {})}.items():
        file = path / name
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(text, encoding="utf-8")
    return path


@pytest.fixture
def folder(tmp_path):
    """Give a function that writes the clean folder with some files changed, and returns its path."""
    return lambda changes=None: write_folder(tmp_path, changes)


@pytest.fixture
def told(folder):
    """Give a function that changes one text in one file and tells what the loader says to that."""

    def tell(name, old, new, code=None):
        assert FILES[name].count(old) == 1, f"{old!r} must stand once in {name}"
        _, problems = collect_knowledge(folder({name: FILES[name].replace(old, new)}))
        return [(str(one.mark), one.code, one.severity) for one in problems if code is None or one.code == code]

    return tell


@pytest.fixture(scope="session")
def words():
    """Give the words that came with the program."""
    node, problems = read_yaml(REPOSITORY / "knowledge" / "words.yaml")
    return read_words(node, problems)


@pytest.fixture
def taken(words):
    """Give a function that reads one record of a kind from its text: the record, and what was told."""

    def take(kind, text):
        node, problems = read_yaml(text, "a.yaml")
        record = read_record(node, FORMS[kind], Intake(words, problems))
        return record, [(str(problem.mark), problem.code) for problem in problems]

    return take
