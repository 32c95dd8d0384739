"""Answers of a case become evidence."""

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import compiled_of, shipped, small_unit, unit_of

from shiftlore.basics import Mark
from shiftlore.basics.quantities import kind_of, to_base
from shiftlore.cases import Answer, Case, Measured
from shiftlore.compiling import (
    CompiledCase,
    Observation,
    compile_case,
    evidence_of,
    fill_in_answers,
    grades_of,
    query_with_pgmpy,
)
from shiftlore.compiling.compiled import doubt_answer
from shiftlore.compiling.evidence import (
    Dials,
    drop_implied,
    find_code,
    list_aliases,
    name_for_codes,
    tie_conditions,
)
from shiftlore.compiling.expansion import ExpandedNode, NodeLink, flatten_node
from shiftlore.exact import Doubted, GateTable, HubEngine, HubTables
from shiftlore.gearing.facts import Instance
from shiftlore.sheets import Limit


def test_find_code__letters_in_any_case() -> None:
    expansion = small_unit().expansion
    assert "gear_slips_2" == find_code(small_unit().knowledge, expansion, "p0732")


def test_find_code__unknown_and_not_on_this_unit() -> None:
    assert find_code(small_unit().knowledge, small_unit().expansion, "P0999") is None
    assert find_code(shipped(), unit_of("long5").expansion, "P0805") is None


@pytest.mark.parametrize(
    ("code", "finding"),
    [
        ("P0732", "ratio_code_gear_2"),
        ("P0731", "ratio_code_gear_1"),
        ("P0741", "code_tcc_slip"),
        ("P0750", "code_solenoid_circuit_sol_a"),
        ("P0748", "code_solenoid_circuit_pcs"),
    ],
)
def test_find_code__meaning_of_the_standard(code: str, finding: str) -> None:
    """Source: SAE J2012, definitions of the P07xx codes."""
    assert finding == find_code(shipped(), unit_of("long5").expansion, code)


def test_list_aliases__leads_only_to_findings_of_the_unit() -> None:
    for unit in ("long5", "cvt"):
        expansion = unit_of(unit).expansion
        assert set(list_aliases(shipped(), expansion).values()) <= set(expansion.findings)


def test_name_for_codes__a_letter_becomes_shift_or_pressure() -> None:
    assert {"sol_a", "on_off", "shift_a"} == name_for_codes(
        "solenoid", Instance("sol_a", "A", "on_off", ("A", "sol_a"))
    )
    assert "pressure_b" in name_for_codes("solenoid", Instance("pcs", "P", "pressure_control", ("B",)))
    assert {"input", "speed"} == name_for_codes("speed_sensor", Instance("speed", "S", "input", ("A",)))


def _kept(*answers: Observation) -> set[str]:
    return {answer.finding for answer in drop_implied(unit_of("long5").expansion, answers)}


def test_drop_implied__a_particular_yes_says_the_general_yes() -> None:
    harsh = [Observation("shift_harsh_any", "yes"), Observation("shift_harsh_2_3", "yes")]
    assert {"shift_harsh_2_3"} == _kept(*harsh)
    assert {"shift_harsh_2_3"} == _kept(*reversed(harsh))


def test_drop_implied__a_surer_general_yes_stays() -> None:
    both = {"shift_harsh_any", "shift_harsh_2_3"}
    assert both == _kept(Observation("shift_harsh_any", "yes"), Observation("shift_harsh_2_3", "yes", 0.8))


def test_drop_implied__a_general_no_says_every_particular_no() -> None:
    assert {"shift_harsh_any"} == _kept(Observation("shift_harsh_2_3", "no"), Observation("shift_harsh_any", "no"))


def test_drop_implied__what_does_not_fit_stays() -> None:
    both = {"shift_harsh_any", "shift_harsh_2_3"}
    assert both == _kept(Observation("shift_harsh_any", "no"), Observation("shift_harsh_2_3", "yes"))
    assert both == _kept(Observation("shift_harsh_any", "yes"), Observation("shift_harsh_2_3", "no"))


def test_fill_in_answers__no_codes_answers_the_whole_group() -> None:
    filled = fill_in_answers(small_unit().expansion, [Observation("no_codes", "yes", 0.8)])
    assert 8 == len(filled)
    assert {("no", 0.8)} == {(answer.grade, answer.p_right) for answer in filled[1:]}


