"""The end of a case: read, written, and what in it cannot be."""

import pytest
from support.trade import shipped

import shiftlore
from shiftlore.basics import CaseError
from shiftlore.cases import Case, Outcome, read_day, render_case

HEAD = "shiftlore: 1\nunit: long6\n"
WHOLE = Outcome(
    ("pump_worn",), "cured", jobs=("plain_service",), result="came_back", minutes=210.0, spent=640.5, after_km=8000.0,
    closed_on="2026-03-02", id="01234567890123456789",
)  # fmt: skip


def read(outcome: str) -> Case:
    return shiftlore.read_case(f"{HEAD}outcome: {outcome}\n", shipped())


def test_read_outcome__what_is_written_is_read() -> None:
    case = Case("long6", outcome=WHOLE)
    text = render_case(case)
    assert (
        'outcome: {causes: [pump_worn], confirmed: cured, jobs: [plain_service], result: came_back, minutes: 210, spent: 640.5, '
        'after_km: 8000, closed_on: "2026-03-02", id: "01234567890123456789"}\n'
    ) in text  # fmt: skip
    assert WHOLE == shiftlore.read_case(text, shipped()).outcome


def test_read_outcome__as_it_was_before_there_was_more() -> None:
    assert Outcome(("pump_worn",), "seen") == read("{causes: [pump_worn], confirmed: seen}").outcome
    assert "outcome: {causes: [pump_worn], confirmed: seen}\n" in render_case(
        read("{causes: [pump_worn], confirmed: seen}")
    )
    assert Outcome(()) == read("{causes: []}").outcome


@pytest.mark.parametrize(
    ("outcome", "says"),
    [
        (
            '{causes: [], closed_on: "2.3.2026"}',
            '3:34: error C035: "2.3.2026" is no date.\n    Write year, month and day',
        ),
        ("{causes: [], closed_on: 2026-03-02}", 'as a date, not as the word.\n    Write it in quotes: "2026-03-02".'),
        (
            '{causes: [], id: "x"}',
            '3:27: error C036: "x" is no id of the casebook.\n    Take it out; `shiftlore close`',
        ),
        ("{causes: [], result: cured, after_km: 3}", "error C023: after_km is of a fault that came back"),
        ("{causes: [], result: better}", 'Unknown result "better"'),
        ("{causes: [], minutes: -1}", 'error C016: "-1" is out of range'),
        ("{causes: [], spent: much}", "error C0"),
        ("{causes: [], jobs: [plain_servce]}", 'error C020: There is no job "plain_servce"'),
        ("{causes: [pump_wron]}", 'error C020: There is no cause "pump_wron"'),
        ("{causes: [], minuts: 3}", "Did you mean minutes?"),
    ],
)
def test_read_outcome__tells_the_place_and_what_to_write(outcome: str, says: str) -> None:
    with pytest.raises(CaseError) as told:
        read(outcome)
    assert says in str(told.value)


@pytest.mark.parametrize("text", ["", "2026-3-2", "20260302", "2026-W10-1", "2026-02-30", "2026-03-02T00:00"])
def test_read_day__takes_one_way_of_writing(text: str) -> None:
    assert read_day(text) is None and read_day("2026-03-02") is not None
