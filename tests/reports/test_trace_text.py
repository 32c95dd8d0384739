from dataclasses import replace
from functools import cache

import pytest
from support.drives import make_columns, sound_trace, trace_columns

from shiftlore.reports.trace_text import (
    draw_plot,
    group_labels,
    group_untold,
    list_telling,
    render_trace,
    say_columns,
    say_figure,
)
from shiftlore.tracing import NOT_STATED, Added, TakenColumn, Trace
from shiftlore.tracing.recordings import RefusedRows


@cache
def faulty() -> Trace:
    """Give the trace of a drive with three faults."""
    made = make_columns(rounds=3, rate_hz=25, slip={2: 250}, lock_slip=75)
    made["output_rpm"][700:710] = 0.0
    return trace_columns(made)


def test_render_trace__fits_80_columns_and_holds_no_box() -> None:
    for trace in (sound_trace(), faulty()):
        text = render_trace(trace)
        assert max(map(len, text.split("\n"))) <= 80
        assert text.isascii()


@pytest.mark.parametrize("width", [50, 100])
def test_render_trace__fits_any_screen(width: int) -> None:
    assert max(map(len, render_trace(faulty(), width).split("\n"))) <= width


def test_render_trace__answers_in_order_with_figure_interval_and_place() -> None:
    text = " ".join(render_trace(faulty()).split())
    assert "Converter clutch by scan: applies but slips. Measured 75 rpm" in text
    assert "Slip in gear 3 by scan: yes. Measured 250 rpm (250 to 250), 42 samples; sure. First at" in text
    assert "Output speed sensor signal drops out: yes. Measured 1 time, 1 sample; sure." in text
    assert [f"{number}. " in text for number in range(1, len(list_telling(faulty())) + 1)]


def test_render_trace__how_long_each_shift_took() -> None:
    """The drive goes three times through its gears, and changes from one to the next in 0.4 s."""
    lines = render_trace(sound_trace()).split("\n")
    table = lines[lines.index("Shifts") + 1 :]
    assert ["1-2", "3"] == table[1].split()[:2]
    assert pytest.approx(0.84 * 0.4, abs=0.09) == float(table[1].split()[2])


def test_group_untold__what_was_measured_and_has_no_limit_is_told_with_its_figure() -> None:
    trace = replace(sound_trace(), names={"stall_speed_drive": "Stall speed in Drive"})
    found = group_untold({"stall_speed_drive": (NOT_STATED, "2174 rpm")}, trace)
    assert {"Measured, but no limit is stated for this unit": ["Stall speed in Drive (2174 rpm)"]} == found


def test_render_trace__a_sound_drive_says_so() -> None:
    assert "Nothing that speaks of a fault." in render_trace(sound_trace())


def test_render_trace__refused_rows_by_their_numbers() -> None:
    assert "rows 702 to 711: output_rpm: the signal drops out or jumps" in render_trace(faulty())


def test_render_trace__many_refusals_are_counted() -> None:
    many = tuple(RefusedRows(row, row, "wrong") for row in range(2, 60))
    assert "and 50 more places; --format json names them all" in render_trace(replace(sound_trace(), rows_refused=many))


def test_render_trace__what_went_into_the_case_and_what_stayed() -> None:
    added = Added(("slip_live_3",), {"tcc_slip_live": "right"}, {"slip_live_4": "It clashes"})
    text = " ".join(render_trace(replace(faulty(), added=added)).split())
    assert "Added 1 answer: Slip in gear 3 by scan and 0 that are sound." in text
    assert "Left as it is: Converter clutch by scan. The case says right, the log slips." in text
    assert "Left out: Slip in gear 4 by scan. It clashes." in text


def test_say_columns__hostile_headers_are_shown_and_not_obeyed() -> None:
    hostile = "\x1b[2J" + "A" * 90
    trace = replace(
        sound_trace(), columns=(TakenColumn("engine_rpm", hostile, 1, "rpm", "map"),), columns_left=(hostile,)
    )
    said = say_columns(trace)
    assert "\x1b" not in said and "A" * 50 not in said


def test_say_columns__what_was_guessed_without_a_name_is_said() -> None:
    trace = replace(sound_trace(), columns=(TakenColumn("input_rpm", "x", 3, "rpm", "relation"),), columns_left=())
    assert 'Columns: input_rpm from "x" in rpm (by relation).' == say_columns(trace)


def test_say_columns__what_is_left_may_be_what_is_missing() -> None:
    taken = (TakenColumn("input_rpm", "x", 3, "rpm", "relation"),)
    said = say_columns(replace(sound_trace(), columns=taken, columns_left=("v",)))
    assert 'Not used: "v". If one of them is any of these, say so with --map: time_s' in said
    assert "input_rpm," not in said.partition("--map")[2]


def test_draw_plot__speeds_gears_and_marks_over_time() -> None:
    lines = draw_plot(faulty())
    wanted, had = (next(line for line in lines if line.startswith(f"  {word}")) for word in ("wanted", "had"))
    assert wanted.count("3") > 2
    assert had.count("3") < wanted.count("3")
    assert any(line.startswith("  shows") and "1" in line for line in lines)
    assert "o" in lines[0] + lines[1] + lines[2]


def test_draw_plot__nothing_without_a_drive() -> None:
    assert [] == draw_plot(replace(sound_trace(), drive=None))


def test_group_labels__one_of_a_template_is_named_once() -> None:
    some = [one for one in sound_trace().findings.values() if one.measure == "upshift_flare"]
    assert "Flare on a shift (4 looked at)" == group_labels(some)


def test_say_figure__what_swings_with_its_frequency() -> None:
    one = replace(dict(list_telling(faulty()))["slip_live_3"], hertz=11.7)
    assert "Measured 250 rpm (250 to 250) at 11.7 Hz, 42 samples" in say_figure(one)


def test_say_figure__at_times() -> None:
    one = replace(
        next(iter(sound_trace().findings.values())),
        at_times=3,
        samples=9,
        unit="rpm",
        measured=300.0,
        low=290.0,
        high=310.0,
        doubt="think_so",
    )
    assert "Measured 300 rpm (290 to 310), at 3 of 9 places; think so" == say_figure(one)
