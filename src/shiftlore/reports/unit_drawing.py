"""Draw a unit as SVG: a lever for every set, what ties them together, and the application chart below."""

from html import escape

from shiftlore.gearing import GearLine, Lever, Tie, UnitDescription

LEVER_GAP, LEVER_LENGTH = 150, 220
TOP, LEFT = 70, 110
CELL_WIDTH, ROW_HEIGHT = 64, 24
INK = "#222222"
COLOURS = {
    "joined": "#222222",
    "clutch": "#1b5e9b",
    "brake": "#a33b20",
    "band": "#a33b20",
    "one_way_clutch": "#6a3d9a",
    "dog": "#2f7d4f",
}
_MANY = 20

Points = dict[str, tuple[float, float]]


def render_unit_drawing(description: UnitDescription) -> str:
    """Write one SVG picture of a unit: its lever diagram and its application chart."""
    points = _place_points(description)
    chart_top = TOP + LEVER_LENGTH + 90 if description.levers else 60
    elements = description.used[:_MANY]
    levers_wide = LEFT * 2 + LEVER_GAP * max(len(description.levers) - 1, 0) + 60
    width = max(levers_wide, LEFT + CELL_WIDTH * (len(elements) + 1) + 40, 560)
    height = chart_top + 60 + ROW_HEIGHT * (len(description.gears) + 1)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}"'
        f' font-family="sans-serif" font-size="12" role="img">',
        f"<title>{escape(description.label)}: lever diagram and application chart</title>",
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        _text(20, 28, description.label, size=16),
        *_draw_ties(description.ties, points),
        *(part for lever in description.levers for part in _draw_lever(lever, points)),
        *_draw_chart(description, elements, chart_top),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _place_points(description: UnitDescription) -> Points:
    """Give every member a place; shafts stand at the left and right edge, at the height of what they meet."""
    points: Points = {}
    for column, lever in enumerate(description.levers):
        for name, share in lever.points:
            points[name] = (LEFT + 40 + column * LEVER_GAP, TOP + share * LEVER_LENGTH)
    right = LEFT + 80 + max(len(description.levers) - 1, 0) * LEVER_GAP
    shafts = [name for tie in description.ties for name in (tie.first, tie.second) if "." not in name]
    for row, name in enumerate(dict.fromkeys(name for name in shafts if name != "case")):
        met = [points[other][1] for tie in description.ties for other in _others(tie, name) if other in points]
        height = sum(met) / len(met) if met else TOP + LEVER_LENGTH / 2
        place = right + 40 if name == "output" else 46 if name in ("input", "engine") else right + 30
        points[name] = (place, height + (row % 3) * 9)
    return points


def _others(tie: Tie, name: str) -> list[str]:
    return [other for other in (tie.first, tie.second) if name in (tie.first, tie.second) and other != name]


def _text(x: float, y: float, text: str, *, size: int = 12, colour: str = INK, anchor: str = "start") -> str:
    return (
        f'<text x="{x:.0f}" y="{y:.0f}" font-size="{size}" fill="{colour}" text-anchor="{anchor}"'
        f' stroke="#ffffff" stroke-width="3" paint-order="stroke">{escape(text)}</text>'
    )


def _draw_lever(lever: Lever, points: Points) -> list[str]:
    places = [points[name] for name, _ in lever.points]
    x, top, bottom = places[0][0], min(y for _, y in places), max(y for _, y in places)
    parts = [
        f'<line x1="{x}" y1="{top:.1f}" x2="{x}" y2="{bottom:.1f}" stroke="{INK}" stroke-width="5"/>',
        _text(x, TOP - 20, lever.set_id, size=13, anchor="middle"),
    ]
    for name, _ in lever.points:
        y = points[name][1]
        parts.append(f'<circle cx="{x}" cy="{y:.1f}" r="6" fill="#ffffff" stroke="{INK}" stroke-width="2"/>')
        parts.append(_text(x + 10, y - 6, name.partition(".")[2].replace("_", " "), size=11))
    return parts


