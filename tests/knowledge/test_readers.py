"""Every kind of record is read by its form, with the place of whatever is wrong in it."""

import pytest
from support.trade import SMALL

from shiftlore.basics import Mark
from shiftlore.knowledge import Gauge
from shiftlore.knowledge.forms import FORMS, SHOP
from shiftlore.knowledge.intake import NO_WORDS, Intake
from shiftlore.knowledge.readers import read_record
from shiftlore.reading import read_yaml


@pytest.fixture
def pump(folder):
    return (folder() / "causes/pump/worn_pump.yaml").read_text()


def test_read_cause__reads_every_key(taken, pump):
    cause, told = taken("causes", pump)
    assert [] == told
    assert ("worn_pump", "pump", "draft", 2.2) == (cause.id, cause.area, cause.status, cause.wear)
    assert ("usage", "towing", 1.8) == (
        cause.raised_by[0].background,
        cause.raised_by[0].grade,
        cause.raised_by[0].ratio,
    )
    assert (("line_pressure_idle",), ("worn_lining",)) == (cause.looks_like[0].tells_apart, cause.driven_on.damages)


def test_read_cause__without_look_alikes_is_told(taken, pump):
    _, told = taken("causes", pump.replace("looks_like:", "loks_like:"))
    assert [("a.yaml:1:1", "K011"), ("a.yaml:13:1", "K012")] == told


def test_read_cause__every_missing_key_is_told_at_once(taken):
    _, told = taken("causes", "id: x\n")
    assert {("a.yaml:1:1", "K011")} == set(told)
    assert 9 == len(told)


def test_read_state__left_out_grades_are_no_and_yes(taken):
    state, told = taken("states", "id: hot\nlabel: Hot\nsource: s\n")
    assert ([], ("no", "yes"), {}) == (told, state.grades, state.unexplained)


def test_read_state__bare_yes_and_no_among_grades_are_told(taken):
    _, told = taken("states", "id: hot\nlabel: Hot\nsource: s\ngrades: [no, yes]\n")
    assert [("a.yaml:4:10", "K021"), ("a.yaml:4:14", "K021")] == told


def test_read_state__unexplained_by_grade(taken):
    state, told = taken("states", "id: p\nlabel: P\nsource: s\ngrades: [right, low]\nunexplained: {low: rarely}\n")
    assert ([], 0.06) == (told, state.unexplained["low"].p)


def test_read_state__is_no_place_for_words(taken):
    _, told = taken("states", "id: hot\nlabel: Hot\nsource: s\nwords: [hot]\n")
    assert [("a.yaml:4:1", "K012")] == told


LEVEL = """\
id: fluid_level
label: Fluid level
ask: Where does the fluid stand?
grades: [right, high, low]
grade_labels: {high: over full}
group: fluid
got_by: look
together: fluid_look
complaint: false
words: [low on fluid, overfilled]
unexplained: {low: rarely, high: rarely}
source: common practice
"""


def test_read_finding__reads_every_key(taken):
    finding, told = taken("findings", LEVEL)
    assert [] == told
    assert (("right", "high", "low"), {"high": "over full"}) == (finding.grades, finding.grade_labels)
    assert ("fluid_look", False, ("low on fluid", "overfilled")) == (finding.together, finding.complaint, finding.words)


def test_read_finding__words_that_yaml_converts_are_told(taken):
    _, told = taken("findings", LEVEL.replace("overfilled", "12"))
    assert [("a.yaml:10:23", "K021")] == told


def test_read_finding__a_stand_in_that_fills_in_nothing_is_told(taken):
    _, told = taken("findings", LEVEL + "stands_for:\n- {answer: low, answered: no}\n")
    assert [("a.yaml:14:3", "K011")] == told


def test_read_finding__an_unknown_way_to_get_it_is_told(taken):
    _, told = taken("findings", LEVEL.replace("got_by: look", "got_by: sight"))
    assert [("a.yaml:7:9", "K014")] == told


