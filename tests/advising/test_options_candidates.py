"""Which jobs are offered: the frontier, the bundles, the few that differ."""

from hypothesis import given
from hypothesis import strategies as st
from support.offers import view

from shiftlore.advising.options_candidates import (
    LEAST_ADDED,
    Candidate,
    choose_few,
    differs,
    keep_frontier,
    list_candidates,
    make_candidate,
)
from shiftlore.advising.pricing import OptionCost


def candidate(name: str, price: float, p: float, kind: str = "job") -> Candidate:
    return Candidate((name,), kind, OptionCost(price, price, price), p)


CANDIDATES = st.lists(
    st.tuples(st.integers(1, 5000), st.floats(0.0, 1.0)), min_size=1, max_size=12
).map(lambda pairs: [candidate(str(i), float(price), p) for i, (price, p) in enumerate(pairs)])


@given(CANDIDATES)
def test_keep_frontier__keeps_just_what_nothing_beats(candidates: list[Candidate]) -> None:
    kept = keep_frontier(candidates)
    for one in candidates:
        beaten = any(
            other.cost.typical <= one.cost.typical and other.p_cured >= one.p_cured and other is not one
            and (other.cost.typical < one.cost.typical or other.p_cured > one.p_cured)
            for other in candidates
        )
        twin = any(
            other is not one and (other.cost.typical, other.p_cured) == (one.cost.typical, one.p_cured) for other in kept
        )
        assert (one in kept) == (not beaten and one.p_cured > 0 and not twin) or twin


@given(CANDIDATES)
def test_choose_few__is_short_and_differs_in_kind(candidates: list[Candidate]) -> None:
    frontier = keep_frontier(candidates)
    chosen = choose_few(frontier, frontier[:1], lambda one: one.cost.typical, 4)
    assert len(chosen) <= 4
    assert all(differs(one, other) for one in chosen for other in chosen if one is not other)
    assert chosen == sorted(chosen, key=lambda one: one.cost.typical)


def test_differs__not_in_pennies() -> None:
    assert not differs(candidate("a", 500, 0.5), candidate("b", 505, 0.7))
    assert not differs(candidate("a", 500, 0.5), candidate("b", 900, 0.52))
    assert differs(candidate("a", 500, 0.5), candidate("b", 900, 0.7))


def test_list_candidates__bundles_share_an_opening_and_hold_nothing_idle() -> None:
    harsh = view("harsh")
    bundles = [one for one in list_candidates(harsh.pricer, harsh.cures) if one.kind == "bundle"]
    assert bundles
    for bundle in bundles:
        for job in bundle.jobs:
            rest = tuple(other for other in bundle.jobs if other != job)
            assert harsh.cures.p_reached(bundle.jobs) - harsh.cures.p_reached(rest) >= LEAST_ADDED


def test_list_candidates__each_set_once_and_with_its_chance() -> None:
    found = list_candidates(view().pricer, view().cures, [("plain_service", "pan_reseal")])
    assert len(found) == len({frozenset(one.jobs) for one in found})
    assert frozenset(("plain_service", "pan_reseal")) in {frozenset(one.jobs) for one in found}


def test_make_candidate__names_its_kind() -> None:
    kinds = {job: make_candidate(view().pricer, view().cures, (job,)).kind for job in ("plain_service", "overhaul")}
    assert {"plain_service": "service", "overhaul": "overhaul"} == kinds
