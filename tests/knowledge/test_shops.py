"""A shop's own record: what it has at hand or can borrow."""

from dataclasses import replace

from support.trade import shipped

SHOP = replace(shipped().shop, tools=("jack", "meter"), tools_borrowed=("press",))


def test_has__what_is_at_hand_and_what_can_be_borrowed() -> None:
    assert SHOP.has(["jack"]) and SHOP.has(["press", "meter"])


def test_has__nothing_is_needed() -> None:
    assert SHOP.has([])


def test_has__one_tool_that_is_missing_is_enough() -> None:
    assert not SHOP.has(["jack", "crane"])