def test_read_finding__ties_to_other_findings(taken):
    ties = "early_look: 2\ngeneral_of: [level_low, level_high]\nrest_of: level_each\nnone_by: generic scan\n"
    finding, told = taken("findings", LEVEL + ties)
    assert [] == told
    assert (2, ("level_low", "level_high")) == (finding.early_look, finding.general_of)
    assert ("level_each", "generic scan") == (finding.rest_of, finding.none_by)


def test_read_finding__without_ties_has_none(taken):
    finding, _ = taken("findings", LEVEL)
    assert (None, (), None, None) == (finding.early_look, finding.general_of, finding.rest_of, finding.none_by)


def test_read_finding__an_early_look_is_a_place_from_one_on(taken):
    assert [("a.yaml:13:13", "K016")] == taken("findings", LEVEL + "early_look: 0\n")[1]


CHECK = """\
id: pan_drop
label: Drop the pan
how: Drop it and look.
minutes: 20
reveals: [magnet_paste]
missed: seldom
false_alarm: {counted: {hits: 0, of: 49}}
source: common practice
"""


def test_read_check__misreadings_become_probabilities(taken):
    check, told = taken("checks", CHECK)
    assert ([], 0.15, 0.01, "") == (told, check.missed, check.false_alarm, check.access)


def test_read_check__without_misreadings_is_told(taken):
    _, told = taken("checks", CHECK.replace("missed: seldom\n", ""))
    assert [("a.yaml:1:1", "K011")] == told


def test_read_check__needs_count_one_if_not_said(taken):
    check, told = taken("checks", CHECK + "consumables: [{price: pan_gasket}]\n")
    assert ([], 1.0) == (told, check.consumables[0].count)


def test_read_check__its_place_in_the_habit_of_a_shop(taken):
    plain, told = taken("checks", CHECK)
    assert ([], 0) == (told, plain.habit_order)
    second, told = taken("checks", CHECK + "habit_order: 2\n")
    assert ([], 2) == (told, second.habit_order)


def test_read_check__whether_the_engine_runs_for_it(taken):
    assert (False, True) == (taken("checks", CHECK)[0].running, taken("checks", CHECK + "running: yes\n")[0].running)
    assert [("a.yaml:9:10", "K014")] == taken("checks", CHECK + "running: sometimes\n")[1]


def test_read_caution__the_signs_with_which_it_is_not_done(taken):
    caution = "id: stall_test\nsays: Never with low fluid.\n"
    assert () == taken("cautions", caution)[0].forbidden_by
    assert ("fluid_level",) == taken("cautions", caution + "forbidden_by: [fluid_level]\n")[0].forbidden_by


@pytest.mark.parametrize(("wrong", "code"), [("first", "K013"), ("1.5", "K016"), ("0", "K016"), ("10", "K016")])
def test_read_check__a_place_that_is_no_small_whole_number_is_told(taken, wrong, code):
    _, told = taken("checks", CHECK + f"habit_order: {wrong}\n")
    assert [("a.yaml:9:14", code)] == told


JOB = """\
id: plain_service
label: Service
says: Fresh fluid and filter.
kind: service
minutes: 40
parts: [{price: filter_kit, count: 1}]
cures: {fluid_degraded: usually}
source: common practice
"""


def test_read_job__reads_cures_and_parts(taken):
    job, told = taken("jobs", JOB)
    assert ([], ("fluid_degraded", 0.8)) == (told, (job.cures[0].cause, job.cures[0].strength.p))
    assert ("filter_kit", 1.0, 0.5, "") == (job.parts[0].price, job.parts[0].count, job.days, job.not_covered)


def test_read_job__alone_and_by_habit_only_where_it_says_so(taken):
    plain, told = taken("jobs", JOB)
    assert ([], False, False) == (told, plain.alone, plain.by_habit)
    flagged, told = taken("jobs", JOB + "alone: yes\nby_habit: yes\n")
    assert ([], True, True) == (told, flagged.alone, flagged.by_habit)


