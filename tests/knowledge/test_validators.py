"""Each validator tells the exact place of what it finds, and is silent on the clean folder."""

import importlib
import pkgutil

import pytest

import shiftlore.knowledge.validators as validators
from shiftlore.knowledge import collect_knowledge

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
    "K111 unknown price": ("checks/all.yaml", "price: pan_gasket", "price: gasket", "7:25"),
    "K112 unknown cause": ("textbook/worn_pump.yaml", "cause: worn_pump", "cause: pump", "2:8"),
    "K112 unknown unit": ("textbook/worn_pump.yaml", "unit: step", "unit: stepp", "4:7"),
    "K112 unknown background": ("textbook/worn_pump.yaml", "{usage: towing}", "{use: towing}", "6:14"),
    "K112 unknown answer": ("textbook/worn_pump.yaml", "{usage: towing}", "{usage: tow}", "6:14"),
    "K112 unknown finding": ("textbook/worn_pump.yaml", "{fluid_colour:", "{fluid_color:", "7:12"),
    "K112 unknown grade": ("textbook/worn_pump.yaml", "fluid_colour: dark", "fluid_colour: darkish", "7:12"),
    "K112 unknown code": ("textbook/worn_pump.yaml", "P0732", "P0799", "7:51"),
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
    "K127 unknown type": (LINING, "each: element\n", "each: element\ntypes: [clutch, brak]\n", "6:17"),
    "K127 types of one": (PUMP, "area: pump\n", "area: pump\ntypes: [clutch]\n", "5:9"),
    "K108 unknown type": ("codes/all.yaml", 'instance: "2"', 'instance: "2", sole_of: [line, lien]', "2:104"),
    "K128 unknown particular": ("findings/all.yaml", "  got_by: scan\n", "  got_by: scan\n  general_of: [gear_slip]\n", "31:16"),
    "K128 rest of one": ("findings/all.yaml", "  got_by: scan\n", "  got_by: scan\n  rest_of: fluid_colour\n", "31:12"),
    "K128 rest of itself": ("findings/all.yaml", "  got_by: scan\n", "  got_by: scan\n  rest_of: no_codes\n", "31:12"),
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


def test_validate_shared_ids__a_retired_id_is_not_used_again(folder):
    path = folder({"retired/no_codes.yaml": "id: no_codes\nreplaced_by: fluid_colour\n"})
    _, problems = collect_knowledge(path)
    assert [("findings/all.yaml:26:7", "K118")] == [(str(problem.mark), problem.code) for problem in problems]


def test_tell_unknown__a_retired_id_names_what_replaced_it(folder):
    pump = folder({"retired/old_one.yaml": "id: old_one\nreplaced_by: fluid_colour\n"}) / "causes/pump/worn_pump.yaml"
    pump.write_text(pump.read_text().replace("  line_pressure_low: often", "  old_one: often"))
    _, problems = collect_knowledge(pump.parents[2])
    assert ["Write fluid_colour."] == [problem.write_instead for problem in problems if problem.code == "K102"]


def test_validators__each_is_in_the_list_and_has_its_manual():
    names = [f"{validators.__name__}.{one.name}" for one in pkgutil.iter_modules(validators.__path__)]
    modules = [importlib.import_module(name) for name in names]
    assert {module.__name__ for module in modules} == {function.__module__ for function in validators.VALIDATORS}
    for module in modules:
        assert "\nPasses" in module.__doc__
        assert "\nFails" in module.__doc__ or "Warned of" in module.__doc__
