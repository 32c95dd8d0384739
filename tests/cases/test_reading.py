"""A case is read as CONTRACT says, and every mistake in it is told with its place."""

import json
import time

import pytest

from shiftlore.basics import CaseError
from shiftlore.cases import Answer, Done, Known, Measured, Onset, Outcome, Vehicle, is_code, peek_vehicle, read_case

KNOWN = Known(
    findings={
        "fluid_smell_burnt": ("no", "yes"),
        "ratio_code_gear_2": ("no", "yes"),
        "sluggish_pull_away": ("no", "yes"),
        "fluid_level": ("right", "high", "low"),
        "lamp": ("off", "on"),
    },
    backgrounds={"service_record": ("in_time", "never"), "usage": ("normal", "towing")},
    units=["long5"],
    checks=["pan_drop"],
    jobs=["plain_service"],
    access=["standing", "pan_off"],
    codes=["P0732"],
    events=["engine_service"],
    conditions=["hot", "cold"],
    measures={"line_pressure": ("kPa", "bar", "psi"), "ratio_2": ("ratio",), "sump": ("C", "F")},
    causes=["front_seal_leak"],
    aliases={"burnt_smell": "fluid_smell_burnt"},
)
CONTRACT_CASE = """\
shiftlore: 1
unit: long5
odometer_km: 182000
background:
  service_record: never
  usage: towing
complaint: [sluggish_pull_away]
findings:
  fluid_smell_burnt: no
  ratio_code_gear_2: yes
  fluid_level: {is: high, doubt: think_so}
done: [pan_drop]
access: pan_off
budget: 600
"""


def told(text):
    with pytest.raises(CaseError) as caught:
        read_case(text, KNOWN, "c.yaml")
    return [(str(problem.mark), problem.code) for problem in caught.value.problems]


def with_line(line):
    return f"shiftlore: 1\nunit: long5\n{line}\n"


def test_read_case__reads_the_case_of_the_contract():
    case = read_case(CONTRACT_CASE, KNOWN)
    assert ("long5", 182000, "pan_off", 600) == (case.unit, case.odometer_km, case.access, case.budget)
    assert {"service_record": "never", "usage": "towing"} == case.background
    assert ["fluid_smell_burnt", "ratio_code_gear_2", "fluid_level"] == list(case.findings)
    assert Answer("fluid_level", "high", "think_so") == case.findings["fluid_level"]
    assert (("sluggish_pull_away",), ("pan_drop",), ()) == (case.complaint, case.done_ids, case.warnings)


def test_read_case__json_reads_as_the_same_case():
    values = {
        "shiftlore": 1,
        "unit": "long5",
        "odometer_km": 1.82e5,
        "budget": 600,
        "access": "pan_off",
        "done": ["pan_drop"],
        "background": {"service_record": "never", "usage": "towing"},
        "complaint": ["sluggish_pull_away"],
        "findings": {
            "fluid_smell_burnt": False,
            "ratio_code_gear_2": True,
            "fluid_level": {"is": "high", "doubt": "think_so"},
        },
    }
    for indent in (None, 2, "\t"):
        assert read_case(CONTRACT_CASE, KNOWN) == read_case(json.dumps(values, indent=indent), KNOWN)


@pytest.mark.parametrize("word", ["yes", "true", "True", '"yes"'])
def test_read_case__takes_yes_and_true_alike(word):
    case = read_case(with_line(f"findings: {{fluid_smell_burnt: {word}}}"), KNOWN)
    assert "yes" == case.findings["fluid_smell_burnt"].grade


