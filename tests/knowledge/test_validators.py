"""Each validator tells the exact place of what it finds, and is silent on the clean folder."""

import copy
import dataclasses
import importlib
import inspect
import itertools
import json
import os
import pkgutil
import re
import shutil
import subprocess
import sys
import textwrap
from graphlib import TopologicalSorter
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from support.trade import ROOT, SMALL

import shiftlore.knowledge as knowledge
import shiftlore.knowledge.validators as validators
from shiftlore.basics import Mark, render_problem
from shiftlore.knowledge import Knowledge, collect_knowledge
from shiftlore.knowledge.intake import NO_WORDS
from shiftlore.knowledge.validators import ids
from shiftlore.knowledge.validators.ids import place_of, tell_unknown
from shiftlore.knowledge.validators.shape import find_circles

PUMP = "causes/pump/worn_pump.yaml"
LINING = "causes/elements/worn_lining.yaml"
CASES = {
    "K102 unknown target": (PUMP, "  line_pressure_low: often", "  line_presure_low: often", "11:3"),
    "K103 unknown look-alike": (LINING, "  worn_pump: A", "  worn_pumps: A", "12:3"),
    "K103 looks like itself": (LINING, "  worn_pump: A", "  worn_lining: A", "12:3"),
    "K104 unknown tell-apart": (PUMP, "[line_pressure_idle]", "[line_pressure_idel]", "16:19"),
    "K105 unknown damage": (PUMP, "damages: [worn_lining]", "damages: [worn_linings]", "20:13"),
    "K106 unknown background": (PUMP, "usage: {", "use: {", "9:3"),
    "K106 unknown answer": (PUMP, "{towing: 1.8}", "{tow: 1.8}", "9:11"),
    "K107 unknown group": ("findings/all.yaml", "groups: [drive]", "groups: [driv]", "33:30"),
    "K107 unknown finding": ("findings/all.yaml", "findings: [line_pressure_idle]", "findings: [line]", "33:49"),
    "K107 unknown answer": ("findings/all.yaml", 'answer: "yes"', "answer: maybe", "33:14"),
    "K107 unknown answered": ("findings/all.yaml", 'answered: "no"', "answered: never", "33:80"),
    "K108 unknown finding": ("codes/all.yaml", "finding: gear_slips", "finding: gear_slip", "2:61"),
    "K108 no instance": ("codes/all.yaml", ', instance: "2"', "", "2:10"),
    "K108 instance of one": ("codes/all.yaml", "finding: gear_slips", "finding: no_codes", "2:10"),
    "K109 unknown reveal": ("checks/all.yaml", "[fluid_colour]", "[fluid_color]", "8:13"),
    "K109 unknown access": ("checks/all.yaml", "access: pan_off", "access: pan_of", "6:11"),
    "K109 unknown caution": ("checks/all.yaml", "[hot_fluid]", "[hot_fluids]", "11:14"),
    "K110 unknown cure": ("jobs/all.yaml", "worn_pump: nearly", "worn_pumps: nearly", "9:11"),
    "K110 unknown follow-up": ("jobs/all.yaml", "[level_hot]", "[level]", "10:16"),
    "K110 unknown access": ("jobs/all.yaml", "access: pan_off", "access: off", "7:11"),
    "K110 unknown life": ("jobs/all.yaml", "access: pan_off", "leaves: {use: towing}\n  access: pan_off", "7:12"),
    "K110 unknown answer": ("jobs/all.yaml", "access: pan_off", "leaves: {usage: tow}\n  access: pan_off", "7:12"),
    "K111 unknown price": ("checks/all.yaml", "price: pan_gasket", "price: gasket", "7:25"),
    "K112 unknown cause": ("textbook/worn_pump.yaml", "cause: worn_pump", "cause: pump", "2:8"),
    "K112 unknown unit": ("textbook/worn_pump.yaml", "unit: step", "unit: stepp", "4:7"),
    "K112 unknown background": ("textbook/worn_pump.yaml", "{usage: towing}", "{use: towing}", "6:14"),
    "K112 unknown answer": ("textbook/worn_pump.yaml", "{usage: towing}", "{usage: tow}", "6:14"),
    "K112 unknown finding": ("textbook/worn_pump.yaml", "{fluid_colour:", "{fluid_color:", "7:12"),
    "K112 unknown grade": ("textbook/worn_pump.yaml", "fluid_colour: dark", "fluid_colour: darkish", "7:12"),
    "K112 unknown code": ("textbook/worn_pump.yaml", "P0732", "P0799", "7:51"),
    "K113 leads to itself": ("states/all.yaml", "element_slips: some", "line_pressure_low: some", "6:43"),
    "K114 unknown grade": (PUMP, "{dark: often,", "{darkish: often,", "12:3"),
    "K114 sound grade": (PUMP, "{dark: often,", "{red: often,", "12:3"),
    "K114 one word for grades": (PUMP, "fluid_colour: {dark: often, black: sometimes}", "fluid_colour: often", "12:3"),
    "K114 unexplained grade": (
        "findings/all.yaml",
        "unexplained: {dark: rarely}",
        "unexplained: {drk: rarely}",
        "25:16",
    ),
    "K114 when in a cause": (PUMP, "low: often", "low: {strength: often, when: low}", "11:3"),
    "K115 wrong where": ("states/all.yaml", "where: applied", "where: switching", "11:5"),
    "K115 where to one": (PUMP, "low: often", "low: {strength: often, where: applied}", "11:3"),
    "K115 torque to one": (PUMP, "low: often", "low: {strength: often, by_torque: yes}", "11:3"),
    "K116 over one": (PUMP, "{dark: often, black: sometimes}", "{dark: always, black: usually}", "12:3"),
    "K116 unexplained over one": ("findings/all.yaml", "{dark: rarely}", "{dark: always, black: rarely}", "25:16"),
    "K117 file name": (PUMP, "id: worn_pump", "id: worn_pumps", "1:5"),
    "K118 shared id": ("findings/all.yaml", "- id: no_codes", "- id: worn_pump", "26:7"),
    "K119 unknown area": (PUMP, "area: pump", "area: pumps", "4:7"),
    "K120 silent cause": (
        PUMP,
        "\n  line_pressure_low: often\n  fluid_colour: {dark: often, black: sometimes}",
        " {}",
        "1:5",
    ),
    "K122 idle check": ("checks/all.yaml", "[fluid_colour]", "[]", "2:7"),
    "K124 shares": ("backgrounds.yaml", "share: 0.9", "share: 0.8", "6:5"),
    "K125 price order": ("prices.yaml", "low: 8", "low: 18", "2:8"),
    "K135 fits no answer": ("checks/all.yaml", "  reveals:", "  fits: {usage: tow}\n  reveals:", "8:10"),
    "K135 fits nothing": (PUMP, "area: pump\n", "area: pump\nfits: {use: towing}\n", "5:8"),
    "K135 guessed no answer": (
        "backgrounds.yaml",
        "  words:",
        "  guessed:\n  - {is: {tow: 1.0}}\n  words:",
        "9:5",
    ),
    "K135 guessed by nothing": (
        "backgrounds.yaml",
        "  words:",
        "  guessed:\n  - {is: {towing: 1.0}, told: {fluid_colour: tow}}\n  words:",
        "9:5",
    ),
    "K135 guessed in part": (
        "backgrounds.yaml",
        "  words:",
        "  guessed:\n  - {is: {towing: 0.8}}\n  words:",
        "9:5",
    ),
    "K134 no such defect": (PUMP, "area: pump\n", 'area: pump\nsimulated: ["low_presure:0.6"]\n', "1:1"),
    "K127 unknown type": (LINING, "each: element\n", "each: element\ntypes: [clutch, brak]\n", "6:17"),
    "K127 types of one": (PUMP, "area: pump\n", "area: pump\ntypes: [clutch]\n", "5:9"),
    "K108 unknown type": ("codes/all.yaml", 'instance: "2"', 'instance: "2", sole_of: [line, lien]', "2:104"),
    "K129 stands until unknown": (
        "findings/all.yaml",
        "  got_by: scan\n",
        "  got_by: scan\n  stands_until: [gear_slip]\n",
        "31:18",
    ),
    "K129 unknown particular": (
        "findings/all.yaml",
        "  got_by: scan\n",
        "  got_by: scan\n  general_of: [gear_slip]\n",
        "31:16",
    ),
    "K129 job unless unknown": ("jobs/all.yaml", "  kind: overhaul", "  unless: [gear_slip]\n  kind: overhaul", "5:12"),
    "K129 made for unknown": ("checks/all.yaml", "  reveals:", "  made_for: [gear_slip]\n  reveals:", "8:14"),
    "K110 made for unknown": ("jobs/all.yaml", "  parts:", "  made_for: [worn_lning]\n  parts:", "8:14"),
    "K110 eases unknown": ("jobs/all.yaml", "  parts:", "  eases: [worn_lning]\n  parts:", "8:11"),
    "K129 done unknown": ("backgrounds.yaml", "  answers:", "  done: [overhal]\n  answers:", "5:10"),
    "K129 rest of one": ("findings/all.yaml", "  got_by: scan\n", "  got_by: scan\n  rest_of: fluid_colour\n", "31:12"),
    "K129 rest of itself": ("findings/all.yaml", "  got_by: scan\n", "  got_by: scan\n  rest_of: no_codes\n", "31:12"),
    "K129 general of itself": (
        "findings/all.yaml",
        "  got_by: scan\n",
        "  got_by: scan\n  general_of: [no_codes]\n",
        "31:16",
    ),
    "K131 unknown neighbour": (
        "findings/all.yaml",
        "  got_by: scan\n",
        "  got_by: scan\n  follows: {gear_slip: often}\n",
        "31:13",
    ),
    "K131 no such grade": (
        "findings/all.yaml",
        "  got_by: scan\n",
        "  got_by: scan\n  follows: {fluid_colour: {red: often}}\n",
        "31:13",
    ),
    "K131 follows a follower": (
        "findings/all.yaml",
        "  got_by: scan\n",
        "  got_by: scan\n  follows: {no_codes: often}\n",
        "31:13",
    ),
    "K131 no such reverse": (
        "findings/all.yaml",
        "  got_by: scan\n",
        "  got_by: scan\n  reverse_is: no_reverse\n",
        "31:15",
    ),
    "K126 unknown parent": ("access.yaml", "parent: standing", "parent: standin", "3:41"),
    "K126 circle": ("access.yaml", "parent: standing", "parent: pan_off", "3:41"),
}


