"""`shiftlore next` and its "what if" options."""

from collections.abc import Callable

import pytest

from shiftlore.basics import UnknownId
from shiftlore.cases import Case
from shiftlore.cli.next_step import change_case, change_shop

CASE = "examples/mountain_minibus.yaml"


def knowledge() -> object:
    """Give the shipped knowledge."""
    from support.trade import shipped

    return shipped()


def test_change_shop__dearer_labour_and_a_missing_tool() -> None:
    shop = knowledge().shop  # type: ignore[attr-defined]
    tool = shop.tools[0]
    changed = change_shop(knowledge(), 250.0, (tool,))  # type: ignore[arg-type]
    assert changed is not None
    assert (250.0, False) == (changed.labour_per_hour, tool in changed.tools)
    assert tool in shop.tools, "the shop itself is left alone"


def test_change_shop__an_hour_is_named_without_the_tax() -> None:
    from dataclasses import replace

    taxed = replace(knowledge(), shop=replace(knowledge().shop, tax_percent=20.0))  # type: ignore[attr-defined, type-var]
    changed = change_shop(taxed, 100.0, ())  # type: ignore[arg-type]
    assert changed is not None and (120.0, ("parts",)) == (changed.labour_per_hour, changed.invented)


def test_change_shop__a_tool_that_nothing_uses() -> None:
    with pytest.raises(UnknownId, match="crystal_ball"):
        change_shop(knowledge(), None, ("crystal_ball",))  # type: ignore[arg-type]


def test_change_case__access_and_budget() -> None:
    case = change_case(knowledge(), Case("long5"), "pan_off", 300.0)  # type: ignore[arg-type]
    assert ("pan_off", 300.0) == (case.access, case.budget)
    with pytest.raises(UnknownId, match="pan_of"):
        change_case(knowledge(), Case("long5"), "pan_of", None)  # type: ignore[arg-type]


@pytest.mark.parametrize("arguments", [["--without", "crystal_ball"], ["--open", "pan_of"]])
def test_next__what_cannot_be_is_told(run: Callable, arguments: list[str]) -> None:
    ended = run("next", CASE, *arguments)
    assert (2, "") == (ended.code, ended.out)
    assert ended.err
