"""What is told of a record agrees with the rules, the engine and the price book."""

import warnings
from pathlib import Path

import numpy as np
import pytest
import yaml
from support.trade import ROOT, shipped, small_unit, unit_of

from shiftlore.advising import explain_record
from shiftlore.advising.pricing import Pricer
from shiftlore.basics import UnknownId
from shiftlore.cases import Case
from shiftlore.compiling import compile_beforehand, to_pgmpy
from shiftlore.knowledge import Knowledge

OFTEN, USUALLY, RARELY, HARDLY_EVER = 0.65, 0.80, 0.06, 0.02
"""Means of the words in words.yaml."""


def small() -> Knowledge:
    return small_unit().knowledge


def by_id(lines) -> dict:
    return {line.id: line for line in lines}


def test_cause__how_often_a_sign_shows_follows_through_hidden_states() -> None:
    """Reckoned by hand: a worn pump makes pressure low, which shows at the gauge; both have a leak (noisy-OR)."""
    told = explain_record(small(), "worn_pump", "long5")
    p_low = 1 - (1 - HARDLY_EVER) * (1 - OFTEN)
    shown = by_id(told.sections["shows"])["line_pressure_idle"]
    assert 1 - (1 - RARELY) * (1 - USUALLY * p_low) == pytest.approx(shown.p, abs=1e-9)
    assert "often" == shown.word and "Line pressure low at idle" == shown.label