@pytest.mark.parametrize("name", CASES)
def test_validators__tell_the_exact_place(told, name):
    file, old, new, place = CASES[name]
    assert [(f"{file}:{place}", name[:4], "error")] == told(file, old, new, name[:4])


def test_validators__are_silent_on_the_clean_folder(folder):
    _, problems = collect_knowledge(folder())
    assert [] == problems


def test_validate_state_cycles__names_the_circle(folder):
    states = """\
states:
- {id: one, label: One, source: s, leads_to: {two: often}}
- {id: two, label: Two, source: s, leads_to: {three: often, no_codes: often}}
- {id: three, label: Three, source: s, leads_to: {one: often}}
"""
    _, problems = collect_knowledge(folder({"states/more.yaml": states}))
    told = [(str(problem.mark), problem.what) for problem in problems if problem.code == "K113"]
    assert [("states/more.yaml:4:51", "States lead in a circle: one -> two -> three -> one")] == told


def test_validate_state_cycles__a_diamond_is_no_circle(folder):
    states = """\
states:
- {id: one, label: One, source: s, leads_to: {two: often, three: often}}
- {id: two, label: Two, source: s, leads_to: {four: often}}
- {id: three, label: Three, source: s, leads_to: {four: often}}
- {id: four, label: Four, source: s, leads_to: {no_codes: often}}
"""
    _, problems = collect_knowledge(folder({"states/more.yaml": states}))
    assert [] == [problem for problem in problems if problem.code == "K113"]


