"""The checks and jobs that typed words name; what is ordered in a shop and how is common practice."""

import pytest
from support.trade import compiled_of

from shiftlore.sessions.naming_steps import find_steps, read_order
from shiftlore.sessions.questions import MOST_NAMED


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("pan_drop", ("check", ("pan_drop",))),
        ("drop the pan", ("check", ("pan_drop",))),
        ("pan", ("check", ("pan_drop",))),
        ("stall test", ("check", ("stall_test",))),
        ("line pressure", ("check", ("line_pressure_gauge",))),
        ("overhaul", ("job", ("overhaul",))),
    ],
)
def test_find_steps__by_id_or_in_words(text: str, first: tuple[str, tuple[str, ...]]) -> None:
    found, is_clear = find_steps(compiled_of(), text)
    assert (first, True) == (found[0], is_clear)
    assert len(found) <= MOST_NAMED


@pytest.mark.parametrize("text", ["my dog barks", "fluid is amber", "bangs into second"])
def test_find_steps__what_names_none_is_not_clear(text: str) -> None:
    assert not find_steps(compiled_of(), text)[1]


def test_find_steps__a_job_per_part_is_offered_part_by_part() -> None:
    compiled = compiled_of()
    found, _ = find_steps(compiled, "solenoid exchanged")
    jobs = [ids[0] for kind, ids in found if kind == "job"]
    assert jobs and set(jobs) <= set(compiled.expansion.jobs)


@pytest.mark.parametrize(
    ("unit", "text", "first"),
    [
        ("dct7", "replace gearbox", "exchange_unit_dct"),
        ("cvt", "replace gearbox", "exchange_unit_cvt"),
        ("long5", "swap the gearbox", "exchange_unit"),
        ("cvt", "replace belt", "cvt_belt_and_pulleys"),
        ("long5", "please replace the torque converter", "converter_exchange_job"),
        ("long5", "replace pump", "pump_exchange"),
        ("long5", "replace battery", "battery_renew"),
        ("long5", "look at the mounts", "mount_look"),
        ("long5", "do a stall test", "stall_test"),
    ],
)
def test_find_steps__an_order_names_what_has_to_do_with_its_part(unit: str, text: str, first: str) -> None:
    found, is_clear = find_steps(compiled_of(unit=unit), text)
    assert ((first,), True) == (found[0][1], is_clear)


@pytest.mark.parametrize(
    ("unit", "text"),
    [("dct7", "used gearbox"), ("dct7", "overhaul"), ("dct7", "replace torque converter"), ("cvt", "overhaul")],
)
def test_find_steps__what_only_another_unit_has_is_not_clear(unit: str, text: str) -> None:
    assert not find_steps(compiled_of(unit=unit), text)[1]


def test_read_order__gives_the_kind_of_step_and_the_words_from_there_on() -> None:
    assert ("job", "replace the pump") == read_order(compiled_of(), "please replace the pump")
    assert ("check", "test the battery") == read_order(compiled_of(), "let's test the battery")
    assert ("", "slips in third") == read_order(compiled_of(), "it slips in third")
