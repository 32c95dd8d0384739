"""Names and sentences."""

from support.trade import slipping, unit_of

from shiftlore.advising import CheckReason, JobReason, OutcomeReason, Shift
from shiftlore.advising.telling import name_answer, name_cause, name_job, name_jobs, tell_check, tell_job, tell_stop
from shiftlore.planning import Stop
from shiftlore.planning.weighing import NOTHING_WRONG


def test_name_job__instance_label_fills_the_slot():
    compiled = slipping()
    jobs = [key for key, template in compiled.expansion.job_templates.items() if key != template]
    assert jobs
    assert all("{name}" not in name_job(compiled, job) for job in jobs)


def test_name_jobs__joined_by_a_plus():
    compiled = slipping()
    assert f"{name_job(compiled, 'overhaul')} + {name_job(compiled, 'plain_service')}" == name_jobs(
        compiled, ("overhaul", "plain_service")
    )


def test_name_cause__lumps_have_names_of_their_own():
    assert "Nothing found" == name_cause(slipping(), NOTHING_WRONG)


def test_name_cause__label_of_the_rules():
    cause = next(iter(unit_of().expansion.causes))
    assert unit_of().expansion.causes[cause].label == name_cause(slipping(), cause)


def test_name_answer__label_and_grade():
    assert name_answer(slipping(), "slips", "yes").endswith(": yes")


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