def test_validate_orphan_findings__warns(told):
    found = told("causes/pump/worn_pump.yaml", "\n  fluid_colour: {dark: often, black: sometimes}", "")
    assert [("findings/all.yaml:17:7", "K121", "warning")] == found


def test_validate_uncured_causes__warns(told):
    assert [("causes/pump/worn_pump.yaml:1:5", "K123", "warning")] == told(
        "jobs/all.yaml", "worn_pump: nearly_always, ", ""
    )


def test_validate_near_misses__warns_of_a_tool_spelled_almost_right(told):
    found = told("checks/all.yaml", "  reveals:", "  tools: [jak, stethoscope]\n  reveals:")
    assert [("checks/all.yaml:8:11", "K128", "warning")] == found


def test_validate_tags__a_misspelt_tag_is_an_error(tmp_path):
    path = shutil.copytree(ROOT / "knowledge", tmp_path / "knowledge") / "units" / "long5.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("module_inside", "module_insise", 1), encoding="utf-8")
    found = [one for one in collect_knowledge(path.parents[1])[1] if one.severity == "error"]
    assert [("units/long5.yaml:3:7", "K133", "Did you mean module_inside?")] == [
        (str(one.mark), one.code, one.write_instead) for one in found
    ]


def test_validate_logo__stays_in_the_folder(told):
    for logo in ("/etc/passwd.svg", "../secret.svg", "a/../../secret.svg"):
        assert [("shop.yaml:1:1", "K132", "error")] == (told("shop.yaml", "currency:", f"logo: {logo}\ncurrency:"))


