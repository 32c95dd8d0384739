"""What is offered to the owner."""

import pytest
from support.offers import compiled, offered
from support.trade import slipping

from shiftlore.advising import offer_options
from shiftlore.advising.offering import CHECK_FIRST, NOTHING
from shiftlore.basics import UsageProblem
from shiftlore.cases import Done

CASES = ["slips", "harsh"]


@pytest.mark.parametrize("name", CASES)
def test_offer_options__doing_nothing_and_a_check_are_always_there(name: str) -> None:
    assert [NOTHING, CHECK_FIRST] == [option.id for option in offered(name).options[:2]]


@pytest.mark.parametrize("name", CASES)
def test_offer_options__three_to_six_that_differ(name: str) -> None:
    options = offered(name).options
    assert 3 <= len(options) <= 6
    assert len(options) == len({option.jobs or option.id for option in options if option.kind != "check"}) + 1


@pytest.mark.parametrize("name", CASES)
def test_offer_options__the_offered_jobs_are_on_the_frontier(name: str) -> None:
    """A dearer job must cure more often: else it would have been dropped."""
    jobs = [option for option in offered(name).options if option.kind not in ("nothing", "check")]
    chances = [option.p_cured for option in sorted(jobs, key=lambda option: option.cost.typical)]
    assert chances == sorted(chances)
    assert all(option.on_frontier for option in jobs)


@pytest.mark.parametrize("name", CASES)
def test_offer_options__the_advice_has_the_lowest_total(name: str) -> None:
    options = offered(name).options
    advised = [option for option in options if option.advised]
    assert [offered(name).advised] == [option.id for option in advised]
    assert advised[0].expected_total == min(option.expected_total for option in options)


@pytest.mark.parametrize("name", CASES)
def test_offer_options__prices_and_chances_are_in_order(name: str) -> None:
    for option in offered(name).options:
        assert option.cost.low <= option.cost.typical <= option.cost.high
        assert 0 <= option.p_cured_low <= option.p_cured <= option.p_cured_high <= 1
        assert option.expected_total >= option.first_cost.typical or option.kind == "nothing"


def test_offer_options__every_job_says_what_follows_and_what_is_not_covered() -> None:
    jobs = [option for option in offered().options if option.kind not in ("nothing", "check")]
    assert all(option.not_covered and option.days > 0 and option.if_nothing_done for option in jobs)
    assert any(option.follow_ups for option in jobs) and any(option.cautions for option in jobs)


def test_offer_options__programming_is_for_an_equipped_shop() -> None:
    found = {item.id: item.who for option in offered().options for item in option.follow_ups}
    assert "equipped_shop" == found.get("programming", "equipped_shop")


def test_offer_options__a_budget_marks_what_fits_and_changes_no_total() -> None:
    free, bound = offered("slips"), offered("slips", 600.0)
    assert [o.expected_total for o in free.options][:2] == pytest.approx([o.expected_total for o in bound.options][:2])
    for option in bound.options:
        price = option.first_cost.typical if option.kind == "check" else option.cost.typical
        assert option.within_budget == (price <= 600)


def test_offer_options__the_best_that_a_budget_buys_is_the_best_that_fits() -> None:
    found = offered("slips", 2500.0)
    fits = [o for o in found.options if o.within_budget and o.kind not in ("nothing", "check")]
    assert found.budget is not None
    assert max(fits, key=lambda option: option.p_cured).id == found.budget.option


def test_offer_options__a_few_coins_buy_nothing_and_that_is_said() -> None:
    budget = offered("slips", 1.0).budget
    assert budget is not None and budget.buys_little
    assert (NOTHING, 0.0) == (budget.option, budget.p_cured)
    assert "buys no repair" in budget.says


def test_offer_options__is_the_same_each_time() -> None:
    again = offer_options(compiled())
    assert [o.p_cured_low for o in offered().options] == [o.p_cured_low for o in again.options]


def test_offer_options__what_comes_next_costs_less_ordered_together() -> None:
    after = [option.if_not_cured for option in offered().options if option.if_not_cured]
    assert after and all(item.saved_together >= 0 for item in after)


def test_offer_options__areas_are_sorted() -> None:
    p = [area.probability for area in offered().areas]
    assert p and p == sorted(p, reverse=True)


@pytest.mark.parametrize("name", CASES)
def test_offer_options__every_price_is_the_sum_of_its_lines(name: str) -> None:
    for option in offered(name).options:
        if option.kind not in ("nothing", "check"):
            assert option.cost.typical == pytest.approx(sum(line.typical for line in option.cost.lines), abs=1e-9)
            assert option.cost.low <= option.cost.typical <= option.cost.high


@pytest.mark.parametrize("name", CASES)
def test_offer_options__exactly_one_is_advised_and_it_is_the_cheapest_in_the_end(name: str) -> None:
    found = offered(name)
    (advised,) = [option for option in found.options if option.advised]
    assert found.advised == advised.id
    assert advised.expected_total == pytest.approx(min(option.expected_total for option in found.options), abs=1e-9)


@pytest.mark.parametrize("name", CASES)
def test_offer_options__jobs_that_are_done_alone_stand_in_no_bundle(name: str) -> None:
    jobs = compiled(name).expansion.jobs
    bundles = [option.jobs for option in offered(name).options if option.kind == "bundle"]
    assert bundles and not any(jobs[job].alone for bundle in bundles for job in bundle)


@pytest.mark.parametrize("name", CASES)
def test_offer_options__what_need_not_be_done_again_is_flagged_and_was_done_before(name: str) -> None:
    knowledge, jobs = compiled(name).knowledge, compiled(name).expansion.jobs
    for option in offered(name).options:
        after = option.if_not_cured
        if after is not None:
            done = {follow_up for job in option.jobs for follow_up in jobs[job].follow_ups}
            assert all(knowledge.follow_ups[paid].lasting and paid in done for paid in after.already_paid)


@pytest.mark.parametrize("name", CASES)
def test_offer_options__chances_lie_within_their_spread(name: str) -> None:
    for option in offered(name).options:
        assert 0.0 <= option.p_cured_low <= option.p_cured <= option.p_cured_high <= 1.0


@pytest.mark.parametrize("name", CASES)
def test_offer_options__a_larger_budget_fits_no_fewer_options(name: str) -> None:
    small, large = (offered(name, budget).options for budget in (300.0, 3000.0))
    fits = {option.id for option in small if option.within_budget}
    assert fits <= {option.id for option in large if option.within_budget} | {
        option.id for option in small if option.id not in {o.id for o in large}
    }


def test_offer_options__a_cured_vehicle_is_offered_nothing():
    with pytest.raises(UsageProblem, match="cured it: the case is closed"):
        offer_options(slipping(done=(Done("overhaul", "cured"),)))
