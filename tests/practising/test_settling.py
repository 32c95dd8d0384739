"""Signs of one vehicle fit together: what is drawn each by itself is settled, and the least is changed."""

import pytest
from support.practice import exercise_of, undriven
from support.trade import shipped, unit_of

from shiftlore.practising.settling import find_ruling, name_closer, settle_signs, settle_vehicle

CABLE, MODULE = "lever_cable_misset", "shift_solenoid_sticks_sol_c"


def settled(causes: list[str], shown: list[str], kept: tuple[str, ...] = ()) -> set[str]:
    """Settle a vehicle that shows this and nothing else, and give what it then shows."""
    expansion = unit_of("long5").expansion
    readings = {name: int(name in shown) for name in expansion.findings}
    return {name for name, state in settle_signs(causes, expansion, readings, kept).items() if state}


def test_settle_signs__the_display_shows_what_the_module_reads_of_the_lever() -> None:
    both = {"display_wrong", "range_signal_differs"}
    for one in both:
        assert both == settled([CABLE], [one])


def test_settle_signs__two_views_stay_apart_where_a_cause_shows_in_one_alone() -> None:
    """The linkage state of a module without program shows in the display alone."""
    assert {"display_wrong"} == settled(["module_wrong_or_unprogrammed"], ["display_wrong"])


def test_settle_signs__what_is_kept_decides() -> None:
    assert set() == settled([CABLE], ["display_wrong"], kept=("range_signal_differs",))


@pytest.mark.parametrize(
    ("shown", "expected"),
    [
        (["tcc_never_applies", "tcc_late"], {"tcc_never_applies"}),
        (["no_drive_forward", "no_reverse"], {"no_drive_any", "no_drive_forward", "no_reverse"}),
        (["no_drive_any", "slips_gear_3"], {"no_drive_any", "no_drive_forward", "no_reverse"}),
        (
            ["no_drive_any", "park_does_not_hold"],
            {"no_drive_any", "park_does_not_hold", "no_drive_forward", "no_reverse"},
        ),
        (["no_reverse", "reverse_slips", "slips_gear_3"], {"no_reverse", "slips_gear_3"}),
        (["no_drive_forward", "shift_harsh_2_3", "reverse_slips"], {"no_drive_forward", "reverse_slips"}),
        (["code_misfire"], {"code_misfire", "engine_codes"}),
        (["slips", "warning_lamp"], {"slips", "warning_lamp"}),
    ],
)
def test_settle_signs__what_rules_another_out_and_what_says_another_too(shown: list[str], expected: set[str]) -> None:
    assert expected == settled([MODULE], shown)


def test_settle_vehicle__it_comes_in_with_what_it_shows() -> None:
    for seed in range(8):
        exercise = undriven(4, seed)
        vehicle, records = exercise.vehicle, exercise.bench.compiled.expansion.finding_records
        assert {*vehicle.complaints} == {k for k, v in vehicle.readings.items() if v and records[k].complaint}
        again = settle_vehicle(exercise.bench.compiled, vehicle)
        assert again.readings == vehicle.readings


def test_name_closer__of_a_noise_that_was_not_drawn_the_whine_that_was() -> None:
    expansion, readings = unit_of("long5").expansion, dict.fromkeys(exercise_of().vehicle.readings, 0)
    assert ("noise_any",) == name_closer(expansion, readings, "noise_any")
    assert ("noise_whine",) == name_closer(expansion, readings | {"noise_whine": 1}, "noise_any")
    assert ("noise_any",) == name_closer(expansion, readings | {"noise_whine": 1, "noise_any": 1}, "noise_any")


def test_find_ruling__of_a_vehicle_without_reverse_it_is_said_that_there_is_none() -> None:
    expansion = unit_of("long5").expansion
    assert "no_reverse" == find_ruling(expansion, {"slips": 1, "no_reverse": 1}, "engage_delay_reverse")
    assert find_ruling(expansion, {"slips": 1, "no_reverse": 0}, "engage_delay_reverse") is None
    assert "no_drive_any" == find_ruling(expansion, {"no_drive_any": 1}, "no_reverse")


def test_shipped__nothing_says_that_another_is_there_and_not() -> None:
    for record in shipped().findings.values():
        assert not {*record.never_with} & {*record.includes, *record.shows_with}
        assert record.id not in record.never_with
