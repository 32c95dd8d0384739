"""A case compares by what it says, not by where that stands."""

from shiftlore.basics import Mark
from shiftlore.cases import Answer, Case, Done


def test_case__marks_do_not_count():
    assert Case("long5", marks={("unit",): Mark("a", 1, 1)}) == Case("long5")


def test_answer__doubt_counts():
    assert Answer("burnt", "yes", "think_so") != Answer("burnt", "yes")


def test_done_ids__lists_checks_and_jobs_in_order():
    assert ("pan_drop", "service") == Case("long5", done=(Done("pan_drop"), Done("service", "cured"))).done_ids


def test_with_done__the_new_entry_takes_the_place_of_the_old():
    case = Case("long5", done=(Done("service"), Done("pan_drop")))
    assert (Done("service", "not_cured"), Done("pan_drop")) == case.with_done(Done("service", "not_cured")).done


def test_with_findings__before_any_job_they_stand_with_the_others():
    case = Case("long5", findings={"burnt": Answer("burnt", "yes")}, done=(Done("pan_drop"),))
    more = case.with_findings({"slips": Answer("slips", "no")})
    assert ["burnt", "slips"] == list(more.findings) and more.done == case.done


def test_with_findings__after_a_job_in_vain_they_stand_with_that_job():
    case = Case("long5", done=(Done("service", "not_cured"), Done("overhaul", "came_back"), Done("pan_drop")))
    more = case.with_findings({"slips": Answer("slips", "no")})
    assert ({}, "no") == (more.findings, more.done[1].found_after["slips"].grade)
