"""The page of a road-test log: speeds, gears and slip over time with every answer marked by its number, in one file.

It asks for nothing from outside. What comes from the log, headers above all, is escaped.
"""

import datetime
import math
from collections.abc import Iterable, Sequence
from functools import partial
from html import escape

import numpy as np

from shiftlore.reports.page_style import (
    FACES,
    GRID,
    INK,
    LARGEST_POINTS,
    PAPER,
    SOFT,
    frame_page,
    head_page,
    svg_text,
    write_style,
)
from shiftlore.reports.trace_text import (
    group_labels,
    group_untold,
    list_telling,
    say_columns,
    say_figure,
    say_refused,
    say_unit,
)
from shiftlore.tracing import Trace, TracedDrive, each_run

WIDE, LEFT, RIGHT, TOP = 1100, 62, 16, 30
HEIGHTS = {"speeds": 250, "gears": 120, "slip": 130, "pedal": 90}
BETWEEN, BINS = 32, 1000
ENGINE_INK, OUTPUT_INK, ALARM = "#b3541e", "#2f7d4f", "#a3001e"
MARK_RADIUS, MOST_PLACES, MOST_REFUSED = 9, 3, 40
_text = partial(svg_text, colour=INK)
_Line = tuple[str, np.ndarray, str, str]
"""Name, values, colour and dashes of a line."""


def render_trace_page(trace: Trace, name: str, shop: str, day: datetime.date, paper: str = "a4") -> str:
    """Write the whole page as HTML.

    Args:
        name: of the log; shop: whose name stands on it.
        paper: `a4` or `letter`.
    """
    title = escape(f"Road-test log {name}")
    body = "\n".join((_header(trace, name, shop, day), "<main>", *_parts(trace), "</main>"))
    return frame_page(title, write_style(paper, LARGEST_POINTS, "trace_page.css"), body)


def _header(trace: Trace, name: str, shop: str, day: datetime.date) -> str:
    minutes, seconds = divmod(round(trace.seconds_driven), 60)
    facts = (("Date", day.isoformat()), ("Unit", say_unit(trace)), ("Driven", f"{minutes} min {seconds:02d} s"),
             ("Rows", f"{trace.rows_read:,}"))  # fmt: skip
    return head_page(f"Road-test log {name}", facts, shop)


def _parts(trace: Trace) -> list[str]:
    parts = [_advice(trace)]
    if trace.drive is not None:
        parts.append(f'<section class="part wide" aria-label="The drive">{draw_drive(trace, trace.drive)}</section>')
    parts.append(_findings(trace))
    return [*parts, _gears(trace), _rest(trace)]


def _advice(trace: Trace) -> str:
    telling = list_telling(trace)
    sure = sum(one.doubt is None for _, one in telling)
    said = (
        f"{len(telling)} {'answer tells' if len(telling) == 1 else 'answers tell'} of a fault, {sure} for sure."
        if telling
        else "Nothing here speaks of a fault."
    )
    return f'<section class="advice"><strong>{escape(said)}</strong></section>'


def _findings(trace: Trace) -> str:
    rows = []
    for number, (_, one) in enumerate(list_telling(trace), 1):
        places = ", ".join(f"{at:.1f} s" for at in one.at_s)
        rows.append(
            f'<tr><td><span class="mark">{number}</span></td><td>{escape(one.says)}</td>'
            f"<td>{escape(say_figure(one))}</td><td>{escape(places)}</td></tr>"
        )
    head = "<tr><th>No.</th><th>Answer</th><th>Measured, with its 95 % interval</th><th>Where</th></tr>"
    table = f'<div class="wide"><table>{head}{"".join(rows)}</table></div>' if rows else ""
    sound = group_labels([one for one in trace.findings.values() if one.is_sound])
    told = (
        f"<p>{escape(f'No sign in this drive of (in brackets: gears, shifts or sensors looked at): {sound}.')}</p>"
        if sound
        else ""
    )
    return f'<section class="part"><h2>What it shows</h2>{table}{told}</section>'


def _gears(trace: Trace) -> str:
    rows = []
    for name, one in trace.gears.items():
        measured = "" if one.ratio_median is None else f"{one.ratio_median:.3f}"
        slip = "" if one.slip_percent is None else f"{round(one.slip_percent, 1) + 0.0:.1f} %"
        cells = "".join(
            f'<td class="n">{text}</td>' for text in (f"{one.ratio_nominal:.3f}", measured, slip, one.samples)
        )
        rows.append(f"<tr><td>{escape(name)}</td>{cells}</tr>")
    heads = "".join(f'<th class="n">{text}</th>' for text in ("By the sheet", "Measured", "Slip under load", "Samples"))
    return f'<section class="part"><h2>Gears</h2><table><tr><th>Gear</th>{heads}</tr>{"".join(rows)}</table></section>'