def test_read_case__marks_every_answer():
    case = read_case(CONTRACT_CASE, KNOWN, "c.yaml")
    assert "c.yaml:10:3" == str(case.findings["ratio_code_gear_2"].mark)
    assert "c.yaml:12:8" == str(case.marks[("done", "pan_drop")])


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("odometer_km: -1", ("c.yaml:3:14", "C016")),
        ("odometer_km: 3000001", ("c.yaml:3:14", "C016")),
        ("odometer_km: 182.000.0", ("c.yaml:3:14", "C021")),
        ("odometer_km: 1e5", ("c.yaml:3:14", "C021")),
        ("odometer: 5", ("c.yaml:3:1", "C012")),
        ("budget: a lot", ("c.yaml:3:9", "C013")),
        ("complaint: sluggish_pull_away", ("c.yaml:3:12", "C013")),
        ("complaint: [slugish_pull_away]", ("c.yaml:3:13", "C020")),
        ("complaint: [fluid_level]", ("c.yaml:3:13", "C022")),
        ("findings: {fluid_levl: high}", ("c.yaml:3:12", "C020")),
        ("findings: {fluid_level: yes}", ("c.yaml:3:25", "C014")),
        ("findings: {fluid_level: hihg}", ("c.yaml:3:25", "C014")),
        ("findings: {fluid_level: {is: high, dout: think_so}}", ("c.yaml:3:36", "C012")),
        ("findings: {fluid_level: {is: high, doubt: thinkso}}", ("c.yaml:3:43", "C014")),
        ("findings: {fluid_level: {doubt: think_so}}", ("c.yaml:3:25", "C011")),
        ("findings: {fluid_smell_burnt: off}", ("c.yaml:3:31", "C021")),
        ("findings: {lamp: on}", ("c.yaml:3:18", "C021")),
        ("findings: {fluid_smell_burnt: yes, burnt_smell: no}", ("c.yaml:3:36", "C018")),
        ("findings: {P0732: yes, p0732: yes}", ("c.yaml:3:24", "C018")),
        ("findings: {fluid_smell_burnt: [yes]}", ("c.yaml:3:31", "C013")),
        ("background: {usage: tow}", ("c.yaml:3:21", "C014")),
        ("background: {use: towing}", ("c.yaml:3:14", "C020")),
        ("done: [pan_dorp]", ("c.yaml:3:8", "C020")),
        ("access: pan_of", ("c.yaml:3:9", "C014")),
        ("unit: long5", ("c.yaml:3:1", "C005")),
        ('access: ""', ("c.yaml:3:9", "C011")),
        ("note: no", ("c.yaml:3:7", "C021")),
    ],
)
def test_read_case__tells_the_place_of_a_mistake(line, expected):
    assert [expected] == told(with_line(line))


def test_read_case__gathers_all_problems_in_order():
    places = told("unit: long5\nodometer_km: far\nfindings: {fluid_levl: high}\nnothing: 1\n")
    assert [("c.yaml:2:14", "C013"), ("c.yaml:3:12", "C020"), ("c.yaml:4:1", "C012")] == places


def test_read_case__an_unknown_id_names_the_nearest():
    with pytest.raises(CaseError, match="Nearest: fluid_level"):
        read_case(with_line("findings: {fluid_levl: high}"), KNOWN)


def test_read_case__without_unit_is_a_problem():
    assert [("c.yaml:1:1", "C011")] == told("shiftlore: 1\n")


@pytest.mark.parametrize("kind", ["step", "step-rwd", "step-fwd", "cvt", "dct", "dct-dry"])
def test_read_case__takes_a_kind_of_unit(kind):
    known = KNOWN.vary(units=[*KNOWN.units, kind])
    assert kind == read_case(f"shiftlore: 1\nunit: {kind}\n", known).unit


def test_read_case__a_kind_without_a_sheet_is_refused():
    assert [("c.yaml:2:7", "C014")] == told("shiftlore: 1\nunit: step\n")


def test_read_case__a_newer_format_is_refused():
    assert [("c.yaml:1:12", "C031")] == told("shiftlore: 2\nunit: long5\n")


def test_read_case__a_missing_version_is_a_warning():
    case = read_case("unit: long5\n", KNOWN)
    assert ["C030"] == [problem.code for problem in case.warnings]


def test_read_case__null_places_are_not_known():
    text = with_line("odometer_km: null\nbudget: ~\nfindings:\nbackground:\ncomplaint:\ndone:\naccess:")
    assert read_case("shiftlore: 1\nunit: long5\n", KNOWN) == read_case(text, KNOWN)


def test_read_case__what_nobody_knows_is_kept_as_asked():
    case = read_case(with_line("findings: {fluid_level: null, fluid_smell_burnt: yes, P0732: ~}"), KNOWN)
    assert (("fluid_level", "P0732"), ["fluid_smell_burnt"]) == (case.unanswered, list(case.findings))


def test_read_case__codes_take_any_letter_case_and_keep_unknown_ones():
    case = read_case(with_line("findings: {p0732: yes, u3fff: no}"), KNOWN)
    assert ["P0732", "U3FFF"] == list(case.findings)
    assert [("C032", "warning")] == [(problem.code, problem.severity) for problem in case.warnings]


def test_read_case__a_job_may_be_done_again_once_it_is_said_what_came_of_it():
    lines = "done: [{job: plain_service, result: came_back, after_days: 20}, {job: plain_service, result: not_cured}]"
    assert ["came_back", "not_cured"] == [one.result for one in read_case(with_line(lines), KNOWN).done]


