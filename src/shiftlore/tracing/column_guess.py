"""Find out which column of a log is which: by what the user says, by its name, by its range, and by how columns go together."""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.basics import UnknownId, UsageProblem, nearest
from shiftlore.basics.problems import printable
from shiftlore.tracing.recordings import (
    CHANNELS,
    ENGINE,
    INPUT,
    LINE,
    LOCKUP,
    OUTPUT,
    ROAD,
    THROTTLE,
    TIME,
    WARMTH,
    WORDS,
    Floats,
    TakenColumn,
    convert,
)

BY_MAP, BY_NAME, BY_RANGE, BY_RELATION = "map", "name", "range", "relation"
_OTHER = "none_of_these"
_UNIT_SIGNS: Mapping[str, str] = {
    "rpm": "rpm", "1/min": "rpm", "min-1": "rpm", "u/min": "rpm", "r/min": "rpm", "rev/min": "rpm", "rad/s": "rad/s",
    "rads": "rad/s", "1/s": "1/s", "hz": "1/s", "km/h": "km/h", "kmh": "km/h", "kph": "km/h", "mph": "mph", "mi/h": "mph",
    "m/s": "m/s", "%": "%", "percent": "%", "c": "C", "degc": "C", "celsius": "C", "f": "F", "degf": "F",
    "fahrenheit": "F", "k": "K", "bar": "bar", "kpa": "kPa", "psi": "psi", "mpa": "MPa", "s": "s", "sec": "s", "ms": "ms",
    "msec": "ms", "min": "min", "seconds": "s", "milliseconds": "ms",
}  # fmt: skip
_BRACKETED = re.compile(r"[\[(<{]([^\])>}]*)[\])>}]")
_CAMEL = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")
_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss"})
_SIGNS = re.compile(r"[^0-9a-z]+")
_LONGEST_HEADER = 60
FASTEST_RAD = 900.0
"""No engine of a road vehicle idles all day at 900 rpm and less; a speed that never gets above is in rad/s (judgement)."""
_FIT, _FEWEST_FITTING = 0.015, 0.5
"""Two speeds go together as input and output where half of the rows lie within 1.5 % of a few fixed ratios (judgement)."""
_MOST_RATIOS, _LEAST_RPM, _FEWEST_ROWS, _SLOWEST_RPM = 10, 150.0, 50, 300.0


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """One column as it stands in the file, with a sample of its figures; `is_words` where it holds names."""

    header: str
    unit_said: str
    figures: Floats
    is_words: bool
    rises: bool = False


def tidy_unit(text: str) -> str:
    """Give the unit that a text names, or "".

    Example:
        >>> tidy_unit("Engine Speed [1/min]"), tidy_unit("°F"), tidy_unit("gear")
        ('rpm', 'F', '')
    """
    inside = _BRACKETED.findall(text)
    for part in (*inside, text):
        sign = part.strip().lower().replace("°", "").replace("º", "").replace(" ", "").strip(".")
        if sign in _UNIT_SIGNS:
            return _UNIT_SIGNS[sign]
    last = [part for part in _SIGNS.split(_CAMEL.sub(" ", text).lower()) if part][-1:]
    return _UNIT_SIGNS.get(last[0], "") if last and len(text.split()) + text.count("_") > 0 else ""


def show_header(header: str) -> str:
    """Give a header so that it can be shown: nothing that a screen obeys, and no longer than a line."""
    shown = printable(header)
    return shown if len(shown) <= _LONGEST_HEADER else shown[: _LONGEST_HEADER - 3] + "..."


def read_map(said: Sequence[str], headers: Sequence[str]) -> dict[str, tuple[int | None, str]]:
    """Read what the user says of columns: `engine_rpm=COLUMN` or `engine_rpm=COLUMN:UNIT`; nothing behind = leaves it out.

    Returns: channel -> place of its column from 0 (None: none), and the unit or "".
    Raises: UnknownId, UsageProblem: no such channel, column or unit; names those that there are.
    """
    found: dict[str, tuple[int | None, str]] = {}
    for text in said:
        channel, sign, wanted = text.partition("=")
        channel, wanted = channel.strip(), wanted.strip()
        if not sign:
            raise UsageProblem(
                f'"{printable(text)}" maps nothing. Write --map engine_rpm=COLUMN, or engine_rpm=COLUMN:UNIT.'
            )
        if channel not in CHANNELS:
            near = nearest(channel, CHANNELS)
            raise UnknownId(f'There is no "{printable(channel)}" to map. Write one of: {", ".join(near or CHANNELS)}.')
        found[channel] = (None, "") if not wanted else _find_column(channel, wanted, headers)
    places = [place for place, _ in found.values() if place is not None]
    if twice := [headers[place] for place in places if places.count(place) > 1]:
        raise UsageProblem(f'"{show_header(twice[0])}" is mapped to two things. Map each column once.')
    return found


