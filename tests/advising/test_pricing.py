"""Prices in a shop."""

import pytest
from support.trade import shipped

from shiftlore.advising.pricing import PriceSpan, price_job, price_labour, price_needs
from shiftlore.knowledge import Need


def test_price_labour__by_the_hour():
    shop = shipped().shop
    assert pytest.approx(shop.labour_per_hour / 2, abs=1e-9) == price_labour(shop, 30)


def test_price_needs__count_times_price():
    price = shipped().prices["atf_litre"]
    span = price_needs(shipped(), [Need("atf_litre", 6)])
    assert pytest.approx((6 * price.low, 6 * price.typical, 6 * price.high), abs=1e-9) == (
        span.low, span.typical, span.high
    )


def test_price_needs__what_the_book_does_not_hold_counts_nothing():
    assert PriceSpan() == price_needs(shipped(), [Need("no_such_thing", 3)])


def test_price_job__follow_ups_are_in_time_and_money():
    job = shipped().jobs["plain_service"]
    follow_ups = sum(shipped().follow_ups[name].minutes for name in job.follow_ups)
    cost, minutes, parts = price_job(shipped(), shipped().shop, job)
    assert job.minutes + follow_ups == minutes
    assert pytest.approx(price_labour(shipped().shop, minutes) + parts.typical, abs=1e-9) == cost


def test_plus__adds_both_ends():
    assert PriceSpan(4, 6, 8) == PriceSpan(1, 2, 3).plus(PriceSpan(3, 4, 5))