def test_read_case__an_alias_becomes_the_finding():
    assert ["fluid_smell_burnt"] == list(read_case(with_line("findings: {burnt_smell: yes}"), KNOWN).findings)


def test_read_case__one_sign_under_two_names_is_told_and_kept_once():
    lines = "complaint: [fluid_smell_burnt, burnt_smell]\nfindings: {fluid_smell_burnt: yes, burnt_smell: yes}"
    case = read_case(with_line(lines), KNOWN)
    assert (("fluid_smell_burnt",), ["fluid_smell_burnt"]) == (case.complaint, list(case.findings))
    assert [("C018", "warning")] * 2 == [(one.code, one.severity) for one in case.warnings]


def test_read_case__a_graded_complaint_stands_with_its_grade():
    case = read_case(with_line("complaint: [fluid_level]\nfindings: {fluid_level: low}"), KNOWN)
    assert (("fluid_level",), "low") == (case.complaint, case.findings["fluid_level"].grade)


def test_read_case__speaks_of_what_its_unit_knows():
    text = with_line("findings: {engine_races: yes}")
    assert "long5" == peek_vehicle(text).unit
    known = KNOWN.vary(findings={"engine_races": ("no", "yes")})
    assert ["engine_races"] == list(read_case(text, known).findings)
    assert [("c.yaml:3:12", "C020")] == told(text)


def test_read_case__from_a_path_names_the_file(tmp_path):
    path = tmp_path / "car.yaml"
    path.write_text("unit: lang5\n")
    with pytest.raises(CaseError, match=r"car\.yaml:1:7: error C014"):
        read_case(str(path), KNOWN)


def test_read_case__a_missing_file_is_a_problem():
    assert [("c.yaml:0:0", "C001")] == told("no_such_case.yaml")


def test_read_case__refuses_a_case_over_its_size():
    assert [("c.yaml:0:0", "C002")] == told("note: |\n" + "  words\n" * 40_000)


@pytest.mark.parametrize("text", ["[]", "3", "", "a", "- unit: long5"])
def test_read_case__refuses_what_is_no_mapping(text):
    assert told(text)


def test_peek_vehicle__says_the_unit_or_nothing():
    assert ["long5", "", ""] == [peek_vehicle(text).unit for text in (CONTRACT_CASE, "[1]", "unit: [long5]\n")]


@pytest.mark.parametrize("text", ["", "{", "unit: long5\n unit: [\n", "\x00", "unit:\n", "unit: &a {b: *a}\n"])
def test_peek_vehicle__whatever_the_text_it_raises_nothing(text):
    assert Vehicle("") == peek_vehicle(text)


def test_peek_vehicle__reads_the_file_and_says_nothing_of_one_that_is_not_there(tmp_path):
    path = tmp_path / "car.json"
    path.write_text('{"shiftlore": 1, "unit": "cvt", "findings": 3}')
    assert ("cvt", "cvt", "") == tuple(peek_vehicle(item).unit for item in (path, str(path), tmp_path / "none.yaml"))
    assert str(tmp_path) == peek_vehicle(path).folder


def test_is_code__knows_the_form():
    assert [True, True, False, False] == [is_code(name) for name in ("P0732", "u0100", "P073", "pan_drop")]


FURTHER = """\
shiftlore: 1
unit: long5
speeds: 4
layout: awd
odometer_km: {at_least: 200000}
background: {usage: {is: towing, doubt: think_so}}
onset: {after: [engine_service], how: at_once, odometer_km: 120000}
findings:
  fluid_smell_burnt: {is: yes, when: [hot]}
either:
- [sluggish_pull_away, {fluid_level: low}]
measured:
  line_pressure: {value: 4.2, unit: bar}
  ratio_2: {value: 1.75}
done:
- pan_drop
- {job: plain_service, result: came_back, after_days: 21, found_after: {sluggish_pull_away: no}}
outcome: {causes: [front_seal_leak], confirmed: seen}
"""