def test_validate_shared_ids__a_retired_id_is_not_used_again(folder):
    path = folder({"retired/no_codes.yaml": "id: no_codes\nreplaced_by: fluid_colour\n"})
    _, problems = collect_knowledge(path)
    assert [("findings/all.yaml:26:7", "K118")] == [(str(problem.mark), problem.code) for problem in problems]


def test_tell_unknown__a_retired_id_names_what_replaced_it(folder):
    pump = folder({"retired/old_one.yaml": "id: old_one\nreplaced_by: fluid_colour\n"}) / "causes/pump/worn_pump.yaml"
    pump.write_text(pump.read_text().replace("  line_pressure_low: often", "  old_one: often"))
    _, problems = collect_knowledge(pump.parents[2])
    assert ["Write fluid_colour."] == [problem.write_instead for problem in problems if problem.code == "K102"]


def test_tell_unknown__names_the_nearest():
    problem = tell_unknown(
        Knowledge(NO_WORDS), Mark("a", 1, 2), "K102", "state", written="fluid_hott", known=["fluid_hot", "pump"]
    )
    assert ('There is no state "fluid_hott"', True) == (problem.what, "Nearest: fluid_hot" in problem.write_instead)


def test_tell_unknown__a_retired_id_without_heir():
    problem = tell_unknown(Knowledge(NO_WORDS, retired={"old": None}), Mark(), "K102", "state", written="old", known=[])
    assert "Take the line out." == problem.write_instead


def test_place_of__an_unknown_place_is_nowhere():
    assert Mark() == place_of(Knowledge(NO_WORDS), "cause", "x", "id")


