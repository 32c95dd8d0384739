"""What happens if nothing is done."""

import numpy as np
from support.offers import compiled

from shiftlore.advising.options_risks import WORST_FIRST, Risk, list_risks, p_harmless, tell_risks


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
