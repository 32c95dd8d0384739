"""Reasons as numbers and as sentences."""

import numpy as np
import pytest
from support.situations import one_job_per_cause
from support.table_oracle import TableOracle
from support.trade import slipping, unit_of

from shiftlore.advising.reasons import (
    CheckReason,
    JobReason,
    OutcomeReason,
    Shift,
    explain_check,
    explain_job,
    name_cause,
    name_job,
    name_jobs,
    say_share,
    tell_check,
    tell_job,
    tell_stop,
)
from shiftlore.planning import Outcomes, PricedCheck, Stop, choose_step
from shiftlore.planning.beliefs import NOTHING_WRONG

ROWS = [("valve_body", 0.6, 300, "standing"), ("overhaul", 0.12, 900, "standing"), ("mount", 0.28, 80, "standing")]
FLAKES = Outcomes(("flakes", "clean"), np.array([[0.05, 0.95, 0.02], [0.95, 0.05, 0.98]]))


def _choice(check_cost=10.0):
    situation, belief = one_job_per_cause(ROWS, test_cost=20, comeback_cost=30, uncured_cost=3000)
    situation = situation.vary(checks=(PricedCheck("pan", check_cost, 20.0, "standing"),))
    oracle = TableOracle(situation.hypotheses, belief, {"pan": FLAKES})
    return choose_step(situation, oracle), belief


def test_explain_check__flakes_raise_the_overhaul_by_bayes():
    choice, belief = _choice()
    flakes = next(o for o in explain_check(choice, belief, "pan", FLAKES).outcomes if o.label == "flakes")
    shift = next(s for s in flakes.shifts if s.cause == "overhaul")
    # .12*.95 / (.6*.05 + .12*.95 + .28*.02)
    assert pytest.approx((0.12, 0.114 / 0.1496), abs=1e-9) == (shift.before, shift.after)


def test_explain_check__first_job_changes_with_the_answer():
    choice, belief = _choice()
    jobs = {outcome.label: outcome.jobs for outcome in explain_check(choice, belief, "pan", FLAKES).outcomes}
    assert ("overhaul",) == jobs["flakes"]
    assert "overhaul" not in jobs["clean"]


def test_explain_check__p_changes_and_saving():
    choice, belief = _choice()
    reason = explain_check(choice, belief, "pan", FLAKES)
    assert pytest.approx(0.1496, abs=1e-9) == reason.p_changes
    step = next(step for step in choice.steps if step.kind == "check")
    assert step.gross == pytest.approx(reason.saves, abs=1e-9)


def test_explain_check__answers_are_ordered_by_probability():
    choice, belief = _choice()
    assert ["clean", "flakes"] == [outcome.label for outcome in explain_check(choice, belief, "pan", FLAKES).outcomes]


def test_explain_check__an_idle_check_changes_nothing():
    situation, belief = one_job_per_cause(ROWS, test_cost=20, comeback_cost=30, uncured_cost=3000)
    situation = situation.vary(checks=(PricedCheck("idle", 0.0, 1.0, "standing"),))
    idle = Outcomes(("x", "y"), np.full((2, 3), 0.5))
    choice = choose_step(situation, TableOracle(situation.hypotheses, belief, {"idle": idle}))
    reason = explain_check(choice, belief, "idle", idle)
    assert (0.0, True) == (reason.p_changes, abs(reason.saves) < 1e-9)


def test_explain_job__aims_and_what_would_be_believed_after_failure():
    choice, belief = _choice()
    left = belief * (np.array(choice.outlook.situation.cures[0]) < 1) / 0.4
    reason = explain_job(choice, belief, ("valve_body",), lambda jobs: left)
    assert [("valve_body", 0.6, 1.0)] == [tuple(aim) for aim in reason.aims]
    assert pytest.approx(0.6, abs=1e-9) == reason.p_cured
    assert ("mount", 0.7) == (reason.if_not[0].cause, pytest.approx(reason.if_not[0].after, abs=1e-9))


