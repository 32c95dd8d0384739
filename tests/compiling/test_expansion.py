"""Rules written out for one unit."""

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import shipped, small_unit, unit_of

from shiftlore.basics import Mark
from shiftlore.compiling.expansion import (
    SMALLEST_PATH,
    TORQUE_FLOOR,
    ExpandedNode,
    Instance,
    NodeLink,
    applies_to_unit,
    expanded_id,
    fill_name,
    flatten_states,
    list_instances,
    max_of_pmfs,
    pass_on,
)
from shiftlore.knowledge import Link, Scope, Strength

C1 = Instance("c1", "Forward clutch C1", "clutch", ("c1",))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Worn linings in {name}", "Worn linings in forward clutch C1"),
        ("{name} slips", "Forward clutch C1 slips"),
        ("Worn pump", "Worn pump"),
    ],
)
def test_fill_name__a_label_begins_small_inside_a_sentence(text: str, expected: str) -> None:
    assert expected == fill_name(text, C1)


def test_fill_name__a_name_in_capitals_stays() -> None:
    assert "Slips in K1" == fill_name("Slips in {name}", Instance("k1", "K1", "clutch", ()))


def test_expanded_id__with_and_without_instance() -> None:
    assert ("gear_slips", "gear_slips_c1") == (expanded_id("gear_slips", None), expanded_id("gear_slips", C1))


def test_applies_to_unit__needs_what_it_may_have_and_not_what_it_surely_has() -> None:
    facts = unit_of("long5").expansion.facts
    assert applies_to_unit(Scope(needs=("step", "band")), facts)
    assert not applies_to_unit(Scope(needs=("cvt",)), facts)
    assert not applies_to_unit(Scope(not_with=("step",)), facts)


def test_applies_to_unit__a_unit_not_known_may_have_it() -> None:
    facts = unit_of("step").expansion.facts
    assert applies_to_unit(Scope(needs=("band",)), facts)
    assert applies_to_unit(Scope(not_with=("band",)), facts)


def test_list_instances__only_of_the_types_named() -> None:
    facts = small_unit().expansion.facts
    types = {item.type for item in list_instances(Scope("element", types=("clutch",)), facts) if item}
    assert {"clutch"} == types
    assert (None,) == list_instances(Scope(), facts)


def test_expand_knowledge__a_template_shares_its_base_rate() -> None:
    causes = small_unit().expansion.causes
    lining = [cause.share for cause in causes.values() if cause.template == "worn_lining"]
    assert 0.012 == pytest.approx(sum(lining), abs=1e-15)
    assert 0.005 == causes["worn_pump"].share


def test_expand_knowledge__one_way_clutches_have_no_linings() -> None:
    expansion = small_unit().expansion
    assert "element_slips_f0" in expansion.states
    assert "worn_lining_f0" not in expansion.causes


def test_expand_knowledge__misreading_of_the_check_weakens_its_line() -> None:
    """Pan drop misses with seldom (.15) and rings falsely with hardly ever (.02): often (.65) is read .65 x .85."""
    colour = small_unit().expansion.findings["fluid_colour"]
    words = small_unit().knowledge.words.strengths
    row = colour.links[0].rows[1]
    missed = 1 - words["seldom"].p
    assert (words["often"].p * missed, words["sometimes"].p * missed) == pytest.approx(row[1:], abs=0.02)
    assert 1 == pytest.approx(sum(row), abs=1e-12)


def test_expand_knowledge__false_alarms_add_to_the_leak() -> None:
    colour = small_unit().expansion.findings["fluid_colour"]
    words = small_unit().knowledge.words.strengths
    half = words["hardly_ever"].p / 2
    assert words["rarely"].p + half * (1 - words["rarely"].p) == pytest.approx(colour.leak[1], abs=1e-12)
    assert half == pytest.approx(colour.leak[2], abs=1e-12)


def test_expand_knowledge__a_template_shares_its_leak() -> None:
    expansion = small_unit().expansion
    rarely = small_unit().knowledge.words.strengths["rarely"].p
    leaks = [expansion.findings[key].leak[1] for key in expansion.of_template["gear_slips"]]
    assert [rarely / 6] * 6 == pytest.approx(leaks, abs=1e-12)


def test_expand_knowledge__by_torque_weakens_a_line_at_most_to_its_floor() -> None:
    unit = small_unit()
    often = unit.knowledge.words.strengths["often"].p
    rows = {
        (link.parent, key): link.rows[1][1]
        for key, node in unit.expansion.findings.items()
        if node.template == "gear_slips"
        for link in node.links
    }
    for element in ("c0", "c1", "c2", "b0", "b2"):
        strengths = [p for (parent, _), p in rows.items() if parent == f"element_slips_{element}"]
        assert often == pytest.approx(max(strengths), abs=1e-12), "the gear of its largest torque has the whole"
        assert TORQUE_FLOOR * often - 1e-12 <= min(strengths)