def test_fill_in_answers__what_was_given_wins() -> None:
    given = [Observation("no_codes", "yes"), Observation("gear_slips_2", "yes")]
    filled = fill_in_answers(small_unit().expansion, given)
    assert [Observation("gear_slips_2", "yes")] == [answer for answer in filled if answer.finding == "gear_slips_2"]


def test_fill_in_answers__the_other_answer_fills_nothing() -> None:
    assert [Observation("no_codes", "no")] == fill_in_answers(small_unit().expansion, [Observation("no_codes", "no")])


def test_fill_in_answers__a_group_answered_as_a_whole_keeps_its_stand_in_out() -> None:
    filled = fill_in_answers(unit_of("long5").expansion, [Observation("no_codes_module_scan", "yes")])
    assert "no_codes_generic_scan" not in {answer.finding for answer in filled}


def test_fill_in_answers__a_scan_that_named_a_code_found_no_other() -> None:
    """Common practice: a scan is read as a list of all that is stored."""
    expansion, told = unit_of("long5").expansion, [Observation("code_solenoid_circuit_sol_a", "yes", given_as="P0753")]
    assert told == fill_in_answers(expansion, told)
    filled = {answer.finding: answer for answer in fill_in_answers(expansion, told, ["generic_scan"])[1:]}
    assert {"code_solenoid_circuit_sol_b", "code_misfire"} <= {*filled}
    assert {("no", "P0753")} == {(answer.grade, answer.given_as) for answer in filled.values()}
    told_of = {one.general_of for one in map(expansion.finding_records.get, filled) if one}
    assert not any("code_solenoid_circuit" in parts for parts in told_of)  # what says the same in general stays open
    assert [] == fill_in_answers(expansion, [], ["generic_scan"])


def even(finding: str, grade: int) -> float:
    """Take every sign to be as common as not."""
    return 0.5


def test_evidence_of__sure_answers_are_positions() -> None:
    evidence = evidence_of(
        small_unit().expansion, [Observation("fluid_colour", "black"), Observation("gear_slips_1", "no")], even
    )
    assert {"fluid_colour": 2, "gear_slips_1": 0} == evidence


def test_evidence_of__doubt_asks_how_often_the_grade_is_reached() -> None:
    asked = []

    def how_often(finding: str, grade: int) -> float:
        asked.append((finding, grade))
        return 0.1

    answers = [
        Observation("fluid_colour", "dark", 0.8),
        Observation("gear_slips_1", "no", 0.8),
        Observation("gear_slips_2", "yes"),
    ]
    evidence = evidence_of(small_unit().expansion, answers, how_often)
    assert [("fluid_colour", 1)] == asked, "a doubted no does not ask, a sure yes neither"
    assert {
        "fluid_colour": doubt_answer(1, 0.8, 0.1),
        "gear_slips_1": doubt_answer(0, 0.8, 0.5),
        "gear_slips_2": 1,
    } == evidence


def believe(p_sign: float, answer: Doubted, strength: float = 1.0, leak: float = 0.0) -> float:
    """Give P(what shows the sign is there | words), for one thing of probability `p_sign` that may show it.

    Worked out on the engine: one hidden variable below a root of a single state.
    """
    gate = GateTable("f", 2, np.array([[1 - leak], [1.0]]), (0,), np.array([[1 - strength, 1.0]]))
    tables = HubTables("r", ("only",), np.ones(1), ("h",), np.array([[p_sign]]), {"f": gate})
    engine = HubEngine(tables)
    return float(engine.p_present(engine.stand({"f": answer}))[0, 0])


@given(st.floats(0.001, 0.5), st.floats(0.55, 0.99))
def test_doubt_answer__words_of_a_sign_are_right_as_often_as_they_are_said_to_be(p_sign: float, p_right: float) -> None:
    """However rare the sign: by Bayes' rule, P(sign | "yes, I think so") is `p_right`."""
    assert p_right == pytest.approx(believe(p_sign, doubt_answer(1, p_right, p_sign)), abs=1e-9)


@given(st.floats(0.5, 0.95), st.floats(0.55, 0.99))
def test_doubt_answer__words_of_a_common_sign_are_right_more_often(p_sign: float, p_right: float) -> None:
    assert p_right - 1e-9 <= believe(p_sign, doubt_answer(1, p_right, p_sign))