def snippets_of(validate):
    """Read a manual page: its first line, what passes, and what fails or is warned of."""
    first, *paragraphs = inspect.cleandoc(validate.__doc__).split("\n\n")
    snippets = {}
    for heading, _, snippet in (paragraph.partition("\n") for paragraph in paragraphs):
        snippets[heading.split(":")[0].split(",")[0].split(" (")[0]] = textwrap.dedent(snippet)
    bad = "Fails" if "Fails" in snippets else "Warned of"
    passing, failing = snippets["Passes"], snippets[bad]
    return first, passing, failing, bad


def written_with(snippet, card):
    """Give the small folder with a snippet written into it.

    Records of a list take the place of the record with their id, or are added with the rest of the first of their kind;
    sayings stand in a file of its own; all other keys in the cause worn_pump, or in its textbook card.
    """
    alone = "textbook/worn_pump.yaml" if card else PUMP
    sound = {name: yaml.safe_load(text) for name, text in SMALL.items()}
    documents = copy.deepcopy(sound)
    for key, value in yaml.safe_load(snippet).items():
        if key in ("logo", "tags"):
            file = "shop.yaml" if key == "logo" else "units/step.yaml"
            written = yaml.load(SMALL[file], yaml.BaseLoader) if key == "tags" else documents[file]  # "on" stays a word
            documents[file] = {**written, key: value}
            continue
        if key == "says":
            documents["sayings/xx/a.yaml"] = {"source": "judgement", key: value}
            continue
        if not isinstance(value, list) or not isinstance(value[0], dict):
            documents[alone][key] = value
            continue
        file = next(name for name, held in documents.items() if key in held and name not in (PUMP, LINING))
        records = documents[file][key]
        name = "code" if key == "codes" else "id"
        for record in value:
            like = next((one for one in records if one[name] == record[name]), None)
            if like is None:
                records.append({**records[0], **record})
            else:
                like.update(record)
    return {name: json.dumps(document) for name, document in documents.items() if document != sound.get(name)}


@pytest.mark.parametrize("validate", validators.VALIDATORS, ids=lambda validate: validate.__name__)
def test_validators__the_manual_page_is_true(folder, validate):
    first, passing, failing, bad = snippets_of(validate)
    codes = re.findall(r"K1\d\d", first.split(":")[0])
    assert codes and ("(warning)" in first) == (bad == "Warned of")
    card = validate is ids.validate_textbook_ids
    _, problems = collect_knowledge(folder(written_with(passing, card)))
    assert [] == [
        render_problem(problem) for problem in problems if problem.severity == "error" or problem.code in codes
    ]
    _, problems = collect_knowledge(folder(written_with(failing, card)))
    severity = "warning" if bad == "Warned of" else "error"
    assert {(code, severity) for code in codes} == {(one.code, one.severity) for one in problems if one.code in codes}


def test_validators__each_is_in_the_list_once():
    names = [f"{validators.__name__}.{one.name}" for one in pkgutil.iter_modules(validators.__path__)]
    written = [
        function
        for module in map(importlib.import_module, names)
        for name, function in vars(module).items()
        if name.startswith("validate_") and function.__module__ == module.__name__
    ]
    assert sorted(map(repr, written)) == sorted(map(repr, validators.VALIDATORS))
    assert len(set(validators.VALIDATORS)) == len(validators.VALIDATORS)


@pytest.mark.parametrize("reference", ids.REFERENCES, ids=lambda one: f"{one.code} {one.owners} {one.kind}")
def test_references__every_key_of_the_table_is_looked_at(folder, reference):
    """With nothing left to name, whatever is written under the key is told, in its own words, with a place."""
    clean, _ = collect_knowledge(folder())
    nothing = dataclasses.replace(reference, known=lambda knowledge: {})
    owners = getattr(clean, reference.owners)
    written = [
        one for owner in (owners.values() if hasattr(owners, "values") else owners) for one in reference.written(owner)
    ]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ids, "REFERENCES", (nothing,))
        problems = ids.find_unknown(clean, reference.code)
    assert [f'There is no {reference.kind} "{name}"' for _, name in written] == [problem.what for problem in problems]
    assert all(problem.mark.line and problem.mark.column for problem in problems)


