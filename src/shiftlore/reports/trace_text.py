"""What a road-test log shows, as text for the bench: answers with their figures, gears, a small picture, refused rows."""

from collections.abc import Mapping, Sequence
from statistics import median

import numpy as np

from shiftlore.basics.problems import printable
from shiftlore.reports.wording import WIDTH, Mark, leave_plain, wrap_lines
from shiftlore.tracing import CHANNELS, NOT_DRIVEN, NOT_STATED, Added, Trace, TracedFinding, TracedShift

SHOWN_REFUSED, SHOWN_LEFT = 8, 8
PLOT_ROWS, PLOT_EDGE, FEWEST_TO_PLOT = 9, 8, 40
UNITS = {"gear": ""}
_NOT_COMMANDED = {-2: "R", -3: "N", -4: " ", -1: "."}


def list_telling(trace: Trace) -> list[tuple[str, TracedFinding]]:
    """List the answers that tell of a fault, in the order in which they are numbered."""
    return [(key, one) for key, one in trace.findings.items() if not one.is_sound]


def render_trace(trace: Trace, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write what a log shows."""
    minutes, seconds = divmod(round(trace.seconds_driven), 60)
    head = f"{trace.rows_read:,} rows, {minutes} min {seconds:02d} s at {trace.rows_a_second:g} rows a second; "
    head += say_unit(trace)
    lines = [strong("Road-test log"), *wrap_lines(head, "  ", width=width)]
    lines += wrap_lines(say_columns(trace), "    ", "  ", width)
    lines += ["", strong("What it shows"), *_render_findings(trace, width)]
    lines += ["", strong("Gears"), *_render_gears(trace)]
    if shifts := _render_shifts(trace):
        lines += ["", strong("Shifts"), *shifts]
    if plot := draw_plot(trace, width):
        lines += ["", strong("The drive"), *plot]
    lines += _render_rest(trace, width, strong)
    if trace.added is not None:
        lines += ["", strong("Into the case"), *_render_added(trace, trace.added, width)]
    return "\n".join(lines)


def say_unit(trace: Trace) -> str:
    """Say whose gears were looked for, and how that is known."""
    if not trace.looks_like:
        return f"unit {trace.unit}"
    best, *others = trace.looks_like
    also = f"; {', '.join(one.unit for one in others[:3])} would do too" if others else ""
    return f"it looks like {best.unit} ({best.found} of {best.gears} gears found{also})"


def say_columns(trace: Trace) -> str:
    """Say what each column was taken for, where that is more than its own name says."""
    plain = [one.channel for one in trace.columns if one.header == one.channel]
    guessed = [
        f'{one.channel} from "{shorten_header(one.header)}"{f" in {one.unit}" if one.unit else ""}'
        + (f" (by {one.by})" if one.by in ("range", "relation") else "")
        for one in trace.columns
        if one.header != one.channel
    ]
    told = "Columns: " + "; ".join((*guessed, *([", ".join(plain)] if plain else []))) + "."
    left = [f'"{shorten_header(name)}"' for name in trace.columns_left[:SHOWN_LEFT]]
    more = len(trace.columns_left) - len(left)
    missing = [channel for channel in CHANNELS if channel not in {one.channel for one in trace.columns}]
    if not left:
        return told
    told += f" Not used: {', '.join(left)}{f' and {more} more' if more > 0 else ''}."
    return told + (f" If one of them is any of these, say so with --map: {', '.join(missing)}." if missing else "")


def shorten_header(header: str) -> str:
    """Give a header so that it can be shown on a line."""
    shown = printable(header)
    return shown if len(shown) <= 40 else shown[:37] + "..."


def _render_findings(trace: Trace, width: int) -> list[str]:
    lines = []
    telling = list_telling(trace)
    for number, (_, one) in enumerate(telling, 1):
        lines += wrap_lines(say_answer(one), " " * 6, f"  {number:>2}. ", width)
    if not telling:
        lines += wrap_lines("Nothing that speaks of a fault.", "  ", width=width)
    sound = group_labels([one for one in trace.findings.values() if one.is_sound])
    if sound:
        lines += wrap_lines(f"Looked for in this drive and not found: {sound}.", "  ", width=width)
    return lines


def group_labels(findings: Sequence[TracedFinding]) -> str:
    """Name findings, those of one template once with how many were looked at."""
    counts: dict[str, int] = {}
    for one in findings:
        counts[one.general] = counts.get(one.general, 0) + 1
    return "; ".join(f"{name}{f' ({count} looked at)' if count > 1 else ''}" for name, count in counts.items())


def say_answer(one: TracedFinding) -> str:
    """Say an answer with its figure, and where it shows first."""
    return f"{one.says}. {say_figure(one)}{_say_place(one)}"


def say_figure(one: TracedFinding) -> str:
    """Say what was measured, with its interval, and how sure the answer is."""
    unit = "time" if (one.unit, one.measured) == ("times", 1) else UNITS.get(one.unit, one.unit)
    figure = f"Measured {_number(one.measured)} {unit}".rstrip()
    if one.low != one.high:
        figure += f" ({_number(one.low)} to {_number(one.high)})"
    figure += f" at {_number(one.hertz)} Hz" if one.hertz is not None and not one.is_sound else ""
    times = (
        f", at {one.at_times} of {one.samples} places"
        if one.at_times
        else f", {one.samples} sample{'s'[: one.samples != 1]}"
    )
    return f"{figure}{times}; {'sure' if one.doubt is None else one.doubt.replace('_', ' ')}"


def _number(value: float) -> str:
    if abs(value) >= 100:
        return f"{value:,.0f}"
    return f"{value:.{1 if abs(value) >= 10 else 2}f}".rstrip("0").rstrip(".")


def _say_place(one: TracedFinding) -> str:
    """Say where it shows first, and how warm and how hard pressed the vehicle was then."""
    if not one.at_s:
        return "."
    told = f". First at {one.at_s[0]:.1f} s (row {one.rows[0]:,})"
    if one.warmth_c is not None:
        told += f", {one.warmth_c:.0f} C"
    if one.throttle_percent is not None:
        told += f", throttle {one.throttle_percent:.0f} %"
    return told + "."


def _render_gears(trace: Trace) -> list[str]:
    lines = [f"  {'gear':<6}{'sheet':>8}{'measured':>10}{'slip':>9}{'samples':>9}"]
    for name, one in trace.gears.items():
        measured = "-" if one.ratio_median is None else f"{one.ratio_median:.3f}"
        slip = "-" if one.slip_percent is None else f"{round(one.slip_percent, 1) + 0.0:.1f} %"
        lines.append(f"  {name:<6}{one.ratio_nominal:>8.3f}{measured:>10}{slip:>9}{one.samples:>9}")
    return lines


def _render_shifts(trace: Trace) -> list[str]:
    """Write how long each shift took, and how far the input flared at most; the middle of those that came."""
    came: dict[str, list[TracedShift]] = {}
    for one in trace.gear_changes:
        if one.came and one.seconds is not None:
            came.setdefault(one.gears, []).append(one)
    lines = [f"  {'shift':<6}{'times':>8}{'seconds':>10}{'flare, rpm':>13}"] if came else []
    for name, some in sorted(came.items()):
        flare = max((one.flare_rpm or 0.0 for one in some), default=0.0)
        lines.append(
            f"  {name:<6}{len(some):>8}{median(one.seconds or 0.0 for one in some):>10.2f}{max(flare, 0.0):>13.0f}"
        )
    return lines


def draw_plot(trace: Trace, width: int = WIDTH) -> list[str]:
    """Draw the drive in letters: speeds over time, the gears commanded and had, and where each answer shows."""
    drive = trace.drive
    if drive is None or len(drive.times) < FEWEST_TO_PLOT:
        return []
    columns = width - PLOT_EDGE - 2
    begin, span = float(drive.times[0]), float(drive.times[-1] - drive.times[0])
    places = np.searchsorted(drive.times, begin + span * (np.arange(columns) + 0.5) / columns)
    places = np.minimum(places, len(drive.times) - 1)
    speeds = {"o": drive.output[places], "i": drive.driven[places]}
    if not drive.is_engine:
        speeds["e"] = drive.column("engine_rpm")[places]
    most = max((float(np.nanmax(values)) for values in speeds.values() if np.isfinite(values).any()), default=0.0)
    if most <= 0 or span <= 0:
        return []
    canvas = [[" "] * columns for _ in range(PLOT_ROWS)]
    for letter, values in speeds.items():
        for column, value in enumerate(values.tolist()):
            if np.isfinite(value):
                canvas[PLOT_ROWS - 1 - min(int(value / most * PLOT_ROWS), PLOT_ROWS - 1)][column] = letter
    lines = []
    for row, letters in enumerate(canvas):
        edge = f"{most:,.0f}" if row == 0 else "0" if row == PLOT_ROWS - 1 else ""
        lines.append(f"  {edge:>{PLOT_EDGE - 2}} {''.join(letters)}".rstrip())
    lines += [
        f"  {'wanted':<{PLOT_EDGE - 2}} {_letters(drive.commanded[places], drive.table.names)}".rstrip(),
        f"  {'had':<{PLOT_EDGE - 2}} {_letters(drive.had[places], drive.table.names)}".rstrip(),
    ]
    if marks := _mark_places(trace, begin, span, columns):
        lines.append(f"  {'shows':<{PLOT_EDGE - 2}} {marks}".rstrip())
    known = {"e": "e engine", "i": "i engine" if drive.is_engine else "i input", "o": "o output"}
    named = ", ".join(known[letter] for letter in sorted(speeds))
    return [*lines, *wrap_lines(f"{named}, in rpm, over {span:,.0f} s. Gears: . is none.", "  ", width=width)]


def _letters(numbers: np.ndarray, names: Sequence[str]) -> str:
    """Write gears as one letter each."""
    return "".join(_NOT_COMMANDED[number] if number < 0 else names[number][-1:] for number in numbers.tolist())


def _mark_places(trace: Trace, begin: float, span: float, columns: int) -> str:
    """Write the numbers of the answers below the places at which they show; where two fall together the first one stands."""
    marks = [" "] * columns
    for number, (_, one) in enumerate(list_telling(trace), 1):
        for at in one.at_s[:3]:
            column = min(int((at - begin) / span * columns), columns - 1)
            text = str(number)
            if (
                column >= 0
                and column + len(text) <= columns
                and not "".join(marks[max(column - 1, 0) : column + len(text) + 1]).strip()
            ):
                marks[column : column + len(text)] = list(text)
    return "".join(marks)


def _render_rest(trace: Trace, width: int, strong: Mark) -> list[str]:
    """Write what is not told, which rows were refused, and what else is worth knowing."""
    lines = []
    if trace.not_told:
        lines += ["", strong("Not told")]
        for why, names in group_untold(trace.not_told, trace).items():
            lines += wrap_lines(f"{why}: {'; '.join(names)}.", "    ", "  ", width)
    if trace.rows_refused:
        count = sum(one.last_row - one.row + 1 for one in trace.rows_refused)
        lines += ["", strong(f"Refused: {count:,} of {trace.rows_read:,} rows, whole or in one column")]
        for one in trace.rows_refused[:SHOWN_REFUSED]:
            lines += wrap_lines(say_refused(one.row, one.last_row, one.why, one.channel), "    ", "  ", width)
        more = len(trace.rows_refused) - SHOWN_REFUSED
        lines += [f"  and {more:,} more places; --format json names them all"] if more > 0 else []
    if trace.notes:
        lines += ["", strong("Mind"), *(line for note in trace.notes for line in wrap_lines(note, "    ", "  ", width))]
    return lines


def say_refused(row: int, last_row: int, why: str, channel: str) -> str:
    """Say which rows were refused, and why."""
    rows = f"row {row:,}" if row == last_row else f"rows {row:,} to {last_row:,}"
    return f"{rows}: {f'{channel}: ' if channel else ''}{why}"


def group_untold(not_told: Mapping[str, Sequence[str]], trace: Trace) -> dict[str, list[str]]:
    """Put together what is not told for the same reason."""
    found: dict[str, list[str]] = {}
    for key, (first, *rest) in not_told.items():
        name = trace.names.get(key, key)
        if first == NOT_STATED:
            found.setdefault("Measured, but no limit is stated for this unit", []).append(f"{name} ({', '.join(rest)})")
            continue
        is_driven = first != NOT_DRIVEN
        why = f"The log has no {' and no '.join((first, *rest))}" if is_driven else "The drive did not show it"
        found.setdefault(why, []).append(name)
    return found


def _render_added(trace: Trace, added: Added, width: int) -> list[str]:
    telling = [trace.findings[key].label for key in added.findings if not trace.findings[key].is_sound]
    sound = len(added.findings) - len(telling)
    count = len(added.findings)
    told = f"{'; '.join(telling)}{' and ' if telling else ''}{sound} that are sound."
    text = f"Added {count} answer{'s'[: count != 1]}: {told}"
    lines = wrap_lines(text if added.findings else "Nothing new.", "  ", width=width)
    for key, says in added.kept.items():
        one = trace.findings[key]
        lines += wrap_lines(
            f"Left as it is: {one.label}. The case says {says}, the log {one.is_grade}.", "    ", "  ", width
        )
    for key, why in added.refused.items():
        lines += wrap_lines(f"Left out: {trace.findings[key].label}. {why}.", "    ", "  ", width)
    return lines
