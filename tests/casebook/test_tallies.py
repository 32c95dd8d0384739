"""What closed cases add up to."""

import json
from dataclasses import replace

import pytest
from support.casebook_entries import ENTRY, entry_of
from support.trade import shipped

from shiftlore.basics import ShiftloreError
from shiftlore.casebook import Entry
from shiftlore.casebook.tallies import judge_checks, measure_belief, measure_share, read_entry, tally_casebook
from shiftlore.compiling import Learned, Overlay, with_overlay


def book(*entries: Entry) -> tuple[Entry, ...]:
    return entries or tuple(entry_of(number) for number in range(3))


@pytest.mark.parametrize(("hits", "of"), [(0, 5), (3, 7), (27, 36), (10, 10), (1, 1)])
def test_measure_share__is_wilsons_interval(hits: int, of: int) -> None:
    """Outside check: scipy.stats.binomtest(...).proportion_ci(method="wilson")."""
    from scipy.stats import binomtest

    theirs, ours = binomtest(hits, of).proportion_ci(0.95, method="wilson"), measure_share(hits, of)
    assert (theirs.low, theirs.high) == pytest.approx((ours.low, ours.high), abs=1e-6)


def test_measure_share__of_nothing_anything_may_be() -> None:
    assert (0, 0, 0.0, 1.0) == (lambda one: (one.hits, one.of, one.low, one.high))(measure_share(0, 0))


def test_tally_casebook__an_empty_book_adds_up_to_nothing() -> None:
    report = tally_casebook(shipped(), ())
    assert (0, "", "", (), None, None) == (
        report.n, report.first, report.last, report.areas, report.belief, report.median_spent,
    )  # fmt: skip
    assert 0.0 == report.idle_money


def test_tally_casebook__counts_what_came_in_and_what_it_was() -> None:
    other = entry_of(9, closed_on="2026-04-01", area="band", templates=("worn_band",), spent=100.0, minutes=None)
    nobody = entry_of(8, area="", causes=(), templates=(), cause_labels=(), spent=None)
    done: list[int] = []
    report = tally_casebook(shipped(), book(ENTRY, other, nobody), forgotten=2, tell_done=done.append)
    assert (3, 2, "2026-03-02", "2026-04-01", [1, 2, 3]) == (
        report.n, report.forgotten, report.first, report.last, done,
    )  # fmt: skip
    assert [("slips", 3)] == [(one.id, one.count) for one in report.complaints]
    assert {("band", 1), ("pump", 1)} == {(one.id, one.count) for one in report.areas}
    assert {("pump_worn", 1), ("worn_band", 1)} == {(one.id, one.count) for one in report.causes}
    assert (740.5, 2, 370.25, 420.0, 2, "EUR") == (
        report.spent, report.n_spent, report.median_spent, report.minutes, report.n_minutes, report.currency,
    )  # fmt: skip


def test_tally_casebook__cured_at_the_first_visit_and_what_came_back() -> None:
    former = {name: getattr(ENTRY, name) for name in ("closed_on", "confirmed", "minutes", "spent", "comeback_km")}
    former |= {"causes": ["pump_worn"], "corrections": ["overhaul_unit"], "outcome": "not_cured"}
    second = entry_of(1, history=(former,))
    back = entry_of(2, outcome="came_back", comeback_km=4_200.0)
    report = tally_casebook(shipped(), book(ENTRY, second, back))
    assert ((1, 3), (1, 3)) == ((report.cured.hits, report.cured.of), (report.comebacks.hits, report.comebacks.of))
    assert (4_200.0,) == report.distances


def test_tally_casebook__two_currencies_are_not_added_under_one_name() -> None:
    report = tally_casebook(shipped(), book(ENTRY, entry_of(1, currency="GBP")))
    assert "" == report.currency


def test_tally_casebook__a_case_that_todays_rules_cannot_read_is_counted_all_the_same() -> None:
    lost = entry_of(1, case='{"shiftlore": 1, "unit": "no_such_unit", "complaint": ["odd_sign"]}')
    report = tally_casebook(shipped(), book(ENTRY, lost))
    assert (2, 1) == (report.n, report.n_unread)
    assert "odd sign" in {one.label for one in report.complaints}