def test_validate_access_states__what_leads_into_a_circle_is_told_too(folder):
    levels = """\
access:
- {id: standing, label: As it stands}
- {id: pan_off, label: Pan off, parent: standing}
- {id: one, label: One, parent: two}
- {id: two, label: Two, parent: one}
- {id: three, label: Three, parent: two}
"""
    _, problems = collect_knowledge(folder({"access.yaml": levels}))
    assert [("access.yaml:4:33", "K126"), ("access.yaml:5:33", "K126"), ("access.yaml:6:37", "K126")] == [
        (str(problem.mark), problem.code) for problem in problems
    ]


def test_validate_state_cycles__a_state_that_leads_to_itself_and_two_circles_at_once(folder):
    states = """\
states:
- {id: one, label: One, source: s, leads_to: {one: often, two: often}}
- {id: two, label: Two, source: s, leads_to: {one: often, three: often}}
- {id: three, label: Three, source: s, leads_to: {two: [{strength: often}, {strength: rarely}]}}
"""
    _, problems = collect_knowledge(folder({"states/more.yaml": states}))
    told = [(str(problem.mark), problem.what.split(": ")[1]) for problem in problems if problem.code == "K113"]
    assert [
        ("states/more.yaml:2:47", "one -> one"),
        ("states/more.yaml:3:47", "one -> two -> one"),
        ("states/more.yaml:4:57", "two -> three -> two"),
        ("states/more.yaml:4:76", "two -> three -> two"),
    ] == told


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), max_size=12))
def test_find_circles__there_are_some_just_where_the_graph_has_a_circle(pairs):
    """Source: the definition; a graph without circles can be put in an order in which every line goes down."""
    lines = {start: [end for first, end in pairs if first == start] for start in range(6)}
    circles = list(find_circles(lines))
    for circle in circles:
        assert circle[0] == circle[-1]
        assert all(after in lines[before] for before, after in itertools.pairwise(circle))
    closing = {(circle[-2], circle[-1]) for circle in circles}
    left = {start: [end for end in ends if (start, end) not in closing] for start, ends in lines.items()}
    assert len(list(TopologicalSorter(left).static_order())) == 6
    assert bool(circles) == (not can_be_ordered(lines))


def can_be_ordered(lines):
    """Take away what leads to nothing until nothing is left, or nothing more can be taken."""
    left = {start: set(ends) for start, ends in lines.items()}
    while ready := [start for start, ends in left.items() if not ends]:
        left = {start: ends - set(ready) for start, ends in left.items() if start not in ready}
    return not left


def test_validators__a_clean_folder_is_read_without_the_graph_library(folder):
    script = "import sys; from shiftlore.knowledge import collect_knowledge; collect_knowledge(sys.argv[1]); print('networkx' in sys.modules)"
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    run = [sys.executable, "-c", script, str(folder())]
    assert "False" == subprocess.run(run, env=environment, capture_output=True, text=True, check=True).stdout.strip()


CODE = re.compile(r"K\d{3}")
NUMBER = re.compile(r'"(0\d\d)"')


def test_codes__each_one_that_this_room_can_give_has_a_test_with_its_place():
    """It stands in `CASES`, or beside a line and a column in another test; a number of the reader's gets the letter K."""
    written = [path.read_text(encoding="utf-8") for path in Path(knowledge.__file__).parent.rglob("*.py")]
    codes = {code for text in written for code in (*CODE.findall(text), *(f"K{one}" for one in NUMBER.findall(text)))}
    told = {name[:4] for name in CASES}
    for path in Path(__file__).parent.glob("test_*.py"):
        lines = path.read_text(encoding="utf-8").splitlines()
        told |= {code for line in lines if re.search(r"\d+:\d+", line) for code in CODE.findall(line)}
    assert [] == sorted(codes - told)
    assert len(codes) > 30