def _rest(trace: Trace) -> str:
    texts = [f"{why}: {'; '.join(names)}." for why, names in group_untold(trace.not_told, trace).items()]
    parts = [f"<h2>Not told</h2>{_paragraphs(texts)}" if texts else ""]
    refused = [say_refused(one.row, one.last_row, one.why, one.channel) for one in trace.rows_refused[:MOST_REFUSED]]
    more = len(trace.rows_refused) - len(refused)
    refused += [f"And {more:,} more places."] if more > 0 else []
    parts.append(f"<h2>Rows that were refused</h2>{_paragraphs(refused)}" if refused else "")
    parts.append(f"<h2>How it was read</h2>{_paragraphs((say_columns(trace), *trace.notes))}")
    return f'<section class="part">{"".join(parts)}</section>'


def _paragraphs(texts: Iterable[str]) -> str:
    return "".join(f"<p>{escape(text)}</p>" for text in texts)


def draw_drive(trace: Trace, drive: TracedDrive) -> str:
    """Draw the drive: speeds, gears, slip and pedal one below the other, each answer's places marked through all of them."""
    span = (float(drive.times[0]), float(drive.times[-1]))
    panels = _list_panels(drive)
    parts, top = [], TOP
    for kind, lines in panels:
        parts.append(
            _draw_gears(drive, top, span) if kind == "gears" else _draw_lines(kind, lines, drive, top=top, span=span)
        )
        top += HEIGHTS[kind] + BETWEEN
    height = top + 18
    for tick in _list_ticks(0.0, max(span[1] - span[0], 1e-3)):
        parts.append(_text(_x(span[0] + tick, span), height - 22, f"{tick:,.0f} s", anchor="middle"))
    parts.append(_draw_marks(trace, span, height - 40))
    told = "; ".join(f"{number}: {one.says}" for number, (_, one) in enumerate(list_telling(trace), 1))
    describe = f"Speeds, gears, slip and pedal over {span[1] - span[0]:,.0f} seconds. {told}"
    return (
        f'<svg viewBox="0 0 {WIDE} {height}" role="img" aria-labelledby="drive-title drive-text" font-family="{FACES}"'
        f' fill="{INK}"><title id="drive-title">The drive</title><desc id="drive-text">{escape(describe)}</desc>'
        f"{''.join(parts)}</svg>"
    )


def _list_panels(drive: TracedDrive) -> list[tuple[str, list[_Line]]]:
    """List the pictures that the log has columns for."""
    speeds: list[_Line] = [("output", drive.output, OUTPUT_INK, "")]
    if drive.recording.has("engine_rpm"):
        speeds.insert(0, ("engine", drive.column("engine_rpm"), ENGINE_INK, "5 3"))
    if not drive.is_engine:
        speeds.append(("input", drive.driven, SOFT, ""))
    panels: list[tuple[str, list[_Line]]] = [("speeds", speeds), ("gears", [])]
    slip: list[_Line] = []
    if not drive.is_engine:
        gear = np.maximum(drive.commanded, 0)
        values = np.where(drive.commanded >= 0, drive.driven - drive.output * drive.table.ratios[gear], np.nan)
        slip.append(("in gear", np.where(drive.output > 120.0, values, np.nan), SOFT, ""))
        if drive.recording.has("engine_rpm"):
            slip.append(("in the converter", drive.column("engine_rpm") - drive.driven, ENGINE_INK, "5 3"))
    panels += [("slip", slip)] if slip else []
    columns = (("throttle", "throttle_percent", INK, ""), ("converter clutch", "converter_clutch_percent", SOFT, "5 3"))
    pedal: list[_Line] = [(name, drive.column(channel), colour, dashes) for name, channel, colour, dashes in columns]
    known = [line for line in pedal if np.isfinite(line[1]).any()]
    return [*panels, ("pedal", known)] if known else panels


def _x(at: float, span: tuple[float, float]) -> float:
    return LEFT + (WIDE - LEFT - RIGHT) * (at - span[0]) / max(span[1] - span[0], 1e-9)


TITLES = {
    "speeds": "Speeds, rpm",
    "gears": "Gear: thin as commanded, thick as had",
    "slip": "Slip, rpm",
    "pedal": "Percent",
}
SLIP_SHOWN = 0.98
"""Share of the rows between whose slips the picture is drawn: a shift's slip is far beyond what is looked for."""