def test_read_job__a_flag_that_is_neither_yes_nor_no_is_told(taken):
    _, told = taken("jobs", JOB + "alone: mostly\n")
    assert [("a.yaml:9:8", "K014")] == told


def test_read_job__an_unknown_kind_is_told(taken):
    _, told = taken("jobs", JOB.replace("kind: service", "kind: servise"))
    assert [("a.yaml:4:7", "K014")] == told


def test_read_job__a_count_of_nothing_is_told(taken):
    _, told = taken("jobs", JOB.replace("count: 1", "count: 0"))
    assert [("a.yaml:6:36", "K016")] == told


BACKGROUND = """\
id: service_record
label: Service record
ask: When was the fluid last changed?
answers:
  in_time: {share: 0.6, label: changed in time}
  never: {share: 0.4}
words: [no service history]
source: judgement
"""


def test_read_background__keeps_the_order(taken):
    background, told = taken("backgrounds", BACKGROUND)
    assert ([], {"in_time": 0.6, "never": 0.4}) == (told, background.shares)
    assert {"in_time": "changed in time", "never": "never"} == background.grade_labels


def test_read_background__by_what_it_is_guessed(taken):
    lines = "units_with: [governor]\nguessed:\n- {is: {in_time: 0.1, never: 0.9}, told: {noisy: yes}, speeds_to: 3}\n"
    background, told = taken("backgrounds", BACKGROUND + lines)
    (guess,) = background.guessed
    assert ([], ("governor",), {"in_time": 0.1, "never": 0.9}) == (told, background.units_with, guess.chances)
    assert ({"noisy": "yes"}, None, 3) == (guess.told, guess.fewest, guess.most)


def test_read_background__a_chance_over_one_is_told(taken):
    _, told = taken("backgrounds", BACKGROUND + "guessed: [{is: {never: 2}}]\n")
    assert [("a.yaml:9:24", "K016")] == told


def test_read_cause__what_it_fits_makes_it_out_of_the_question_with_another_answer(taken):
    cause, told = taken("causes", SMALL["causes/pump/worn_pump.yaml"] + "fits: {service_record: never}\n")
    assert ([], (("service_record", "never"),)) == (told, cause.scope.fits)
    assert [("service_record", "never")] == [(one.background, one.grade) for one in cause.raised_by if one.ratio > 100]


def test_read_background__a_bare_yes_as_answer_is_told(taken):
    _, told = taken("backgrounds", BACKGROUND.replace("never:", "yes:"))
    assert [("a.yaml:6:3", "K021")] == told


def test_read_background__a_share_over_one_is_told(taken):
    _, told = taken("backgrounds", BACKGROUND.replace("0.4", "40"))
    assert [("a.yaml:6:18", "K016")] == told


CARD = """\
id: worn_pump
cause: worn_pump
says: It whined.
unit: step-rwd
findings: {burnt: no, fluid_colour: dark, level: {is: low, doubt: think_so}, P0732: true}
source: judgement
"""


def test_read_textbook_case__answers(taken):
    case, told = taken("textbook", CARD)
    expected = {"burnt": "no", "fluid_colour": "dark", "level": {"is": "low", "doubt": "think_so"}, "P0732": "yes"}
    assert ([], expected, None) == (told, case.findings, case.odometer_km)


def test_read_textbook_case__an_unknown_doubt_is_told(taken):
    _, told = taken("textbook", CARD.replace("think_so", "maybe"))
    assert [("a.yaml:5:67", "K014")] == told


def test_read_access__without_parent_is_the_vehicle_as_it_stands(taken):
    access, told = taken("access", "{id: standing, label: As it stands}")
    assert ([], None, 0.0, 0.0) == (told, access.parent, access.open_minutes, access.close_minutes)


def test_read_follow_up__is_done_in_the_shop_if_not_said(taken):
    follow_up, told = taken("follow_ups", "{id: level_hot, label: Level, says: Set it hot.}")
    assert ([], "shop") == (told, follow_up.who)


