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


def test_as_milder__what_is_so_under_that_condition_alone_stands_as_the_milder_finding() -> None:
    milder = {"drives when cold": "pulls"}
    told = {key: Case("u", complaint=("drives",), findings={"drives": Answer("drives", "yes", when=when)})
            for key, when in (("cold", ("cold",)), ("both", ("cold", "hot")), ("always", ()))}  # fmt: skip
    mild = told["cold"].as_milder(milder)
    assert (("pulls",), {"pulls": Answer("pulls", "yes", when=("cold",))}) == (mild.complaint, dict(mild.findings))
    assert all(told[key].as_milder(milder) is told[key] for key in ("both", "always")) and mild.as_milder({}) is mild


def test_with_done__of_a_job_done_twice_the_last_time_is_told_anew():
    first, second = Done("pan_service", "came_back", after_days=20), Done("pan_service")
    case = Case("step", done=(first, Done("module_scan"), second))
    assert (first, Done("module_scan"), Done("pan_service", "not_cured")) == case.with_done(
        Done("pan_service", "not_cured")
    ).done
    assert (*case.done, Done("fluid_look")) == case.with_done(Done("fluid_look")).done


def test_without_last__leaves_what_was_done_the_time_before():
    first = Done("pan_service", "came_back")
    case = Case("step", done=(first, Done("band_adjust"), Done("pan_service", "cured")))
    assert (first, Done("band_adjust")) == case.without_last(["pan_service"]).done
