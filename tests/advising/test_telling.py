"""Reasons in words."""

from support.trade import slipping, unit_of

from shiftlore.advising import CheckReason, JobReason, OutcomeReason, Shift
from shiftlore.advising.telling import tell_check, tell_job, tell_stop
from shiftlore.planning import Stop


def _reason(dropped=(), added=()):
    cause = next(iter(unit_of().expansion.causes))
    outcome = OutcomeReason("x", 0.3, (Shift(cause, 0.12, 0.61),), ("overhaul",), dropped, added, 900.0, 20.0)
    return cause, CheckReason((outcome,), 0.3, 20.0)


def test_tell_check__percentages_and_the_job_that_falls_away():
    cause, reason = _reason(dropped=("plain_service",))
    told = tell_check(slipping(), reason, {"x": {"slips": "yes"}})
    assert "(30 %)" in told
    assert f"{unit_of().expansion.causes[cause].label} goes from 12 % to 61 %" in told
    assert told.endswith("is no longer offered.")


def test_tell_check__job_that_comes_into_question():
    _, reason = _reason(added=("overhaul",))
    assert tell_check(slipping(), reason, {"x": {"slips": "yes"}}).endswith("comes into question.")


def test_tell_check__nothing_by_itself():
    assert "later check" in tell_check(slipping(), CheckReason((), 0.0, 0.0), {})


def test_tell_job__aim_and_chance():
    cause = next(iter(unit_of().expansion.causes))
    told = tell_job(slipping(), JobReason(((cause, 0.6, 0.9),), 0.54, (), None))
    assert "is at 60 %" in told and "54 %" in told


def test_tell_job__aims_at_nothing():
    assert "nothing" in tell_job(slipping(), JobReason((), 0.0, (), None))


def test_tell_stop__names_the_work_and_its_chance():
    told = tell_stop(slipping(), Stop(True, "no_check_pays", ("overhaul",), 0.86, 3000.0, "pan_drop", -5.0))
    assert told.startswith("No check saves more than it costs.") and "86 %" in told


def test_tell_stop__leaving_it():
    told = tell_stop(slipping(), Stop(True, "no_check_left", (), 0.0, 3000.0, None, 0.0))
    assert "leaving it as it is" in told