CHECKED = {
    "shiftlore": 1,
    "unit": "long6",
    "complaint": ["slips"],
    "findings": {"slips": "yes", "fluid_smell_burnt": "no"},
    "done": ["fluid_look"],
}


def checks_of(**changes: object) -> list[tuple[str, bool, float]]:
    entry = replace(ENTRY, case=json.dumps({**CHECKED, **changes}))
    return [(key, idle, price) for key, _, idle, price in judge_checks(read_entry(shipped(), entry))]


def test_judge_checks__what_leaves_the_likeliest_cause_moved_nothing_and_what_changes_it_did() -> None:
    """By hand: water in the fluid makes another cause the likeliest than slipping alone does."""
    reveals = read_entry(shipped(), replace(ENTRY, case=json.dumps(CHECKED))).expansion.reveals["fluid_look"]
    assert {"fluid_smell_burnt", "fluid_milky"} <= {*reveals}
    ((key, is_idle, price),) = checks_of()
    assert ("fluid_look", True) == (key, is_idle) and price > 0
    ((_, is_idle, again),) = checks_of(findings={"slips": "yes", "fluid_milky": "yes"})
    assert not is_idle and again == price


def test_judge_checks__one_of_which_nothing_was_noted_is_left_out() -> None:
    assert [] == checks_of(findings={"slips": "yes"})
    assert [] == checks_of(done=[])


def test_read_entry__the_jobs_that_closed_it_are_taken_out() -> None:
    case = {**CHECKED, "done": ["fluid_look", {"job": "overhaul", "result": "cured"}]}
    assert ("fluid_look",) == read_entry(
        shipped(), replace(ENTRY, case=json.dumps(case), corrections=("overhaul",))
    ).case.done_ids
    with pytest.raises(ShiftloreError):
        read_entry(shipped(), replace(ENTRY, case='{"shiftlore": 1, "unit": "no_such_unit"}'))


def test_measure_belief__by_hand() -> None:
    """Two cases: 0.8 and right, 0.4 and wrong, where what it was had been given 0.2."""
    right = replace(ENTRY, areas={"pump": 0.8, "band": 0.1})
    wrong = replace(ENTRY, areas={"band": 0.4, "pump": 0.2})
    belief = measure_belief([right, wrong])
    assert belief is not None
    assert (1, 2) == (belief.first.hits, belief.first.of)
    assert (0.2**2 + 0.4**2) / 2 == pytest.approx(belief.brier, abs=1e-12)
    assert 0.25 == pytest.approx(belief.brier_even, abs=1e-12)
    assert (0.8 * 0.2) ** 0.5 == pytest.approx(belief.p_right, abs=1e-12)
    assert [(0.4, 0.4, 0), (0.8, 0.8, 1)] == [(band.low, band.mean, band.right.hits) for band in belief.bands]


def test_measure_belief__scores_as_scikit_learn_does() -> None:
    """Outside check: sklearn.metrics.brier_score_loss of the likeliest area."""
    from sklearn.metrics import brier_score_loss

    said = [0.9, 0.55, 0.3, 0.72, 1.0]
    hits = [True, False, False, True, True]
    entries = [
        replace(ENTRY, areas={"pump" if hit else "band": p, "filter_or_pickup": 0.01})
        for p, hit in zip(said, hits, strict=True)
    ]
    belief = measure_belief(entries)
    assert belief is not None
    assert brier_score_loss(hits, said) == pytest.approx(belief.brier, abs=1e-12)
    assert 5 == sum(band.right.of for band in belief.bands)


def test_measure_belief__without_a_belief_there_is_nothing_to_measure() -> None:
    assert measure_belief([]) is None
    assert measure_belief([replace(ENTRY, areas={})]) is None


def test_tally_casebook__tells_what_the_overlay_in_use_has_moved_most() -> None:
    rates = {"pump_worn": Learned(10.0, 11.0, 2.0, 1.0), "worn_band": Learned(4.0, 12.0, 3.0, 0.5)}
    laid = with_overlay(shipped(), Overlay(rates, cases={"cured": 12}))
    report = tally_casebook(laid, ())
    assert 12 == report.n_taught
    assert [(4.0, 12.0, 3.0), (10.0, 11.0, 2.0)] == [row[1:] for row in report.taught]