def _draw_lines(kind: str, lines: Sequence[_Line], drive: TracedDrive, *, top: int, span: tuple[float, float]) -> str:
    height = HEIGHTS[kind]
    low, high = _limits(kind, lines)
    parts = [_text(LEFT, top - 6, TITLES[kind], size=13, bold=True)]
    for tick in _list_ticks(low, high):
        y = top + height * (high - tick) / (high - low)
        parts.append(f'<line x1="{LEFT}" y1="{y:.1f}" x2="{WIDE - RIGHT}" y2="{y:.1f}" stroke="{GRID}"/>')
        parts.append(_text(LEFT - 6, y + 4, f"{tick:,.0f}", anchor="end"))
    place = WIDE - RIGHT
    for name, _, colour, _ in reversed(lines):
        parts.append(_text(place, top - 6, name, anchor="end", colour=colour))
        place -= 8 * len(name) + 18
    for _, values, colour, dashes in lines:
        shown = top + height * (high - np.clip(values, low, high)) / (high - low)
        path = trace_path(drive.times, shown, span)
        dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
        parts.append(f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="1.3"{dashed}/>')
    return "".join(parts)


def _limits(kind: str, lines: Sequence[_Line]) -> tuple[float, float]:
    """Give the lowest and the highest value of a picture."""
    if kind == "pedal":
        return 0.0, 100.0
    there = np.concatenate([values[np.isfinite(values)] for _, values, _, _ in lines])
    if not len(there):
        return 0.0, 1.0
    if kind == "slip":
        low, high = (float(np.quantile(there, share)) for share in (1 - SLIP_SHOWN, SLIP_SHOWN))
        return min(-100.0, max(low, -1000.0)), max(300.0, high)
    return 0.0, max(float(np.max(there)), 1.0) * 1.02


def _list_ticks(low: float, high: float) -> list[float]:
    """Choose round values between two, four to eight of them."""
    size = 10.0 ** math.floor(math.log10(high - low))
    step = next(size * part for part in (0.1, 0.2, 0.25, 0.5, 1.0) if (high - low) / (size * part) <= 8)
    first = math.ceil(low / step)
    return [step * n for n in range(first, math.floor(high / step) + 1)]


def trace_path(times: np.ndarray, shown: np.ndarray, span: tuple[float, float]) -> str:
    """Write a line as a path: of many rows the lowest and the highest in each stripe, so that no peak is lost."""
    x = LEFT + (WIDE - LEFT - RIGHT) * (times - span[0]) / max(span[1] - span[0], 1e-9)
    if len(times) > 2 * BINS:
        edges = np.linspace(0, len(times), BINS + 1).astype(int)
        picked = []
        for first, end in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            part = shown[first:end]
            if np.isfinite(part).any():
                picked += sorted({first + int(np.nanargmin(part)), first + int(np.nanargmax(part))})
            else:
                picked.append(first)
        places = np.array(picked, dtype=np.int64)
        x, shown = x[places], shown[places]
    words, is_begun = [], False
    for across, down in zip(x.tolist(), shown.tolist(), strict=True):
        if math.isfinite(down):
            words.append(f"{'L' if is_begun else 'M'}{across:.1f} {down:.1f}")
        is_begun = math.isfinite(down)
    return "".join(words)


def _draw_gears(drive: TracedDrive, top: int, span: tuple[float, float]) -> str:
    """Draw the commanded gear thin and the one that was had thick, a line for each gear."""
    names, height = drive.table.names, HEIGHTS["gears"]
    step = height / max(len(names) - 1, 1)
    parts = [_text(LEFT, top - 6, TITLES["gears"], size=13, bold=True)]
    for number, name in enumerate(names):
        y = top + height - step * number
        parts.append(f'<line x1="{LEFT}" y1="{y:.1f}" x2="{WIDE - RIGHT}" y2="{y:.1f}" stroke="{GRID}"/>')
        parts.append(_text(LEFT - 6, y + 4, name, anchor="end"))
    for gears, colour, wide in ((drive.had, SOFT, 5.0), (drive.commanded, INK, 1.4)):
        path = []
        for first, end in each_run(gears):
            if gears[first] >= 0:
                y = top + height - step * float(gears[first])
                begin, over = (
                    _x(float(drive.times[first]), span),
                    _x(float(drive.times[min(end, len(gears) - 1)]), span),
                )
                path.append(f"M{begin:.1f} {y:.1f}H{max(over, begin + 0.5):.1f}")
        parts.append(f'<path d="{"".join(path)}" fill="none" stroke="{colour}" stroke-width="{wide}"/>')
    return "".join(parts)


def _draw_marks(trace: Trace, span: tuple[float, float], bottom: int) -> str:
    """Draw where each answer shows: a line through all pictures, and its number in a disc, none over another."""
    parts: list[str] = []
    taken: list[tuple[float, float]] = []
    for number, (_, one) in enumerate(list_telling(trace), 1):
        for at in one.at_s[:MOST_PLACES]:
            x = _x(at, span)
            y = float(bottom)
            while any(
                abs(x - other) < 2 * MARK_RADIUS and abs(y - height) < 2 * MARK_RADIUS for other, height in taken
            ):
                y -= 2 * MARK_RADIUS
            taken.append((x, y))
            parts.append(
                f'<g><title>{escape(one.says)}</title><line x1="{x:.1f}" y1="{TOP}" x2="{x:.1f}" y2="{bottom}"'
                f' stroke="{ALARM}" stroke-dasharray="2 4"/>'
                f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{MARK_RADIUS}" fill="{ALARM}"/>'
                f"{_text(x, y + 4, str(number), anchor='middle', colour=PAPER, bold=True)}</g>"
            )
    return "".join(parts)
