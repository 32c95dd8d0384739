"""Explain a measured ratio: which gear or defect makes it, and which element would have to slip for it."""

from collections.abc import Mapping
from dataclasses import dataclass

from shiftlore.gearing.charts import WorkedTrain
from shiftlore.gearing.defects import Defect, Remains
from shiftlore.sheets import SheetGear

# Speed sensors and tyre slip leave about this much doubt on a measured ratio (common practice: 3 to 5 %).
DOUBT = 0.03
# An element that slips more than this burns within seconds; such a state is not what was measured (judgement).
MOST_SLIP = 0.7
IDLE_TORQUE = 1e-6


@dataclass(frozen=True, slots=True)
class RatioGear:
    """A gear that has the measured ratio, within the doubt of a measurement."""

    gear: str
    ratio: float
    off_percent: float


@dataclass(frozen=True, slots=True)
class RatioDefect:
    """A defect that makes the measured ratio in a commanded gear."""

    fault: str
    commanded: str
    ratio: float
    off_percent: float


@dataclass(frozen=True, slots=True)
class RatioSlip:
    """A commanded gear that would show the measured ratio if one of these elements slipped.

    Args:
        slip_percent: share of the input speed that is lost in slip.
        elements: those whose slip can reach this ratio.
    """

    commanded: str
    ratio: float
    slip_percent: float
    elements: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RatioMatch:
    """What a measured ratio may mean.

    Args:
        between: the two gears next to it, the one with the larger ratio first; None above first or below top.
        gears, faults, slips: nearest first.
    """

    ratio: float
    gears: tuple[RatioGear, ...]
    faults: tuple[RatioDefect, ...]
    slips: tuple[RatioSlip, ...]
    between: tuple[str | None, str | None]
    says: str


def match_ratio(worked: WorkedTrain, outcomes: Mapping[tuple[Defect, str], Remains], ratio: float) -> RatioMatch:
    """Find the states of a unit that fit a measured ratio.

    Args:
        outcomes: every defect in every line, as `find_remains` gives them.
        ratio: input over output speed, negative in reverse.
    """
    ratios = _list_ratios(worked, ratio)
    gears = [RatioGear(name, value, 100 * (ratio / value - 1)) for name, value in ratios.items()]
    gears = sorted((item for item in gears if abs(item.off_percent) <= 100 * DOUBT), key=lambda g: abs(g.off_percent))
    above = [name for name, value in sorted(ratios.items(), key=lambda item: abs(item[1])) if abs(value) > abs(ratio)]
    below = [name for name, value in sorted(ratios.items(), key=lambda item: -abs(item[1])) if abs(value) <= abs(ratio)]
    between = (above[0] if above else None, below[0] if below else None)
    defects = _match_defects(worked, outcomes, ratio)
    slips = _match_slips(worked, outcomes, ratio, ratios)
    return RatioMatch(ratio, tuple(gears), defects, slips, between, _say(ratio, gears, between, slips, ratios))


def _list_ratios(worked: WorkedTrain, ratio: float) -> dict[str, float]:
    """Give the gears that drive the same way, computed where possible, else printed."""
    found = {}
    for name, gear in worked.sheet.gears.items():
        value = _ratio(worked, name, gear)
        if gear.kind != "neutral" and value is not None and value * ratio > 0:
            found[name] = value
    return found


def _ratio(worked: WorkedTrain, name: str, gear: SheetGear) -> float | None:
    line = worked.lines.get(name)
    return line.ratio if line is not None and line.ratio is not None else gear.ratio


def _match_defects(
    worked: WorkedTrain, outcomes: Mapping[tuple[Defect, str], Remains], ratio: float
) -> tuple[RatioDefect, ...]:
    found = []
    for (defect, name), outcome in outcomes.items():
        if not outcome.changed or outcome.ratio is None or outcome.ratio * ratio <= 0:
            continue
        off = ratio / outcome.ratio - 1
        if abs(off) <= DOUBT and name in worked.sheet.gears:
            found.append(RatioDefect(_name_defect(defect), name, outcome.ratio, 100 * off))
    return tuple(sorted(found, key=lambda item: abs(item.off_percent)))


def _name_defect(defect: Defect) -> str:
    words = {"lost": "lost", "stuck": "stuck on", "sol_on": "stuck on", "sol_off": "stuck off"}
    return f"{defect.part} {words[defect.kind]}"


def _match_slips(
    worked: WorkedTrain,
    outcomes: Mapping[tuple[Defect, str], Remains],
    ratio: float,
    ratios: Mapping[str, float],
) -> tuple[RatioSlip, ...]:
    """Find the gears of smaller ratio in which a slipping element lets the input run this much ahead."""
    found = []
    for name, value in ratios.items():
        slip = 1 - value / ratio
        if not DOUBT < slip < MOST_SLIP:
            continue
        elements = []
        for part in worked.sheet.gears[name].on:
            torque = worked.lines[name].torque.get(part, 0.0) if name in worked.lines else 1.0
            left = outcomes.get((Defect("lost", part), name))
            if torque > IDLE_TORQUE and left is not None and left.changed and _reaches(left, ratio):
                elements.append(part)
        if elements:
            found.append(RatioSlip(name, value, 100 * slip, tuple(elements)))
    return tuple(sorted(found, key=lambda item: item.slip_percent))


def _reaches(left: Remains, ratio: float) -> bool:
    """Tell whether slip goes as far as the ratio before the gear that is left without the element catches it."""
    return left.ratio is None or left.ratio * ratio < 0 or abs(left.ratio) >= abs(ratio)


def _say(
    ratio: float,
    gears: list[RatioGear],
    between: tuple[str | None, str | None],
    slips: tuple[RatioSlip, ...],
    ratios: Mapping[str, float],
) -> str:
    if not ratios:
        return "No ratio of this unit is known that drives this way."
    if gears:
        return f"{ratio:.2f} is gear {gears[0].gear} ({gears[0].ratio:.3f}) within what a measurement leaves in doubt."
    high, low = between
    if low is None:
        return (
            f"{ratio:.2f} is below every gear: nothing in the unit makes it; look at the speed signals and tyre size."
        )
    where = f"above {low}" if high is None else f"between {high} and {low}"
    if not slips:
        return f"{ratio:.2f} lies {where}; no single slipping element explains it."
    first = slips[0]
    return f"{ratio:.2f} lies {where}: with {first.commanded} commanded, {first.slip_percent:.0f} % slip."