def test_expand_knowledge__a_slipping_element_shows_in_its_gears_alone() -> None:
    expansion = small_unit().expansion
    for key in expansion.of_template["gear_slips"]:
        gear = key.removeprefix("gear_slips_")
        applied = {f"element_slips_{name}" for (name, where) in expansion.facts.applied if where == gear}
        assert {link.parent for link in expansion.findings[key].links} <= applied


def test_expand_knowledge__an_overhaul_cures_every_instance() -> None:
    expansion = small_unit().expansion
    assert set(expansion.causes) == set(expansion.cures["overhaul"])
    assert ("fluid_colour",) == expansion.reveals["pan_drop"]


@pytest.mark.parametrize("unit", sorted(shipped().sheets))
def test_expand_knowledge__every_number_is_a_probability(unit: str) -> None:
    expansion = unit_of(unit).expansion
    for node in (*expansion.states.values(), *expansion.findings.values()):
        rows = [node.leak, *(row for link in node.links for row in link.rows)]
        assert all(min(row) >= 0 and abs(sum(row) - 1) < 1e-9 for row in rows), node.id


@pytest.mark.parametrize("unit", ["long5", "cvt", "dct7"])
def test_expand_knowledge__ids_belong_to_one_thing(unit: str) -> None:
    expansion = unit_of(unit).expansion
    listed = [*expansion.causes, *expansion.states, *expansion.findings]
    assert len(listed) == len(set(listed))


def _link(target: str, **p: float) -> Link:
    return Link(target, {grade: Strength(value, 20) for grade, value in p.items()})


def test_pass_on__strengths_multiply_and_grades_of_one_name_stay() -> None:
    findings = shipped().findings
    line, dark = _link("fluid_colour", brown=0.2, dark=0.5), findings["fluid_smell_burnt"]
    assert {"yes": pytest.approx(0.45)} == _p(pass_on(line, _link("fluid_colour", dark=0.9), dark))
    assert {"yes": pytest.approx(0.35)} == _p(pass_on(line, _link("fluid_colour", yes=0.5), dark))
    assert {"brown": pytest.approx(0.1)} == _p(pass_on(line, _link("x", brown=0.5), findings["fluid_colour"]))


def _p(link: Link) -> dict[str, float]:
    return {grade: strength.p for grade, strength in link.strengths.items()}


def test_expand_knowledge__reverse_stands_under_one_id() -> None:
    expansion = unit_of("long5").expansion
    assert "no_reverse" in expansion.of_template["gear_missing"]
    assert "gear_missing_r" not in expansion.findings
    assert "no_reverse" == expansion.renamed["gear_missing_r"]
    lost = {link.parent for link in expansion.findings["no_reverse"].links}
    assert any(parent.startswith("element_lost_") for parent in lost)


def test_share_in__first_reverse_top() -> None:
    facts = unit_of("long5").expansion.facts
    assert (1.0, 0.0) == (facts.share_in("in_reverse", "gear", "r"), facts.share_in("in_top", "gear", "1"))


pmfs = (
    st.lists(st.floats(0, 1), min_size=3, max_size=3)
    .filter(lambda row: sum(row) > 0.1)
    .map(lambda row: tuple(value / sum(row) for value in row))
)


@given(st.lists(pmfs, max_size=4))
def test_max_of_pmfs__equals_counting_all_outcomes(rows: list[tuple[float, ...]]) -> None:
    counted = [0.0, 0.0, 0.0]
    for states in product(range(3), repeat=len(rows)):
        p = 1.0
        for row, state in zip(rows, states, strict=True):
            p *= row[state]
        counted[max(states, default=0)] += p
    assert counted == pytest.approx(max_of_pmfs(rows, 3), abs=1e-12)


HERE = Mark("a.yaml", 3, 5)
OTHER = Mark("b.yaml", 7, 9)


def state(name: str, leak: float = 0.0, **strengths: float) -> ExpandedNode:
    """Make a yes/no state from its parents' strengths."""
    links = tuple(NodeLink(key, ((1.0, 0.0), (1 - p, p)), 20.0, HERE) for key, p in strengths.items())
    return ExpandedNode(name, name, name, ("no", "yes"), (1 - leak, leak), 50.0, links, OTHER)


def flat(*nodes: ExpandedNode) -> dict[str, ExpandedNode]:
    """Flatten some states."""
    return flatten_states({node.id: node for node in nodes})