def _draw_ties(ties: tuple[Tie, ...], points: Points) -> list[str]:
    """Draw joins as full lines, elements as dashed ones with their name, brakes to a ground sign."""
    parts = []
    grounded: dict[str, int] = {}
    drawn: dict[frozenset[str], int] = {}
    for tie in ties:
        colour = COLOURS.get(tie.type, INK)
        ends = [name for name in (tie.first, tie.second) if name in points]
        if "case" in (tie.first, tie.second) and ends:
            step = grounded.get(ends[0], 0)
            grounded[ends[0]] = step + 1
            parts += _draw_ground(points[ends[0]], tie.element, colour, step)
        elif len(ends) == 2:
            pair = frozenset(ends)
            parts += _draw_line(points[ends[0]], points[ends[1]], tie, colour, drawn.get(pair, 0))
            drawn[pair] = drawn.get(pair, 0) + 1
    for name, (x, y) in points.items():
        if "." not in name:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="3" fill="{INK}"/>')
            anchor = "end" if x < LEFT else "start"
            parts.append(_text(x + (-6 if anchor == "end" else 6), y + 4, name, size=12, anchor=anchor))
    return parts


def _draw_line(start: tuple[float, float], end: tuple[float, float], tie: Tie, colour: str, turn: int) -> list[str]:
    """Draw one tie; ties between the same two nodes bend further out, one after the other."""
    (x1, y1), (x2, y2) = start, end
    bend = (36 if abs(x1 - x2) < 1 else 0) + 18 * turn
    middle_x, middle_y = (x1 + x2) / 2 - bend, (y1 + y2) / 2
    dash = ' stroke-dasharray="6 4"' if tie.element else ""
    path = f"M {x1:.1f} {y1:.1f} Q {middle_x - bend:.1f} {middle_y:.1f} {x2:.1f} {y2:.1f}"
    line = f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{2 if tie.element else 1.5}"{dash}/>'
    if not tie.element:
        return [line]
    return [line, _text(middle_x, middle_y - 5, tie.element, size=11, colour=colour, anchor="middle")]


def _draw_ground(place: tuple[float, float], element: str, colour: str, step: int) -> list[str]:
    x, y = place[0] - 34 - 16 * step, place[1] + 16 * step
    hatch = "".join(f"M {x - 7 + 5 * k:.0f} {y + 12:.0f} l -4 6 " for k in range(4))
    dash = ' stroke-dasharray="6 4"' if element else ""
    return [
        f'<path d="M {place[0]:.1f} {place[1]:.1f} L {x:.1f} {y:.1f} V {y + 12:.1f}" fill="none" stroke="{colour}"'
        f' stroke-width="2"{dash}/>',
        f'<path d="M {x - 10:.1f} {y + 12:.1f} h 20 {hatch}" fill="none" stroke="{colour}" stroke-width="1.5"/>',
        _text(x - 12, y + 8, element, size=11, colour=colour, anchor="end"),
    ]


def _draw_chart(description: UnitDescription, elements: list[str], top: float) -> list[str]:
    """Draw the application chart: a full dot holds, an open one only brakes with the engine."""
    legend = "full dot: holds under drive; open dot: only for engine braking"
    parts = [
        _text(20, top, "Application chart", size=14),
        _text(160, top, legend, size=11),
        _text(LEFT + 2, top + 24, "ratio", size=11, anchor="end"),
    ]
    types = {tie.element: tie.type for tie in description.ties if tie.element}
    for column, name in enumerate(elements):
        shown = name if len(name) <= 10 else name[:9] + "…"
        parts.append(_text(LEFT + CELL_WIDTH * (column + 0.7), top + 24, shown, size=10, anchor="middle"))
    for row, (name, line) in enumerate(description.gears.items()):
        y = top + 28 + ROW_HEIGHT * (row + 0.7)
        ratio = line.ratio_computed if line.ratio_computed is not None else line.ratio_stated
        parts.append(_text(20, y, name, size=12))
        parts.append(_text(LEFT + 2, y, "" if ratio is None else f"{ratio:.2f}", size=12, anchor="end"))
        parts += _draw_dots(line, elements, types, y - 4)
    return parts


def _draw_dots(line: GearLine, elements: list[str], types: dict[str, str], y: float) -> list[str]:
    parts = []
    for column, name in enumerate(elements):
        x = LEFT + CELL_WIDTH * (column + 0.7)
        colour = COLOURS.get(types.get(name, "clutch"), INK)
        if name in line.elements:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="{colour}"/>')
        elif name in line.coast:
            parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="5" fill="none" stroke="{colour}" stroke-width="2"/>')
    return parts
