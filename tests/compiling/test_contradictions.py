"""Which answers cannot both be so."""

import pytest
from support.trade import compiled_of, unit_of

from shiftlore.compiling import Observation, is_moot, is_ruled_out, list_clashes
from shiftlore.compiling.contradictions import join_parts


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        ({"no_drive_any": "yes", "no_reverse": "no"}, {("no_drive_any", "no_reverse")}),
        ({"no_drive_any": "yes", "no_reverse": "yes"}, set()),
        ({"no_drive_any": "yes", "slips_gear_3": "yes"}, {("no_drive_any", "slips_gear_3")}),
        ({"no_drive_any": "yes", "park_does_not_hold": "yes"}, set()),
        ({"no_drive_any": "yes", "drives_in_neutral": "yes"}, {("no_drive_any", "drives_in_neutral")}),
        ({"noise_any": "no", "noise_whine": "yes"}, {("noise_any", "noise_whine")}),
        ({"noise_any": "yes", "noise_whine": "no"}, set()),
        ({"tcc_never_applies": "yes", "tcc_late": "yes"}, {("tcc_never_applies", "tcc_late")}),
        ({"no_reverse": "yes", "engage_delay_reverse": "long"}, {("no_reverse", "engage_delay_reverse")}),
        ({"no_reverse": "yes", "engage_delay_reverse": "prompt", "P9999": "yes"}, set()),
        ({"code_misfire": "yes", "engine_codes": "no"}, {("code_misfire", "engine_codes")}),
        ({"no_drive_forward": "yes", "drive_normal_manual": "yes"}, set()),  # what a one-way clutch that gave way shows
    ],
)
def test_list_clashes__pairs_that_the_rules_set_against_each_other(
    given: dict[str, str], expected: set[tuple[str, str]]
) -> None:
    assert expected == list_clashes(unit_of("long5").expansion, given)


def test_is_moot__what_a_yes_could_not_be_or_a_no_would_not_say() -> None:
    """Beside a lost forward drive it was asked which gears are missing, and whether it moves neither way."""
    expansion, given = unit_of("trans4").expansion, {"no_drive_forward": "yes", "no_reverse": "no"}
    for moot in ("no_drive_any", "gear_missing_2", "shift_harsh_any"):
        assert is_moot(expansion, given, moot)
        assert not is_moot(expansion, {"slips": "yes"}, moot)
    for left in ("reverse_slips", "warning_lamp", "range_will_not_select"):
        assert not is_moot(expansion, given, left)


@pytest.mark.parametrize("unit", ["trans4", "trans6", "step-fwd"])
def test_is_moot__held_gears_are_asked_after_where_it_does_not_go_in_drive(unit: str) -> None:
    """It tells a one-way clutch from a worn forward clutch, and nobody asked."""
    assert not is_moot(unit_of(unit).expansion, {"no_drive_forward": "yes"}, "drive_normal_manual")


@pytest.mark.parametrize("unit", ["step-fwd", "trans6", "cvt", "dct7"])
def test_is_ruled_out__a_broken_shaft_neither_drives_nor_holds_in_park(unit: str) -> None:
    """It was said that the two do not go together, and the answer that tells most would have been taken back."""
    expansion = unit_of(unit).expansion
    assert not is_ruled_out(expansion, "no_drive_any", "park_does_not_hold")
    assert not is_moot(expansion, {"no_drive_any": "yes"}, "park_does_not_hold")
    assert is_ruled_out(expansion, "no_drive_any", "slips") and not is_ruled_out(expansion, "slips", "no_drive_any")


@pytest.mark.parametrize("unit", ["long8", "trans4", "dct"])
@pytest.mark.parametrize(
    "told", [{"no_drive_forward", "no_reverse"}, {"no_drive_any", "no_reverse"}, {"no_drive_forward", "no_drive_any"}]
)
def test_join_parts__neither_forward_nor_back_says_that_it_does_not_move_at_all(unit: str, told: set[str]) -> None:
    """Common practice: pump, fluid, lever or a shaft, not the two brakes that serve both ranges."""
    whole, parts = (compiled_of(dict.fromkeys(sorted(keys), "yes"), unit) for keys in ({"no_drive_any"}, told))
    assert {"no_drive_any"} == {one.finding for one in parts.answers}
    assert whole.evidence == parts.evidence


def test_join_parts__one_part_or_a_denied_whole_stays_and_the_least_sure_part_counts() -> None:
    expansion, wholes = unit_of("long8").expansion, unit_of("long8").wholes
    forward, back = (Observation(key, "yes", p) for key, p in (("no_drive_forward", 0.8), ("no_reverse", 1.0)))
    assert (forward,) == join_parts(expansion, wholes, (forward,))
    denied = (forward, back, Observation("no_drive_any", "no"))
    assert denied == join_parts(expansion, wholes, denied)
    assert (0.8,) == tuple(one.p_right for one in join_parts(expansion, wholes, (forward, back)))
