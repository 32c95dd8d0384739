"""What things are called."""

from support.trade import slipping, unit_of

from shiftlore.advising.naming import name_answer, name_cause, name_job, name_jobs
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
