"""One option for the owner."""

from dataclasses import replace

import pytest
from support.offers import offered

from shiftlore.advising.options_records import NOTHING


@pytest.mark.parametrize(("check", "repair", "paid"), [(True, True, True), (True, False, False), (False, True, False)])
def test_is_paid__the_repair_after_a_check_included(check: bool, repair: bool, paid: bool) -> None:
    one = replace(offered().options[1], within_budget=check, repair_within_budget=repair)
    assert paid == one.is_paid


def test_option__doing_nothing_pays_and_cures_nothing() -> None:
    (nothing,) = (one for one in offered().options if one.kind == NOTHING)
    assert (NOTHING, 0.0, 0.0, 0.0) == (nothing.id, nothing.p_cured, nothing.paid_in_the_end, nothing.cured_in_the_end)