def strength(node: ExpandedNode, cause: str) -> float:
    """Give the strength of one path."""
    return next(link.rows[1][1] for link in node.links if link.parent == cause)


def test_flatten_states__strengths_on_the_way_multiply() -> None:
    found = flat(state("low", worn=0.8), state("slips", low=0.5), state("burnt", slips=0.9))
    assert 0.8 * 0.5 == pytest.approx(strength(found["slips"], "worn"), abs=1e-15)
    assert 0.8 * 0.5 * 0.9 == pytest.approx(strength(found["burnt"], "worn"), abs=1e-15)


def test_flatten_states__two_ways_join_as_noisy_or() -> None:
    """By hand: 1 - (1 - .3)(1 - .8 x .5) = .58."""
    found = flat(state("low", worn=0.8), state("slips", worn=0.3, low=0.5))
    assert 0.58 == pytest.approx(strength(found["slips"], "worn"), abs=1e-15)


def test_flatten_states__a_leak_above_leaks_through() -> None:
    """By hand: 1 - (1 - .02)(1 - .1 x .5) = .069."""
    found = flat(state("low", 0.1), state("slips", 0.02, low=0.5))
    assert 0.069 == pytest.approx(found["slips"].leak[1], abs=1e-15)


def test_flatten_states__only_causes_are_left_above() -> None:
    found = flat(state("slips", low=0.5, worn=0.2), state("low", leaking=0.6))
    assert {"worn", "leaking"} == {link.parent for link in found["slips"].links}
    assert ["slips", "low"] == list(found)


def test_flatten_states__a_path_too_weak_to_tell_is_left_out() -> None:
    weak = SMALLEST_PATH / 2
    assert () == flat(state("low", worn=weak), state("slips", low=0.9))["slips"].links


def test_flatten_states__the_least_sure_line_says_how_sure_the_path_is() -> None:
    low = state("low", worn=0.8)
    slips = ExpandedNode(
        "slips",
        "slips",
        "slips",
        ("no", "yes"),
        (1.0, 0.0),
        1.0,
        (NodeLink("low", ((1.0, 0.0), (0.5, 0.5)), 6.0, OTHER),),
        OTHER,
    )
    link = flat(low, slips)["slips"].links[0]
    assert (6.0, OTHER) == (link.weight, link.mark)


def test_flatten_states__graded_states_keep_their_grades() -> None:
    """By hand: low .2 and very low .6 pass on .5 and 1."""
    links = (NodeLink("worn", ((1.0, 0.0, 0.0), (0.2, 0.2, 0.6)), 9.0, HERE),)
    level = ExpandedNode("level", "level", "level", ("right", "low", "very_low"), (1.0, 0.0, 0.0), 1.0, links, HERE)
    rows = ((1.0, 0.0), (0.5, 0.5), (0.0, 1.0))
    slips = ExpandedNode(
        "slips", "slips", "slips", ("no", "yes"), (1.0, 0.0), 1.0, (NodeLink("level", rows, 9.0, HERE),), HERE
    )
    assert 0.2 * 0.5 + 0.6 == pytest.approx(strength(flat(level, slips)["slips"], "worn"), abs=1e-15)


@pytest.mark.parametrize("unit", sorted(shipped().sheets))
def test_labels__of_an_instance_say_no_word_twice(unit: str) -> None:
    """ "Band intermediate band B1 worn" is no way to speak: the sheet's own name of a part says what it is."""
    expansion = unit_of(unit).expansion
    records = {key: cause.cause for key, cause in expansion.causes.items()} | dict(expansion.finding_records)
    for key, node in (*expansion.causes.items(), *expansion.findings.items()):
        if key not in records or records[key].id == key:
            continue
        words = [word for word in node.label.lower().replace(",", "").split() if len(word) > 3]
        assert sorted(set(words)) == sorted(words), node.label


def test_expand_knowledge__a_job_cures_all_that_the_jobs_within_it_do() -> None:
    expansion, within = unit_of().expansion, shipped().jobs_within
    found = 0
    for job, template in expansion.job_templates.items():
        for part in within(template) & expansion.cures.keys():
            for cause, strength in expansion.cures[part].items():
                found += 1
                assert expansion.cures[job][cause].p >= strength.p
    assert found > 50


def test_expand_knowledge__what_checks_are_made_for_and_with_what_not_stands_by_expanded_ids() -> None:
    expansion = unit_of("long5").expansion
    unless, made_for = expansion.checks["stall_test"].unless, expansion.checks["connector_look"].made_for
    assert {"slips", "slips_gear_3"} <= {*unless} <= {*expansion.findings}
    assert "code_solenoid_circuit_sol_a" in made_for and "code_solenoid_circuit" not in made_for
