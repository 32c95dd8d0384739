"""What happens if nothing is done."""

import numpy as np
import pytest
from support.offers import compiled
from support.trade import compiled_of, shipped, unit_of

from shiftlore.advising.options_risks import (
    WORST_FIRST,
    Risk,
    find_danger,
    is_not_run,
    list_lasting,
    list_risks,
    p_harmless,
    tell_danger,
    tell_risks,
)
from shiftlore.cases import Answer, Case
from shiftlore.compiling import compile_case


def severity_of(cause: str) -> str:
    return compiled().expansion.causes[cause].cause.driven_on.severity


def only(severity: str) -> np.ndarray:
    """Be sure of the first cause of a severity."""
    position = next(i for i, cause in enumerate(compiled().causes) if severity_of(cause) == severity)
    p = np.zeros(len(compiled().faults.members))
    p[1 + position] = 1.0
    return p


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


def test_tell_risks__says_when_it_does_not_know() -> None:
    assert "not known" in tell_risks(())


def test_find_danger__what_endangers_and_what_is_soon_lost_count_alike() -> None:
    soon = compiled().knowledge.words.soon_lost_km
    lost = np.zeros(len(compiled().faults.members))
    causes = [compiled().expansion.causes[cause].cause.driven_on for cause in compiled().causes]
    position = next(i for i, it in enumerate(causes) if it.severity == "strands" and 0 < (it.within_km or 0) <= soon)
    lost[1 + position] = 1.0
    for p_states in (only("unsafe"), lost, 0.5 * lost + 0.5 * only("unsafe")):
        danger = find_danger(compiled(), p_states)
        assert danger is not None and pytest.approx(1.0) == danger.p
    mixed = find_danger(compiled(), 0.5 * lost + 0.5 * only("unsafe"))
    assert mixed is not None and causes[position].says in mixed.says and mixed.says.startswith("Do not drive it: in ")


def test_find_danger__from_the_probability_on_that_the_words_state() -> None:
    limit, harmless = compiled().knowledge.words.stop_driving, only("nuisance")
    for p, is_told in ((limit - 0.01, False), (limit + 0.01, True)):
        assert is_told == (find_danger(compiled(), p * only("unsafe") + (1 - p) * harmless) is not None)


@pytest.mark.parametrize(("sign", "severity"), sorted(shipped().words.says_itself.items()))
def test_list_risks__what_a_sign_says_is_certain(sign: str, severity: str) -> None:
    """That Park does not hold, or that it does not move, is seen: no share of such vehicles does no harm."""
    seen, unseen = compiled_of({sign: "yes"}), compiled_of({sign: "no"})
    risks = {risk.severity: risk for risk in list_risks(seen, seen.faults_now)}
    label = seen.expansion.finding_records[sign].label
    assert (1.0, True) == (risks[severity].p, risks[severity].is_now) and label in risks[severity].says
    assert {"nuisance", "gets_worse"}.isdisjoint(risks)
    assert (0.0, 0.0) == p_harmless(seen, seen.faults_now) and sum(p_harmless(unseen, unseen.faults_now)) > 0.0
    assert not any(label in risk.says for risk in list_risks(unseen, unseen.faults_now))
    danger = find_danger(seen, seen.faults_now)
    assert severity != "unsafe" or (danger is not None and danger.p == 1.0 and label in danger.says)


GRINDS = {"no_drive_any": "yes", "noise_grinding": "yes", "noise_from_front": "yes"}


def test_is_not_run__only_with_all_of_the_signs() -> None:
    """No drive and grinding in the bell housing: who listens to it range by range sends the pump through the cooler."""
    grinds, elsewhere = compiled_of(GRINDS), compiled_of({**GRINDS, "noise_from_front": "no"})
    assert is_not_run(grinds) and not is_not_run(elsewhere)
    danger = tell_danger(grinds, helps=True)
    assert danger is not None and danger.says.startswith("Do not run the engine") and danger.p == 1.0
    told = tell_danger(elsewhere, helps=True)
    assert told is None or "run the engine" not in told.says


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
