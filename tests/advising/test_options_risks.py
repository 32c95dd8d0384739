"""What happens if nothing is done."""

import numpy as np
import pytest
from support.offers import compiled, only
from support.trade import compiled_of, shipped, unit_of

from shiftlore.advising.options_risks import Risk, list_risks, p_harmless, put_likely_first, tell_risks
from shiftlore.cases import Answer, Case
from shiftlore.compiling import compile_case
from shiftlore.ranking.dangers import WORST_FIRST, find_danger, list_lasting


def test_list_risks__danger_comes_first_though_it_is_rarer() -> None:
    mixed = 0.05 * only("unsafe") + 0.95 * only("gets_worse")
    assert ["unsafe", "gets_worse"] == [risk.severity for risk in list_risks(compiled(), mixed)]


def test_list_risks__probabilities_are_those_of_the_worst() -> None:
    risks = list_risks(compiled(), compiled().p_faults)
    assert sum(risk.p for risk in risks) <= 1.0 + 1e-9
    assert [risk.severity for risk in risks] == sorted((risk.severity for risk in risks), key=WORST_FIRST.index)


def test_p_harmless__is_one_for_a_nuisance_and_none_for_a_danger() -> None:
    nothing = np.eye(len(compiled().faults.members))[0]
    assert (0.0, 1.0) == p_harmless(compiled(), nothing)
    assert (1.0, 0.0) == (sum(p_harmless(compiled(), only("nuisance"))), sum(p_harmless(compiled(), only("unsafe"))))


def test_tell_risks__says_chance_and_distance() -> None:
    text = tell_risks((Risk("unsafe", 0.31, "a", "pump", "It jams.", 2000),))
    assert "Safety first. 31 %: it endangers people, usually within 2,000 km. It jams." == text


@pytest.mark.parametrize(("p", "first"), [(0.03, "strands"), (0.2, "unsafe")])
def test_put_likely_first__a_rare_danger_does_not_hide_what_most_vehicles_come_to(p: float, first: str) -> None:
    """Milky fluid: of 100 vehicles 70 break down within 50 km, and the owner read of 3 with a wheel bearing."""
    risks = (Risk("unsafe", p, "a", "wheels", "It jams.", 5000), Risk("strands", 0.7, "b", "fluid", "It is lost.", 50))
    assert first == put_likely_first(risks)[0].severity
    assert (tell_risks(risks).index("Safety first") == 0) == (first == "unsafe")


def test_tell_risks__says_when_it_does_not_know() -> None:
    assert "not known" in tell_risks(())


@pytest.mark.parametrize(("said", "severity"), sorted(shipped().words.says_itself.items()))
def test_list_risks__what_a_sign_says_is_certain(said: str, severity: str) -> None:
    """That Park does not hold, or that it does not move, is seen: no share of such vehicles does no harm."""
    parts = (one.partition("=") for one in said.split(" and ") if not one.startswith("not "))
    signs = {sign: grade or "yes" for sign, _, grade in parts}
    unit = "dct" if "dct_clutch_temp_warning" in signs else "long5"
    seen = compiled_of(signs, unit)
    unseen = compiled_of({sign: seen.expansion.findings[sign].grades[0] for sign in signs}, unit)
    risks = {risk.severity: risk for risk in list_risks(seen, seen.faults_now)}
    label = seen.expansion.finding_records[next(iter(signs))].label
    assert (1.0, True) == (risks[severity].p, risks[severity].is_now) and label in risks[severity].says
    assert {*WORST_FIRST[WORST_FIRST.index(severity) + 1 :]}.isdisjoint(risks)
    assert (0.0, 0.0) == p_harmless(seen, seen.faults_now) and sum(p_harmless(unseen, unseen.faults_now)) > 0.0
    assert not any(label in risk.says for risk in list_risks(unseen, unseen.faults_now))
    danger, why = find_danger(seen, seen.faults_now), shipped().words.not_run.get(said, label)
    stopped = severity == "lost" or said in shipped().words.not_run
    certain = danger is not None and danger.p == 1.0 and why in danger.says and danger.stopped == stopped
    assert severity not in ("unsafe", "lost") or certain


def test_tell_risks__what_does_not_move_has_broken_down() -> None:
    text = tell_risks((Risk("strands", 1.0, "a", "pump", "It does not go.", None, is_now=True),))
    assert text == "It has broken down. It does not go."
    later = tell_risks((Risk("strands", 0.1, "a", "pump", "Pieces go round.", 0),))
    assert later == "10 %: it will break down. Pieces go round."


def test_list_risks__what_does_not_go_when_cold_has_not_broken_down() -> None:
    """It drives all day once it is warm; and what endangers people at times endangers them."""
    told = {key: Answer(key, "yes", when=("cold",)) for key in ("does_not_go", "park_does_not_hold")}
    cold = compile_case(unit_of("step-rwd"), Case("step-rwd", findings=told))
    risks = {risk.severity: risk for risk in list_risks(cold, cold.faults_now)}
    assert risks["unsafe"].is_now and not any(risk.is_now for name, risk in risks.items() if name != "unsafe")
    assert "does_not_go" in cold.telling - list_lasting(cold)