def test_read_follow_up__lasting_only_where_it_says_so(taken):
    text = "id: flush\nlabel: Flush\nsays: Flush it.\n"
    plain, told = taken("follow_ups", text)
    assert ([], False) == (told, plain.lasting)
    flagged, told = taken("follow_ups", text + "lasting: yes\n")
    assert ([], True) == (told, flagged.lasting)
    _, told = taken("follow_ups", text + "lasting: long\n")
    assert [("a.yaml:4:10", "K014")] == told


def test_read_follow_up__an_unknown_hand_is_told(taken):
    _, told = taken("follow_ups", "{id: level_hot, label: Level, says: Set it., who: anybody}")
    assert [("a.yaml:1:51", "K014")] == told


def test_read_price__one_number_stands_for_all_three(taken):
    price, told = taken("prices", "{id: gasket, label: Gasket, typical: 15}")
    assert ([], 15.0, 15.0, 15.0) == (told, price.low, price.typical, price.high)


def test_read_caution_and_area__need_their_texts(taken):
    assert [("a.yaml:1:1", "K011")] == taken("cautions", "{id: hot_fluid}")[1]
    assert [("a.yaml:1:1", "K011")] == taken("areas", "{id: pump}")[1]


def test_read_shop__has_usual_values():
    node, problems = read_yaml('name: A shop\ncurrency: EUR\nlabour_per_hour: 90\nlogo: ""\n')
    shop = read_record(node, SHOP, Intake(NO_WORDS, problems))
    assert ([], "", 20.0, 14, "en") == (problems, shop.logo, shop.road_test_minutes, shop.quote_days, shop.locale)


def links_of(words, text):
    """Read one line of a state's `leads_to`, which stands in the second line of the file."""
    node, problems = read_yaml(f"leads_to:\n  target: {text}\nid: x\nlabel: X\nsource: s\n", "a.yaml")
    state = read_record(node, FORMS["states"], Intake(words, problems))
    return state.leads_to, [(str(problem.mark), problem.code) for problem in problems]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("often", {"yes": 0.65}),
        ("{low: often}", {"low": 0.65}),
        ("{counted: {hits: 7, of: 9}}", {"yes": 0.75}),
        ("{strength: often}", {"yes": 0.65}),
        ("{grades: {low: often, high: rarely}}", {"low": 0.65, "high": 0.06}),
        ("{strength: {counted: {hits: 7, of: 9}}, where: any}", {"yes": 0.75}),
    ],
)
def test_read_links__takes_short_and_long_forms(words, text, expected):
    links, told = links_of(words, text)
    assert [] == told
    assert [expected] == [{grade: strength.p for grade, strength in link.strengths.items()} for link in links]


@pytest.mark.parametrize(
    ("text", "place", "code"),
    [
        ("{strength: often, grades: {low: often}}", "2:11", "K011"),
        ("{where: any}", "2:11", "K011"),
        ("[]", "2:11", "K011"),
        ("{strength: often, wher: any}", "2:29", "K012"),
        ("{strength: often, by_torque: 2}", "2:40", "K014"),
        ("{low: offen}", "2:17", "K014"),
    ],
)
def test_read_links__tells_what_is_wrong(words, text, place, code):
    assert [(f"a.yaml:{place}", code)] == links_of(words, text)[1]


def test_read_links__a_list_keeps_each_place(words):
    links, told = links_of(words, "[{strength: often, where: any}, {strength: rarely, when: low}]")
    assert ([], ["a.yaml:2:12", "a.yaml:2:43"]) == (told, [str(link.mark) for link in links])


def test_source__the_files_source_stands_in(words):
    node, problems = read_yaml("id: hot\nlabel: Hot\n")
    state = read_record(node, FORMS["states"], Intake(words, problems, source="common practice"))
    assert ("common practice", []) == (state.source, problems)


