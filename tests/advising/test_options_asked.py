"""What an owner asks for by name."""

from dataclasses import replace

import pytest
from support.offers import compiled, offered, view
from support.trade import compiled_of, slipping

from shiftlore.advising import offer_options
from shiftlore.advising.options_asked import (
    find_asked,
    find_left_out,
    find_stopgap,
    list_services,
    name_asked,
    pick_asked,
)
from shiftlore.advising.options_candidates import Candidate, make_candidate
from shiftlore.advising.options_outlook import look_ahead
from shiftlore.basics import UnknownId, UsageProblem
from shiftlore.cases import Done


def plain_services() -> set[str]:
    """Jobs of the kind service that need parts and are made for no one cause, by id."""
    records = compiled().expansion.jobs.items()
    return {job for job, record in records if record.kind == "service" and record.parts and not record.made_for}


def test_find_asked__prices_it_as_any_option() -> None:
    option = next(option for option in offered().options if len(option.jobs) == 1 and not option.checks)
    found = find_asked(view(), option.jobs[0])
    assert (option.cost, option.p_cured) == (found.cost, found.p_cured)


def test_find_asked__a_template_stands_for_its_likeliest_instance() -> None:
    expansion, able = compiled().expansion, view().cures.offered
    template = next(it for job, it in expansion.job_templates.items() if it != job and job in able)
    members = [job for job, it in expansion.job_templates.items() if it == template and job in able]
    assert len(members) > 1
    assert max(view().cures.p_cured((job,)) for job in members) == find_asked(view(), template).p_cured


def test_find_asked__an_unknown_job_names_the_nearest() -> None:
    job = next(iter(compiled().expansion.jobs))
    with pytest.raises(UnknownId, match=job):
        find_asked(view(), job + "x")


def test_find_asked__what_was_done_already_is_not_offered_again() -> None:
    job = next(iter(plain_services()))
    with pytest.raises(UsageProblem, match="done on this vehicle already"):
        offer_options(slipping(done=(Done(job, "not_cured"),)), asked=(job,))


def test_find_asked__another_unit_is_not_fitted_behind_a_cooler_that_lets_coolant_in() -> None:
    with pytest.raises(UsageProblem, match="not done with this: Fluid milky"):
        find_asked(view("milky"), "exchange_unit")
    assert find_asked(view("slips"), "exchange_unit").p_cured > 0.5


def test_find_asked__tools_that_are_missing_are_named() -> None:
    shop = compiled().knowledge.shop
    assert shop is not None
    job, record = next(item for item in compiled().expansion.jobs.items() if item[1].tools)
    with pytest.raises(UsageProblem, match=f"lacks .*{record.tools[0]}"):
        offer_options(compiled(), shop.vary(tools=()), asked=(job,))


def test_find_left_out__only_where_no_service_is_offered() -> None:
    service = find_asked(view(), next(iter(plain_services())))
    assert find_left_out(view(), [service]) is None
    left = find_left_out(view(), [])
    assert left is not None and set(left.jobs) <= plain_services() and not left.beaten


def test_find_left_out__beaten_by_what_costs_no_more_and_helps_as_often() -> None:
    left = find_left_out(view(), [])
    assert left is not None
    rival = next(job for job in view().cures.offered if compiled().expansion.jobs[job].kind == "part")
    better = Candidate((rival,), "job", left.cost, left.p_cured)
    assert getattr(find_left_out(view(), [better]), "beaten", None) is True
    worse = replace(better, p_cured=left.p_cured / 2)
    assert getattr(find_left_out(view(), [worse]), "beaten", None) is False


@pytest.mark.parametrize("name", ["slips", "harsh"])
def test_offer_options__the_plain_service_is_always_answered(name: str) -> None:
    """Owners ask for it first (common practice)."""
    found = offered(name)
    listed = any(set(option.jobs) & plain_services() for option in found.options)
    assert listed == (found.left_out is None)