@given(st.floats(0.01, 0.99), st.floats(0.55, 0.99))
def test_doubt_answer__a_doubted_no_is_bayes_rule_with_a_part_overlooked(p_sign: float, p_right: float) -> None:
    """Of what is there, (1 - p_right) / p_right passes unnoticed; on an even sign that makes "no" right in `p_right`."""
    overlooked = (1 - p_right) / p_right
    expected = p_sign * overlooked / (p_sign * overlooked + 1 - p_sign)
    assert expected == pytest.approx(believe(p_sign, doubt_answer(0, p_right, p_sign)), abs=1e-9)
    assert 1 - p_right == pytest.approx(believe(0.5, doubt_answer(0, p_right, 0.5)), abs=1e-9)


@given(st.floats(0.001, 0.5), st.floats(0.001, 0.5), st.floats(0.55, 0.99))
def test_doubt_answer__a_rare_sign_weighs_more_than_a_common_one(one: float, other: float, p_right: float) -> None:
    """Likelihood ratio of sign and no sign: 1 over what is imagined."""
    rare, common = sorted((one, other))
    assert doubt_answer(1, p_right, rare).imagined <= doubt_answer(1, p_right, common).imagined


@given(st.integers(0, 2), st.floats(0.001, 0.999), st.floats(0.51, 0.97), st.floats(0.005, 0.02))
def test_doubt_answer__the_surer_the_less_is_imagined_and_overlooked(
    grade: int, p_sign: float, p_right: float, more: float
) -> None:
    doubted, surer = doubt_answer(grade, p_right, p_sign), doubt_answer(grade, p_right + more, p_sign)
    assert surer.overlooked < doubted.overlooked <= 1
    assert surer.imagined <= doubted.imagined <= 1
    assert grade or 0.0 == doubted.imagined == surer.imagined


def test_doubt_answer__nearly_sure_is_the_answer_itself() -> None:
    almost = doubt_answer(1, 1 - 1e-12, 0.2)
    assert (1, 0.0, 0.0) == (
        almost.grade,
        pytest.approx(almost.imagined, abs=1e-11),
        pytest.approx(almost.overlooked, abs=1e-11),
    )


def test_doubt_answer__a_doubted_no_joins_no_findings() -> None:
    """Forty doubted noes cost a product: no telling answer, nothing to sum."""
    findings = list(unit_of("long5").expansion.findings)[:40]
    case = Case(
        "long5",
        findings={key: Answer(key, unit_of("long5").expansion.findings[key].grades[0], "think_so") for key in findings},
    )
    compiled = compile_case(unit_of("long5"), case)
    standing = compiled.engine.stand(compiled.evidence)
    assert ((), ()) == (standing.gates, standing.sums) and standing.exact


def test_grades_of__every_finding_with_its_grades() -> None:
    assert ("red", "dark", "black") == grades_of(small_unit().expansion)["fluid_colour"]


def test_find_code__the_only_pressure_solenoid_is_meant_whatever_its_letter() -> None:
    """Source: SAE J2012 gives letters; a unit with one pressure control solenoid is often lettered otherwise."""
    code = shipped().codes["P0748"]
    assert ("pressure_control", "line") == code.sole_of
    for unit in ("long5", "trans4"):
        facts = unit_of(unit).expansion.facts
        sole = [item.id for item in facts.instances("solenoid") if item.type in code.sole_of]
        found = find_code(shipped(), unit_of(unit).expansion, "P0748")
        assert len(sole) != 1 or f"{code.finding}_{sole[0]}" == found


def test_find_code__what_the_unit_has_not_goes_to_the_rest() -> None:
    expansion = unit_of("long5").expansion
    found = {find_code(shipped(), expansion, code) for code in shipped().codes}
    rests = {key for key, record in expansion.finding_records.items() if record.rest_of}
    assert rests and rests <= found


def weigh(compiled: CompiledCase, evidence: Mapping[str, int]) -> np.ndarray:
    """P(answers | root state), shape (n_states,)."""
    return np.exp(compiled.engine.weigh(evidence))


def with_either(*group: Answer, **answers: str) -> CompiledCase:
    findings = {key: Answer(key, grade) for key, grade in answers.items()}
    return compile_case(small_unit(), Case("long5", findings=findings, either=(group,)))