def test_read_case__reads_the_further_keys():
    case = read_case(FURTHER, KNOWN)
    assert (4, "awd", 200_000, True) == (case.speeds, case.layout, case.odometer_km, case.odometer_at_least)
    assert ({"usage": "towing"}, {("usage", "towing"): "think_so"}) == (case.background, case.background_doubts)
    assert Onset(("engine_service",), "at_once", 120_000) == case.onset
    assert ("hot",) == case.findings["fluid_smell_burnt"].when
    assert ((Answer("sluggish_pull_away", "yes"), Answer("fluid_level", "low")),) == case.either
    assert {"line_pressure": Measured(4.2, "bar"), "ratio_2": Measured(1.75, "ratio")} == case.measured
    after = {"sluggish_pull_away": Answer("sluggish_pull_away", "no")}
    assert (Done("pan_drop"), Done("plain_service", "came_back", None, 21, found_after=after)) == case.done
    assert Outcome(("front_seal_leak",), "seen") == case.outcome


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("speeds: 0", ("c.yaml:3:9", "C016")),
        ("speeds: four", ("c.yaml:3:9", "C013")),
        ("layout: 4wd", ("c.yaml:3:9", "C014")),
        ("odometer_km: {at_least: many}", ("c.yaml:3:25", "C013")),
        ("odometer_km: {atleast: 5}", ("c.yaml:3:15", "C012")),
        ("background: {usage: {is: tow}}", ("c.yaml:3:26", "C014")),
        ("background: {usage: {is: towing, doubt: maybe}}", ("c.yaml:3:41", "C014")),
        ("background: {usage: {is: towing, when: [hot]}}", ("c.yaml:3:34", "C012")),
        ("onset: at_once", ("c.yaml:3:8", "C013")),
        ("onset: {after: [engine_servise]}", ("c.yaml:3:17", "C020")),
        ("onset: {how: suddenly}", ("c.yaml:3:14", "C014")),
        ("onset: {odometer_km: -4}", ("c.yaml:3:22", "C016")),
        ("findings: {fluid_smell_burnt: {is: yes, when: [warm]}}", ("c.yaml:3:48", "C020")),
        ("findings: {fluid_smell_burnt: {is: yes, when: hot}}", ("c.yaml:3:47", "C013")),
        ("findings: {fluid_smell_burnt: {is: no, when: [hot]}}", ("c.yaml:3:46", "C023")),
        ("either: sluggish_pull_away", ("c.yaml:3:9", "C013")),
        ("either: [sluggish_pull_away]", ("c.yaml:3:10", "C013")),
        ("either: [[sluggish_pull_away]]", ("c.yaml:3:10", "C023")),
        ("either: [[sluggish_pull_away, sluggish]]", ("c.yaml:3:31", "C020")),
        ("either: [[sluggish_pull_away, fluid_level]]", ("c.yaml:3:31", "C022")),
        ("either: [[sluggish_pull_away, sluggish_pull_away]]", ("c.yaml:3:31", "C018")),
        ("either: [[{fluid_level: low}, {fluid_level: high}, {fluid_level: low}]]", ("c.yaml:3:53", "C018")),
        ("either: [[{usage: towing}, {usage: towing}]]", ("c.yaml:3:29", "C018")),
        ("either: [[sluggish_pull_away, {fluid_level: low, lamp: yes}]]", ("c.yaml:3:31", "C023")),
        ("either: [[sluggish_pull_away, {fluid_level: right}]]", ("c.yaml:3:32", "C023")),
        ("either: [[sluggish_pull_away, {usage: towing}]]", ("c.yaml:3:10", "C023")),
        ("either: [[sluggish_pull_away, {fluid_level: }]]", ("c.yaml:3:45", "C011")),
        ("measured: {line_presure: {value: 4, unit: bar}}", ("c.yaml:3:12", "C020")),
        ("measured: {line_pressure: 4.2}", ("c.yaml:3:27", "C013")),
        ("measured: {line_pressure: {value: 4, unit: atm}}", ("c.yaml:3:44", "C014")),
        ("measured: {line_pressure: {value: 4}}", ("c.yaml:3:27", "C011")),
        ("measured: {line_pressure: {value: 4000, unit: bar}}", ("c.yaml:3:35", "C016")),
        ("measured: {sump: {value: 900, unit: F}}", ("c.yaml:3:26", "C016")),
        ("done: [{job: plane_service, result: cured}]", ("c.yaml:3:14", "C020")),
        ("done: [{job: plain_service, result: better}]", ("c.yaml:3:37", "C014")),
        ("done: [{job: plain_service, result: cured, after_days: 4}]", ("c.yaml:3:56", "C023")),
        ("done: [{job: plain_service, result: cured, found_after: {lamp: no}}]", ("c.yaml:3:64", "C014")),
        ("done: [{job: plain_service, found_after: {sluggish_pull_away: no}}]", ("c.yaml:3:42", "C023")),
        ("done: [plain_service, {job: plain_service}]", ("c.yaml:3:29", "C018")),
        ("done: [{result: cured}]", ("c.yaml:3:8", "C011")),
        ("outcome: {causes: [seal_leak]}", ("c.yaml:3:20", "C020")),
        ("outcome: {causes: [front_seal_leak], confirmed: yes}", ("c.yaml:3:49", "C021")),
    ],
)
def test_read_case__a_mistake_in_a_further_key_has_its_place(line, expected):
    assert expected in told(with_line(line))