def test_offer_options__what_is_asked_for_is_listed_and_marked() -> None:
    known = {option.id for option in offered().options}
    job = min((job for job in view().cures.offered if job not in known), key=lambda job: view().cures.p_cured((job,)))
    found = offer_options(compiled(), asked=(job, job))
    assert [job] == [option.id for option in found.options if option.asked]
    assert known <= {option.id for option in found.options}
    assert not any(option.asked for option in offered().options)


def test_list_services__the_plainest_first() -> None:
    found = list_services(compiled(), view().cures.offered)
    within = compiled().knowledge.jobs_within
    assert set(found) == plain_services() & set(view().cures.offered)
    assert not within(found[0]) & set(found) and any(found[0] in within(job) for job in found[1:])


def test_pick_asked__of_jobs_of_one_name_the_one_that_this_shop_can_do() -> None:
    jobs, shop = compiled().knowledge.jobs, compiled().knowledge.shop
    machine, lines = "fluid_exchange_machine", "fluid_exchange_lines"
    assert shop is not None and not shop.has(jobs[machine].tools) and shop.has(jobs[lines].tools)
    hits = [(machine, jobs[machine].label), (lines, jobs[lines].label)]
    assert lines == pick_asked(compiled(), "whole fill exchanged", hits)
    assert machine == pick_asked(compiled(), "exchanged by machine", hits)
    assert machine == pick_asked(compiled(), "power flush", hits)
    assert "something" == pick_asked(compiled(), "something", [])


@pytest.mark.parametrize(
    ("unit", "service"), [("cvt", "cvt_service"), ("dct7", "dct_service"), ("long8", "plain_service")]
)
def test_list_services__the_plainest_is_that_of_the_unit(unit: str, service: str) -> None:
    """A dual clutch was told of water dried out: what is made for one cause is nobody's service."""
    asked = compiled_of({"slips": "yes"}, unit)
    assert service == list_services(asked, asked.expansion.jobs)[0]


def test_name_asked__what_no_words_name_or_nobody_does_is_said() -> None:
    """ "additive" was priced as an oil cooler and marked as asked for."""
    hits = [("plain_service", "Fluid and filter service")]
    assert "plain_service" == name_asked(compiled(), "fluid change", hits, [], "")
    with pytest.raises(UnknownId, match=r"No job here is called so\. Nearest: Fluid and filter service"):
        name_asked(compiled(), "something", [], ["Fluid and filter service"], "")
    with pytest.raises(UnknownId, match=r'"additive" is not offered\. Nobody does\.$'):
        name_asked(compiled(), "additive", hits, ["x"], "Nobody does.")


@pytest.mark.parametrize(("unit", "told", "named"), [
    ("trans4", {"leak_outside": "yes", "fluid_level": "low"}, True),
    ("step", {"leak_outside": "yes", "slips": "yes", "fluid_level": "low"}, True),
    ("long6", {"leak_outside": "yes", "fluid_milky": "yes"}, False),
    ("long6", {"shudder_light_throttle": "yes"}, False),
])  # fmt: skip
def test_find_stopgap__topping_up_where_it_leaks_and_only_there(unit, told, named) -> None:
    own = look_ahead(compiled_of(told, unit, odometer_km=230_000))
    dearest = max(own.cures.offered, key=lambda job: own.pricer.price_jobs((job,)).typical)
    found = find_stopgap(own, [make_candidate(own.pricer, own.cures, (dearest,))])
    assert (found is not None and ("level_correction",) == found.jobs) == named and (named or found is None)


def test_pick_asked__a_job_that_people_call_so_where_this_shop_has_no_tools_for_the_other() -> None:
    jobs = compiled().knowledge.jobs
    own, elsewhere = "software_update_own", "software_update_elsewhere"
    hits = [(own, jobs[own].label), (elsewhere, jobs[elsewhere].label)]
    assert elsewhere == pick_asked(compiled(), "software update", hits)


def test_find_asked__work_on_nothing_that_was_told_is_refused_with_that_reason() -> None:
    locked = look_ahead(compiled_of({"key_lock_wrong": "comes_out"}, "step-fwd"))
    without = replace(locked, cures=replace(locked.cures, offered=()))
    with pytest.raises(UsageProblem, match="nothing that was told comes from what it puts right"):
        find_asked(without, "used_unit_fit")