def _find_column(channel: str, wanted: str, headers: Sequence[str]) -> tuple[int, str]:
    name, unit = wanted, ""
    place = _place_of(name, headers)
    if place is None and ":" in wanted:
        name, _, sign = wanted.rpartition(":")
        place, unit = _place_of(name.strip(), headers), tidy_unit(sign)
        units = CHANNELS[channel].units
        if place is not None and unit not in units:
            known = f"Write one of: {', '.join(units)}." if units else "It has none: leave it out."
            raise UsageProblem(f'"{printable(sign)}" is no unit of {channel}. {known}')
    if place is None:
        near = nearest(name, [*headers]) or list(headers)
        shown = ", ".join(map(show_header, near[:6]))
        raise UnknownId(f'The log has no column "{show_header(name)}". Columns like it: {shown}.')
    return place, unit


def _place_of(name: str, headers: Sequence[str]) -> int | None:
    """Find a column by its header, letters in any case, or by its number as #3."""
    tidy = [header.strip().lower() for header in headers]
    if name.strip().lower() in tidy:
        return tidy.index(name.strip().lower())
    if re.fullmatch(r"#\d{1,4}", name) and 1 <= int(name[1:]) <= len(headers):
        return int(name[1:]) - 1
    return None


def guess_columns(
    sampled: Sequence[Sampled], phrases: Mapping[str, Sequence[str]], said: Mapping[str, tuple[int | None, str]]
) -> tuple[TakenColumn, ...]:
    """Say what each column is; one that fits nothing is left.

    Args:
        phrases: channel -> what its column is called, of the language file.
        said: what the user says, as `read_map` gives it.
    """
    taken = {place: (channel, BY_MAP) for channel, (place, _) in said.items() if place is not None}
    free = [place for place in range(len(sampled)) if place not in taken]
    for _, place, channel in sorted(_score_names(sampled, free, phrases), key=lambda row: (-row[0], row[1])):
        known = {name for name, _ in taken.values()} | set(said)
        if place not in taken and channel not in known and _can_be(channel, sampled[place]):
            taken[place] = (channel, BY_NAME)
    known = {name for name, _ in taken.values()} | set(said)
    if TIME not in known:
        rising = [place for place in free if place not in taken and sampled[place].rises]
        taken |= {place: (TIME, BY_RELATION) for place in rising[:1]}
    if ROAD not in known:
        units = CHANNELS[ROAD].units
        of_road = [place for place in free if place not in taken and sampled[place].unit_said in units]
        taken |= {place: (ROAD, BY_RANGE) for place in of_road} if len(of_road) == 1 else {}
    taken |= _guess_speeds(sampled, taken, set(said))
    found = []
    for place, (channel, by) in sorted(taken.items()):
        unit_said = said.get(channel, (None, ""))[1]
        unit = choose_unit(channel, sampled[place], unit_said)
        found.append(TakenColumn(channel, sampled[place].header, place + 1, unit, by))
    return tuple(found)


def _score_names(
    sampled: Sequence[Sampled], free: Sequence[int], phrases: Mapping[str, Sequence[str]]
) -> list[tuple[float, int, str]]:
    """Score each name against the phrases of each channel: all words of the phrase must be there; fewer others are better."""
    rows = []
    for place in free:
        words = split_name(sampled[place].header)
        joined = "".join(words)
        scores = {
            channel: max((_score(words, joined, p) for p in some), default=0.0) for channel, some in phrases.items()
        }
        best = max(scores.values(), default=0.0)
        if best > 0 and scores.get(_OTHER, 0.0) < best:
            rows += [(score, place, name) for name, score in scores.items() if score > 0 and name != _OTHER]
    return rows


def split_name(header: str) -> list[str]:
    """Split a header into small words, units left out.

    Example:
        >>> split_name("TurbineSpeed [1/min]")
        ['turbine', 'speed']
    """
    bare = _BRACKETED.sub(" ", header).translate(_UMLAUTS)
    return [word for word in _SIGNS.split(_CAMEL.sub(" ", bare).lower()) if word]


def _score(words: Sequence[str], joined: str, phrase: str) -> float:
    asked = phrase.split()
    if joined == phrase.replace(" ", ""):
        return 2.0
    if not set(asked) <= set(words):
        return 0.0
    return sum(map(len, asked)) / max(len(joined), 1) + 0.1 * len(asked)


def _can_be(channel: str, column: Sampled) -> bool:
    """Tell whether the figures of a column can be what its name says."""
    if channel in WORDS:
        return column.is_words or bool(len(column.figures))
    if channel == TIME:
        return column.rises or column.is_words
    if column.is_words or not len(column.figures):
        return False
    kind = CHANNELS[channel]
    values = convert(channel, column.figures, choose_unit(channel, column, ""))
    inside = (values >= kind.low) & (values <= kind.high)
    return bool(inside.mean() > 0.5)