@pytest.mark.parametrize("seen", [{}, {"fluid_colour": 1}, {"gear_slips_4": 1, "fluid_colour": 0}])
def test_read_either__is_shown_unless_neither_is(seen: dict[str, int]) -> None:
    """P(seen, a or b) = P(seen) - P(seen, no a, no b), each worked out on the network without the sign."""
    compiled = with_either(Answer("line_pressure_idle", "yes"), Answer("gear_slips_2", "yes"))
    (sign,) = (key for key in compiled.evidence if "__or__" in key)
    expected = weigh(compiled, seen) - weigh(compiled, {**seen, "line_pressure_idle": 0, "gear_slips_2": 0})
    assert expected == pytest.approx(weigh(compiled, {**seen, sign: 1}), rel=1e-9)


def test_read_either__a_grade_counts_as_that_grade_or_more() -> None:
    compiled = with_either(Answer("fluid_colour", "dark"), Answer("gear_slips_2", "yes"))
    (sign,) = compiled.evidence
    none = weigh(compiled, {"fluid_colour": 0, "gear_slips_2": 0})
    assert 1 - none == pytest.approx(weigh(compiled, {sign: 1}), rel=1e-9)
    assert "Fluid colour: dark, or Slips in gear 2: one of these" == compiled.expansion.name_answer(sign, "yes")


def test_read_either__of_two_grades_of_one_finding_the_lowest_counts() -> None:
    compiled = with_either(Answer("fluid_colour", "black"), Answer("fluid_colour", "dark"))
    (sign,) = compiled.evidence
    none = weigh(compiled, {"fluid_colour": 0})
    assert 1 - none == pytest.approx(weigh(compiled, {sign: 1}), rel=1e-9)
    assert "Fluid colour: black, or Fluid colour: dark: one of these" == compiled.expansion.name_answer(sign, "yes")


@pytest.mark.filterwarnings("ignore")
def test_read_either__the_general_library_says_the_same() -> None:
    """Source: pgmpy, variable elimination."""
    compiled = with_either(Answer("line_pressure_idle", "yes"), Answer("gear_slips_2", "yes", "think_so"))
    assert query_with_pgmpy(compiled) == pytest.approx(compiled.p_faults, abs=1e-10)


@pytest.mark.parametrize(
    ("told", "left"),
    [
        ({"gear_slips_2": "yes"}, {"gear_slips_2": 1}),
        ({"gear_slips_2": "no"}, {"gear_slips_2": 0, "line_pressure_idle": 1}),
        ({"gear_slips_2": "no", "line_pressure_idle": "no"}, {"gear_slips_2": 0, "line_pressure_idle": 0}),
    ],
)
def test_read_either__what_is_answered_by_itself_is_taken_out(told: dict[str, str], left: dict[str, int]) -> None:
    compiled = with_either(Answer("line_pressure_idle", "yes"), Answer("gear_slips_2", "yes"), **told)
    assert left == compiled.evidence


def test_read_either__backgrounds_raise_its_leak_as_they_raise_its_members() -> None:
    """On shipped rules: the sign's leak is what its members' leaks leave, each raised by itself."""
    group = (Answer("code_adaptation", "yes"), Answer("shift_harsh_any", "yes"))
    life = {"battery_work": "yes", "recent_repair": "yes"}
    compiled = compile_case(unit_of(), Case("long5", background=life, either=(group,)))
    (sign,) = (key for key in compiled.evidence if "__or__" in key)
    none = compiled.engine.weigh({answer.finding: 0 for answer in group})
    assert 1 - np.exp(none) == pytest.approx(weigh(compiled, {sign: 1}), rel=1e-9)


def tied(*when: str, **more: str) -> CompiledCase:
    findings = {"engage_harsh_reverse": Answer("engage_harsh_reverse", "yes", when=when)}
    findings |= {key: Answer(key, grade) for key, grade in more.items()}
    return compile_case(unit_of(), Case("long5", findings=findings))