def test_read_case__what_the_unit_contradicts_is_told_at_its_place():
    known = KNOWN.vary(misfits={"speeds": ("long5 has 5 forward gears, not 4", "Write speeds: 5.")})
    with pytest.raises(CaseError, match=r"c\.yaml:3:9: error C024: long5 has 5 forward gears, not 4"):
        read_case(with_line("speeds: 4"), known, "c.yaml")


def test_read_case__of_an_unknown_unit_only_the_unit_is_wrong():
    text = "shiftlore: 1\nunit: long7\ncomplaint: [whines]\nfindings: {anything: yes, lamp: bright}\nbudget: a lot\n"
    assert [("c.yaml:2:7", "C014"), ("c.yaml:5:9", "C013")] == told(text)


def test_read_case__a_sheet_that_is_not_there_is_told_as_one():
    with pytest.raises(CaseError, match=r'C014: There is no unit sheet "own/five.yaml"'):
        read_case("shiftlore: 1\nunit: own/five.yaml\n", KNOWN)


def test_read_case__an_absurd_value_tells_the_bounds_in_its_own_unit():
    with pytest.raises(CaseError, match=r"900 F cannot be\.\s+Write a number from -76 to 752, or another unit\."):
        read_case(with_line("measured: {sump: {value: 900, unit: F}}"), KNOWN)


@pytest.mark.parametrize(
    ("name", "shown", "advice"),
    [
        ("fluid_smell\u200b_burnt", '"fluid_smell\\u200b_burnt"', "U+200B (zero width space)"),
        ("fluid_sm\u0435ll_burnt", '"fluid_sm\u0435ll_burnt"', "U+0435 (cyrillic small letter ie)"),
        ("ﬂuid_smell_burnt", '"ﬂuid_smell_burnt"', "U+FB02 (latin small ligature fl)"),
        ("fluid_smell_burn\u0456t", '"fluid_smell_burn\u0456t"', "U+0456"),
    ],
)
@pytest.mark.parametrize("place", ["findings: {{{}: yes}}", "complaint: [{}]", "either: [[{}, lamp]]", "asked: [{}]"])
def test_read_case__a_letter_that_only_looks_like_one_is_named(name, shown, advice, place):
    try:
        problems = read_case(with_line(place.format(name)), KNOWN).warnings
    except CaseError as error:
        problems = error.problems
    assert shown in problems[0].what and advice in problems[0].write_instead
    assert "fluid_smell_burnt" in problems[0].write_instead


def test_read_case__a_word_that_names_no_question_is_told_with_the_nearest():
    known = KNOWN.vary(asks=("complaint", "codes", "ratio_code"))
    asked = '[complaint, complaints, codes, ratio_code, usage, pan_drop, P1234, "entering pan_drop", "entering pandrop", "lamp=on|usage=towing", burnt_smell]'
    told = read_case(with_line(f"asked: {asked}"), known).warnings
    assert [
        'There is no question "complaints", so it does not count as asked',
        'There is no question "pandrop", so it does not count as asked',
    ] == [one.what for one in told]
    assert all(near in one.write_instead for near, one in zip(("complaint", "pan_drop"), told, strict=True))
    assert {("C026", "warning")} == {(one.code, one.severity) for one in told}


@pytest.mark.parametrize(
    "text",
    ["complaint: [ratio_code_gear_2]\nfindings: {lamp: 'off'}", "findings: {lamp: 'off', ratio_code_gear_2: yes}"],
)
def test_read_case__a_general_no_beside_a_particular_yes_is_told_with_both_places(text):
    known = KNOWN.vary(parts={"lamp": ("ratio_code_gear_2",)})
    (told,) = read_case(with_line(text), known).warnings
    assert "C025" == told.code and "lamp is off, but line " in told.what and "ratio_code_gear_2" in told.what
    assert () == read_case(with_line(text.replace("'off'", "'on'")), known).warnings


def test_read_case__thousands_of_unknown_ids_are_told_at_once():
    """Two seconds for 8,000 beside 500 known ones, with room for a busy machine."""
    known = KNOWN.vary(findings={f"finding_number_{number}_of_many": ("no", "yes") for number in range(500)})
    text = with_line("findings:\n" + "".join(f"  finding_numbr_{number}x: yes\n" for number in range(8_000)))
    begun = time.process_time()
    with pytest.raises(CaseError) as caught:
        read_case(text, known)
    assert 8_000 == len(caught.value.problems)
    assert time.process_time() - begun < 2.0