def _guess_speeds(
    sampled: Sequence[Sampled], taken: Mapping[int, tuple[str, str]], said: set[str]
) -> dict[int, tuple[str, str]]:
    """Find input and output among columns with meaningless names: two speeds that keep a few fixed ratios."""
    known = {channel for channel, _ in taken.values()} | said
    speeds = {
        place: convert(INPUT, one.figures, one.unit_said if one.unit_said in CHANNELS[INPUT].units else "rpm")
        for place, one in enumerate(sampled)
        if place not in taken and not one.is_words and not one.rises and len(one.figures)
    }
    rows = min(map(len, speeds.values()), default=0)
    speeds = {place: values[:rows] for place, values in speeds.items() if np.max(values) > _SLOWEST_RPM}
    free = list(speeds)
    if INPUT in known or OUTPUT in known or len(free) < 2:
        return {}
    pairs = [(_share_on_ratios(speeds[a], speeds[b]), a, b) for a in free for b in free if a != b]
    share, first, second = max(pairs)
    if share < _FEWEST_FITTING:
        return {}
    found = {first: (INPUT, BY_RELATION), second: (OUTPUT, BY_RELATION)}
    rest = [place for place in free if place not in found]
    if ENGINE not in known and rest:
        near = {place: float(np.median(np.abs(speeds[place] - speeds[first]))) for place in rest}
        best = min(near, key=lambda place: near[place])
        if near[best] < 0.3 * float(np.median(speeds[first])) and np.quantile(speeds[best], 0.05) > _SLOWEST_RPM:
            found[best] = (ENGINE, BY_RELATION)
    return found


def _share_on_ratios(above: Floats, below: Floats) -> float:
    """Give the share of rows in which one speed is one of a few fixed multiples of the other, on average the larger one."""
    driven = (below > _LEAST_RPM) & (above > _LEAST_RPM)
    if driven.sum() < _FEWEST_ROWS:
        return 0.0
    logs = np.log(above[driven] / below[driven])
    if np.quantile(logs, 0.98) + np.quantile(logs, 0.02) <= 0:
        return 0.0  # the lowest gear lies farther from direct drive than the highest
    bins = np.round(logs / (2 * _FIT)).astype(np.int64)
    _, counts = np.unique(bins, return_counts=True)
    several = np.sort(counts)[::-1][:_MOST_RATIOS]
    share = float(several[several > 0.02 * len(logs)].sum() / len(logs))
    return share if len(several) > 1 else 0.0


def choose_unit(channel: str, column: Sampled, said: str) -> str:
    """Choose the unit of a column: as the user says, as the header says, else by the range of its figures."""
    units = CHANNELS[channel].units
    if not units:
        return ""
    for unit in (said, column.unit_said):
        if unit in units:
            return unit
    figures = column.figures[np.isfinite(column.figures)]
    if not len(figures):
        return next(iter(units))
    by_range = _BY_RANGE.get(channel)
    return by_range(figures) if by_range is not None else next(iter(units))


def _turning_unit(figures: Floats) -> str:
    return "rad/s" if 30 < float(np.max(np.abs(figures))) < FASTEST_RAD else "rpm"


def _share_unit(figures: Floats) -> str:
    return "share" if 0 < float(np.max(figures)) <= 1.0 else "%"


def _warmth_unit(figures: Floats) -> str:
    """Warm fluid has 60 to 110 C, which are 140 to 230 F."""
    high = float(np.quantile(figures, 0.95))
    return "K" if high > 300 else "F" if high > 150 else "C"


def _pressure_unit(figures: Floats) -> str:
    """Line pressure is 3 to 25 bar, which are 300 to 2,500 kPa or 40 to 360 psi."""
    high = float(np.quantile(figures, 0.95))
    return "kPa" if high > 400 else "psi" if high > 35 else "bar" if high > 3 else "MPa"


def _time_unit(figures: Floats) -> str:
    """A row each 5 ms to 2 s is usual, so steps of 5 and more are no seconds."""
    step = float(np.median(np.diff(figures))) if len(figures) > 1 else 1.0
    if 30_000 < float(figures[0]) < 80_000 and step < 1e-3:
        return "d"
    return "ms" if step >= 5 else "s"


_BY_RANGE: Mapping[str, Callable[[Floats], str]] = {
    ENGINE: _turning_unit, INPUT: _turning_unit, OUTPUT: _turning_unit, THROTTLE: _share_unit, LOCKUP: _share_unit,
    WARMTH: _warmth_unit, LINE: _pressure_unit, TIME: _time_unit,
}  # fmt: skip