def test_tie_conditions__weighs_only_on_causes_that_explain_the_finding() -> None:
    plain, hot, general = tied(), tied("hot"), tied(worse_hot="yes")
    flat = {
        key: flatten_node(plain.expansion.findings[key], plain.expansion.states)
        for key in ("worse_hot", "engage_harsh_reverse")
    }
    strong = {key: {link.parent: 1 - link.rows[1][0] for link in node.links} for key, node in flat.items()}
    place = {cause: i + 1 for i, cause in enumerate(plain.causes)}

    def gain(compiled: CompiledCase, cause: str) -> float:
        """How much the condition speaks for a cause against none."""
        log, base = compiled.engine.weigh(compiled.evidence), plain.engine.weigh(plain.evidence)
        return float((log[place[cause]] - base[place[cause]]) - (log[0] - base[0]))

    idle = [c for c, p in strong["worse_hot"].items() if p > 0.3 and c not in strong["engage_harsh_reverse"]]
    both = [c for c, p in strong["worse_hot"].items() if p > 0.3 and strong["engage_harsh_reverse"].get(c, 0) > 0.3]
    assert idle and both
    assert [0.0] * len(idle) == pytest.approx([gain(hot, cause) for cause in idle], abs=1e-9)
    assert all(gain(general, cause) > 0.3 for cause in idle)
    assert all(gain(hot, cause) > 0.3 for cause in both)


def test_tie_conditions__by_counting_who_brought_the_finding() -> None:
    """A cause fires for the finding (p) or its leak does (l); the condition comes with the cause (q) where only it fired."""
    p, leak, q, c = 0.6, 0.1, 0.7, 0.15
    worlds = {
        (fires, leaks): (p if fires else 1 - p) * (leak if leaks else 1 - leak) for fires in (0, 1) for leaks in (0, 1)
    }
    shown = sum(value for key, value in worlds.items() if any(key))
    brought = worlds[(1, 0)] / shown
    expected = 1 - (1 - c) * (1 - q * brought)
    node = ExpandedNode(
        "f",
        "f",
        "F",
        ("no", "yes"),
        (1 - leak, leak),
        1.0,
        (NodeLink("x", ((1.0, 0.0), (1 - p, p)), 1.0, Mark()),),
        Mark(),
    )
    hot = node.vary(id="h", leak=(1 - c, c), links=(NodeLink("x", ((1.0, 0.0), (1 - q, q)), 1.0, Mark()),))
    record = shipped().findings["worse_hot"].vary(id="h", raised_by=())
    expansion = unit_of().expansion.vary(
        states={},
        findings={"f": node, "h": hot},
        finding_records={"f": record.vary(id="f", condition=None), "h": record},
    )
    (sign,) = tie_conditions(expansion, {"hot": [Observation("f", "yes")]}, {}, {}, {})
    silent = sign.node.leak[0] * sign.node.links[0].rows[1][0]
    assert expected == pytest.approx(1 - silent, rel=1e-12)


def test_tie_conditions__two_findings_with_one_condition_make_one_sign() -> None:
    answers = {
        "engage_harsh_reverse": Answer("engage_harsh_reverse", "yes", when=("hot",)),
        "slips": Answer("slips", "yes", when=("hot", "load")),
    }
    compiled = compile_case(unit_of(), Case("long5", findings=answers))
    assert 2 == sum("__of__" in key for key in compiled.evidence)


def test_tie_conditions__the_condition_in_general_goes_before_it() -> None:
    assert {"worse_hot": 1, "engage_harsh_reverse": 1} == tied("hot", worse_hot="yes").evidence


def test_with_signs__the_unit_of_the_same_signs_is_kept() -> None:
    assert tied("hot").unit is tied("hot").unit is not unit_of()


def dials_of(unit: str = "long5", limits: Mapping[str, Limit] | None = None) -> Dials:
    return Dials(unit_of(unit).expansion, limits or {})


@pytest.mark.parametrize(
    ("name", "value", "unit", "expected"),
    [
        ("line_pressure_idle", 2.1, "bar", {"line_pressure_idle": "low"}),
        ("line_pressure_idle", 4.2, "bar", {}),
        ("slip_gear_3", 250, "rpm", {"slip_live_3": "yes"}),
        ("slip_gear_3", 20, "rpm", {"slip_live_3": "no"}),
        ("tcc_slip", 90, "rpm", {"tcc_slip_live": "slips"}),
        ("tcc_slip", 900, "rpm", {"tcc_slip_live": "open"}),
        ("engage_delay_drive", 2500, "ms", {"engage_delay_drive": "delayed"}),
        ("engage_delay_drive", 3.5, "s", {"engage_delay_drive": "long"}),
        ("fluid_temperature", 275, "F", {"runs_hot": "yes"}),
        ("solenoid_resistance_sol_a", 2, "kohm", {"solenoid_resistance_sol_a": "open"}),
        ("solenoid_resistance_sol_a", 22, "ohm", {}),
        ("nothing", 1, "bar", {}),
    ],
)
def test_dials__grade_by_stated_limits(name: str, value: float, unit: str, expected: dict[str, str]) -> None:
    assert expected == dials_of().grade(name, to_base(kind_of(unit), value, unit))