def test_raised_by__a_hundredfold_is_the_most(taken):
    state, told = taken("states", "id: hot\nlabel: Hot\nsource: s\nraised_by: {usage: {towing: 101}}\n")
    assert ((), [("a.yaml:4:29", "K016")]) == (state.raised_by, told)


def test_scope__reads_tags_and_types(taken):
    state, _ = taken(
        "states", "id: x\nlabel: X\nsource: s\neach: element\ntypes: [clutch]\nneeds: [step]\nnot_with: [cvt]\n"
    )
    scope = state.scope
    assert ("element", ("clutch",), ("step",), ("cvt",)) == (scope.each, scope.types, scope.needs, scope.not_with)


def test_read_background__when_it_is_asked_and_what_it_says(taken):
    text = "id: pump_new\nlabel: Pump\nask: New?\nanswers: {old: {share: 0.9}, new: {share: 0.1}}\nsource: judgement\n"
    background, told = taken("backgrounds", text + "opening: 1\nreplaced: yes\n")
    assert ([], 1, True) == (told, background.opening, background.replaced)
    usual, _ = taken("backgrounds", text)
    assert (None, False) == (usual.opening, usual.replaced)
    assert [("a.yaml:6:11", "K014")] == taken("backgrounds", text + "replaced: maybe\n")[1]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("{kind: weight}", [("a.yaml:13:19", "K014")]),
        ("{kind: pressure, belw: low}", [("a.yaml:13:29", "K012")]),
        ("{kind: pressure, below: deep}", [("a.yaml:13:36", "K014")]),
        ("{kind: pressure, above: high, further: {flood: 3}}", [("a.yaml:13:52", "K014")]),
        ("{kind: pressure, from: deep}", [("a.yaml:13:35", "K013")]),
        ("pressure", [("a.yaml:13:12", "K013"), ("a.yaml:13:12", "K011")]),
        ("{kind: time, as: wait, from: 1, to: 2, below: low, further: {high: 9}, wide: yes}", []),
    ],
)
def test_read_finding__a_mistake_in_a_gauge_has_its_place(taken, line, expected):
    finding, told = taken("findings", LEVEL.rstrip() + f"\nmeasured: [{line}]\n")
    assert expected == told
    if not expected:
        assert Gauge("time", "wait", 1.0, 2.0, "low", further={"high": 9.0}, wide=True) == finding.measured[0].vary(
            mark=Mark()
        )


GEAR = """\
id: gear_off
label: "Off in {name}"
ask: Is it off?
each: gear
group: scan
got_by: scan
unexplained: rarely
source: s
measured: [{kind: turning, as: off_rpm, to: 100, above: "yes"}]
"""


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("{by: gear_slip, as: off_rpm, fewest: 3, source: judgement}", []),
        ('{by: gear_slip, from: 9, is: "yes", silent: yes, source: judgement}', []),
        ("{by: gear_slep, as: off_rpm, source: s}", [("a.yaml:10:15", "K014")]),
        ("{by: lock_slip, as: off_rpm, source: s}", [("a.yaml:10:15", "K013")]),
        ("{by: gear_slip, as: off_rmp, source: s}", [("a.yaml:10:30", "K014")]),
        ('{by: gear_slip, is: "yes", source: s}', [("a.yaml:10:10", "K013")]),
        ("{by: gear_slip, from: 9, source: s}", [("a.yaml:10:10", "K011")]),
        ("{by: gear_slip, from: 9, is: huge, source: s}", [("a.yaml:10:39", "K014")]),
        ("{by: gear_slip, as: off_rpm}", [("a.yaml:10:10", "K011")]),
        ("{by: gear_slip, as: off_rpm, sorce: s, source: s}", [("a.yaml:10:39", "K012")]),
    ],
)
def test_read_finding__a_mistake_in_a_traced_line_has_its_place(taken, line, expected):
    finding, told = taken("findings", GEAR + f"traced: [{line}]\n")
    assert expected == told
    if not expected:
        assert ("gear_slip", "judgement") == (finding.traced[0].by, finding.traced[0].source)