def test_cause__signs_agree_with_a_general_library() -> None:
    """Source: pgmpy, variable elimination on the whole unit."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.inference import VariableElimination

    network = to_pgmpy(compile_beforehand(small_unit(), Case("long5")).network)
    told = by_id(explain_record(small(), "worn_pump", "long5").sections["shows"])
    found = VariableElimination(network).query(["fluid_colour"], {"fault": "worn_pump"}, show_progress=False)
    grade = told["fluid_colour"].label.rpartition(": ")[2]
    states = network.get_cpds("fluid_colour").state_names["fluid_colour"]
    assert float(found.values[states.index(grade)]) == pytest.approx(told["fluid_colour"].p, abs=1e-9)


def test_cause__mistaken_for_says_why_and_what_tells_apart() -> None:
    told = explain_record(small(), "worn_pump", "long5")
    (other,) = told.sections["mistaken_for"]
    assert ("worn_lining", "Worn linings in a clutch or brake") == (other.id, other.label)
    assert "keeps to its own gears" in other.says and ("Line pressure low at idle",) == other.details


def test_cause__is_checked_cured_and_priced() -> None:
    told = explain_record(small(), "worn_pump", "long5")
    pricer = Pricer(compile_beforehand(small_unit(), Case("long5")), small().shop)
    (cure,) = told.sections["cured_by"]
    assert ("overhaul", "nearly always", pricer.price_jobs(("overhaul",))) == (cure.id, cure.word, cure.cost)
    (check,) = told.sections["checked_by"]
    assert ("pan_drop", pricer.price_checks(("pan_drop",))) == (check.id, check.cost)


def test_cause__rules_are_named_with_file_and_line_also_those_behind_a_state() -> None:
    told = explain_record(small(), "worn_pump", "long5")
    places = [rule.place for rule in told.rules]
    assert ["causes/pump/worn_pump.yaml:1", "causes/pump/worn_pump.yaml:11", "causes/pump/worn_pump.yaml:12"] == places[
        :3
    ]
    assert "states/all.yaml:3" in places
    assert {"common practice"} == {rule.source for rule in told.rules}
    assert "Fluid colour: dark often, black sometimes" == told.rules[2].says


def test_cause__published_repairs_are_counted_beside_its_signs_and_lines() -> None:
    """Counted again from the lists and the cases that were entered by hand."""
    found = explain_record(shipped(), "exhaust_blocked")
    folder = ROOT / "tests" / "repairs"
    records = [one for path in folder.glob("*.yaml") for one in yaml.load(path.read_text("utf-8"), yaml.CSafeLoader)]
    own = [one["id"] for one in records if "exhaust_blocked" in one.get("causes", ())]
    entered = [yaml.load((folder / "entered" / f"{name}.yaml").read_text("utf-8"), yaml.CSafeLoader) for name in own]
    told = [case["findings"].get("sluggish_uphill") for case in entered]
    uphill = sum(answer is True or (isinstance(answer, dict) and answer["is"] is True) for answer in told)
    assert 0 < uphill < len(own)
    assert f"{len(own)} repairs of it" == found.facts["published"]
    assert uphill == by_id(found.sections["shows"])["sluggish_uphill"].published
    assert any(f"named in {uphill} published" in rule.says for rule in found.rules)


def test_template__is_told_in_general_and_worked_out_on_its_first_instance() -> None:
    told = explain_record(small(), "worn_lining", "long5")
    assert "Worn linings in a clutch or brake" == told.label and "{" not in told.says
    assert told.id == told.instances[0] and len(told.instances) > 1
    one = explain_record(small(), told.instances[1], "long5")
    assert () == one.instances and one.label.startswith("Worn linings in ") and "a clutch or" not in one.says


def test_finding__speaks_for_sums_to_what_shows_it() -> None:
    """Bayes: the shares of all causes, and of none, among vehicles that show it are one."""
    told = explain_record(small(), "line_pressure_idle", "long5")
    case = compile_beforehand(small_unit(), Case("long5"))
    single = case.prepared.single
    telling = single.predict({}, ("line_pressure_idle",))["line_pressure_idle"][1]
    joint = telling * single.tables.prior
    first = told.sections["speaks_for"][0]
    place = 1 + case.prepared.chances.causes.index(first.id)
    assert float(joint[place] / joint.sum()) == pytest.approx(first.share, abs=1e-12)
    assert int(np.argmax(joint[1:])) + 1 == place
    assert "worn_pump" in by_id(told.sections["no_speaks_against"])
    assert "pan_drop" not in by_id(told.sections.get("checked_by", ()))


def test_finding__of_grades_tells_each_answer_and_what_the_worst_speaks_for() -> None:
    told = explain_record(small(), "fluid_colour", "long5")
    assert ["red", "dark", "black"] == [line.id for line in told.sections["answers"]]
    assert 1.0 == pytest.approx(sum(line.usual for line in told.sections["answers"]), abs=1e-9)
    assert ["black", "dark"] == list(dict.fromkeys(line.says for line in told.sections["speaks_for"]))
    assert ["pan_drop"] == list(by_id(told.sections["checked_by"]))


def test_check_and_job__how_what_to_mind_and_what_must_follow() -> None:
    check, job = (explain_record(small(), key, "long5") for key in ("pan_drop", "overhaul"))
    assert "Drop the pan and look." == check.says and "The fluid is hot." == check.sections["mind"][0].says
    assert ["fluid_colour"] == [line.id for line in check.sections["reveals"]]
    assert "20 min with: pan off" == check.facts["work"]
    assert "Set the level hot." == job.sections["follows"][0].says
    assert ("pan_gasket", 15.0) == (job.sections["parts"][0].id, job.sections["parts"][0].cost.typical)
    assert {"worn_pump"} < {line.id for line in job.sections["cures"]}


def test_code__is_explained_by_its_finding() -> None:
    told = explain_record(small(), "p0732", "long5")
    assert ("P0732", "finding", "gear_slips_2") == (told.code, told.kind, told.id)
    assert told.says.startswith("Gear 2 has the wrong ratio.")


@pytest.mark.parametrize(
    ("wanted", "unit", "said"),
    [
        ("worn_pmp", "long5", "Nearest: worn_pump"),
        ("zzzzzz", None, "plain words"),
        ("worn_pump", "long55", "long5"),
    ],
)
def test_explain_record__what_is_not_there_names_the_nearest(wanted: str, unit: str | None, said: str) -> None:
    with pytest.raises(UnknownId, match=said):
        explain_record(small(), wanted, unit)


def test_explain_record__of_another_kind_of_unit() -> None:
    with pytest.raises(UnknownId, match="long5 has no"):
        explain_record(shipped(), "dct_clutch_worn", "long5")
    assert "dct" in explain_record(shipped(), "dct_clutch_worn").unit
    assert "step" == explain_record(shipped(), "slips").unit


def test_explain_record__records_of_a_unit_can_be_explained() -> None:
    """Nothing may be missing where somebody asks: every fifth id or code that a unit has."""
    unit = unit_of("trans4")
    expansion = unit.expansion
    every = (*expansion.causes, *expansion.findings, *expansion.checks, *expansion.jobs, *unit.aliases)
    for key in every[::5]:
        told = explain_record(shipped(), key, "trans4")
        assert told.label and "{name}" not in f"{told.label} {told.says} {told.facts}"
        assert all(Path(rule.place.rpartition(":")[0]).suffix == ".yaml" for rule in told.rules)


def test_explain_record__every_rule_is_explained_on_some_unit() -> None:
    knowledge = shipped()
    for key in (*knowledge.causes, *knowledge.checks, *knowledge.jobs):
        assert explain_record(knowledge, key).rules


def test_check__what_waiting_is_worth_is_told_beside_its_price() -> None:
    night, none = (explain_record(shipped(), key, "step") for key in ("cold_first_start", "road_test_plain"))
    assert "for the time that the vehicle waits" in night.facts["waits"] and "waits" not in none.facts