def test_dials__the_sheet_knows_better_than_the_rule() -> None:
    stated = dials_of(limits={"line_pressure_idle": Limit("pressure", 500.0, 650.0)})
    assert {"line_pressure_idle": "low"} == stated.grade("line_pressure_idle", 420.0)
    assert {"line_pressure_idle": "right"} == stated.grade("line_pressure_idle", 600.0)
    assert {"line_pressure_idle": "high"} == stated.grade("line_pressure_idle", 700.0)


@pytest.mark.parametrize("gear", ["1", "2", "3", "4", "5", "r"])
def test_dials__a_ratio_of_its_own_gear_of_another_and_of_slip(gear: str) -> None:
    """The ratio of a gear is that of the solved gear train; slip lets the input run ahead, so the ratio grows."""
    ratios = {name: abs(ratio) for name, ratio in unit_of().expansion.facts.ratios.items()}
    dials, own = dials_of(), ratios[gear]
    assert {f"slip_live_{gear}": "no"} == dials.grade(f"ratio_gear_{gear}", own * 1.01)
    slipping = next(
        own * share
        for share in (1.08, 1.06, 1.1, 1.15)
        if all(abs(own * share / r - 1) > 0.04 for r in ratios.values())
    )
    assert {f"slip_live_{gear}": "yes"} == dials.grade(f"ratio_gear_{gear}", slipping)
    other = next(ratio for name, ratio in ratios.items() if abs(ratio / own - 1) > 0.1)
    assert {"commanded_not_had": "yes"} == dials.grade(f"ratio_gear_{gear}", other)


def test_dials__of_a_kind_no_ratio_is_known() -> None:
    assert {} == dials_of("step").grade("ratio_gear_3", 1.75)


def test_compile_case__a_number_weighs_as_the_answer_that_it_gives() -> None:
    measured = compile_case(unit_of(), Case("long5", measured={"slip_gear_3": Measured(250, "rpm")}))
    answered = compile_case(unit_of(), Case("long5", findings={"slip_live_3": Answer("slip_live_3", "yes")}))
    assert answered.causes_now == pytest.approx(measured.causes_now, abs=1e-12)


def test_fill_in_answers__what_is_told_of_driving_says_that_it_moves() -> None:
    """Common practice: who tells of a shudder at steady throttle has driven; most likely it drives still."""
    expansion = unit_of("long6").expansion
    for sign in ("shudder_light_throttle", "shift_harsh_1_2", "park_does_not_hold"):
        _, denied = fill_in_answers(expansion, [Observation(sign, "yes", given_as=sign)])
        assert ("no_drive_any", "no", sign) == (denied.finding, denied.grade, denied.given_as)
        assert 0.5 < denied.p_right < 1
        assert 1 == len(fill_in_answers(expansion, [Observation(sign, "no")]))


@pytest.mark.parametrize("told", ["no_drive_any", "does_not_go", "no_drive_forward", "drive_lost_stays"])
def test_fill_in_answers__a_vehicle_told_to_stand_is_not_said_to_move(told: str) -> None:
    """Whoever slipped for weeks and now stands says both."""
    given = [Observation("slips", "yes"), Observation(told, "yes")]
    assert given == fill_in_answers(unit_of("long6").expansion, given)


def test_fill_in_answers__a_driven_vehicle_has_no_shaft_that_is_broken() -> None:
    found = {"shudder_light_throttle": "yes", "driveline_play": "yes", "leak_output": "yes"}
    compiled = compiled_of(found, unit="long6")
    place = compiled.causes.index("drive_shaft_broken_or_out")
    assert 0.15 > compiled.causes_now[place]
    without = compiled.vary(evidence={key: one for key, one in compiled.evidence.items() if key != "no_drive_any"})
    assert without.causes_now[place] > 3 * compiled.causes_now[place]
    assert {"shudder_light_throttle", "no_drive_any"} == {*compiled.held_by("shudder_light_throttle")}