def test_explain_job__a_sure_cure_leaves_nothing_to_believe():
    choice, belief = _choice()
    assert () == explain_job(choice, np.array([1.0, 0.0, 0.0]), ("valve_body",), lambda jobs: belief).if_not


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
    assert slipping().expansion.name_answer("slips", "yes").endswith(": yes")


def _reason(dropped=(), added=()):
    cause = next(iter(unit_of().expansion.causes))
    outcome = OutcomeReason("x", 0.3, (Shift(cause, 0.12, 0.61),), ("overhaul",), dropped, added, 900.0, 20.0)
    return cause, CheckReason((outcome,), 0.3, 20.0)


def test_tell_check__percentages_and_the_job_that_falls_away():
    cause, reason = _reason(dropped=("plain_service",))
    told = tell_check(slipping(), reason, {"x": {"slips": "yes"}})
    assert told.startswith("Most telling result (1 of 3): ")
    assert f'"{unit_of().expansion.causes[cause].label}" rises from 12 to 61 %' in told
    assert told.endswith("drops out.")


def test_tell_check__a_result_that_hardly_ever_shows_is_called_rare():
    _, reason = _reason()
    rare = CheckReason((reason.outcomes[0].vary(p=0.01),), 0.3, 20.0)
    assert tell_check(slipping(), rare, {}).startswith("Most telling result (rare): x.")


def test_tell_check__what_moves_nothing_is_given_no_number():
    """It was said that a result lets a cause rise from 29 to 29 %."""
    cause, reason = _reason(dropped=("plain_service",))
    idle = CheckReason((reason.outcomes[0].vary(shifts=(Shift(cause, 0.29, 0.291),)),), 0.0, 0.0)
    told = tell_check(slipping(), idle, {})
    assert "%" not in told and "next to nothing" in told and "may show what nobody thought of" in told


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
    assert told.startswith("No check saves much more than it costs: the best work is ") and "86 %" in told


def test_tell_stop__work_that_seldom_cures_is_not_called_the_best():
    told = tell_stop(slipping(), Stop(True, "no_check_pays", ("overhaul",), 0.09, 3000.0, "pan_drop", -5.0))
    assert "best work" not in told and "does in 9 %" in told


def test_tell_job__after_a_failure_the_work_itself_is_suspected():
    cause, other = list(unit_of().expansion.causes)[:2]
    aimed = ((cause, 0.6, 0.9),)
    own = tell_job(slipping(), JobReason(aimed, 0.54, (Shift(cause, 0.6, 0.5),), None))
    assert own.endswith("look at the work first.")
    assert "look at the work" not in tell_job(slipping(), JobReason(aimed, 0.54, (Shift(other, 0.2, 0.7),), None))


@pytest.mark.parametrize(
    ("p", "words"), [(0.48, "1 of 2"), (0.09, "1 of 10"), (0.02, "hardly any"), (0.96, "nearly all")]
)
def test_say_share__as_people_say_it(p, words):
    assert words == say_share(p)


def test_tell_stop__leaving_it():
    told = tell_stop(slipping(), Stop(True, "no_check_left", (), 0.0, 3000.0, None, 0.0))
    assert "leaving it as it is" in told


def test_explain_check__what_nobody_would_begin_with_does_not_drop_out():
    """To explain to an owner that nothing is broken is no work that dark oil takes off a list."""
    situation, belief = one_job_per_cause(ROWS, uncured_cost=800)
    situation = situation.vary(checks=(PricedCheck("pan", 10.0, 20.0, "standing"),))
    choice = choose_step(situation, TableOracle(situation.hypotheses, belief, {"pan": FLAKES}))
    dropped = [one.dropped for one in explain_check(choice, belief, "pan", FLAKES).outcomes]
    assert any("valve_body" in names for names in dropped)
    jobs = tuple(job.vary(least=0.01 * (job.id == "valve_body")) for job in situation.jobs)
    unasked = choice.vary(outlook=choice.outlook.vary(situation=situation.vary(jobs=jobs)))
    without = [tuple(name for name in names if name != "valve_body") for names in dropped]
    assert without == [one.dropped for one in explain_check(unasked, belief, "pan", FLAKES).outcomes]
