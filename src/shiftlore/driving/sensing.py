"""What sensors make of the truth: teeth that are counted, noise, coarse steps, lost and frozen signals."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from shiftlore.driving.road_vehicles import RPM
from shiftlore.sheets import DriveDefect

Array = NDArray[np.float64]
# Tooth wheels as usual: teeth, what a turn is uneven by (share of a tooth), rpm of one step in the message (judgement).
WHEELS = {"engine_rpm": (58, 0.004, 0.25), "input_rpm": (34, 0.006, 1.0), "output_rpm": (42, 0.006, 1.0)}
TIMER_S = 2e-6
SILENT_S = 0.25
"""So long without a tooth reads as standing still."""
# Column -> standard deviation of its noise and its step (judgement).
PLAIN = {
    "road_kmh": (0.04, 0.05),
    "throttle_percent": (0.12, 0.4),
    "converter_clutch_percent": (0.0, 1.0),
    "fluid_temp_c": (0.2, 1.0),
    "line_pressure_bar": (0.12, 0.05),
}
DROPOUTS = 4


def count_teeth(rpm: Array, time_s: Array, wheel: tuple[int, float, float], generator: np.random.Generator) -> Array:
    """Measure a speed from the teeth that pass: whole teeth over the time between the last of each sample.

    Args:
        rpm: true speed; its sign is not seen.
        wheel: teeth, unevenness as a share of a tooth, step of the message in rpm.
    """
    teeth, uneven, step = wheel
    speed = np.abs(rpm)
    spacing = np.diff(time_s, prepend=2 * time_s[0] - time_s[1]) if len(time_s) > 1 else np.ones(1)
    passed = np.cumsum(speed / RPM * spacing) * teeth / (2 * np.pi) + generator.uniform()
    whole = np.floor(passed)
    rate = np.maximum(speed / RPM * teeth / (2 * np.pi), 1e-9)
    shape = np.append(generator.normal(0, uneven, teeth), 0.0)
    edge_s = time_s - (passed - whole + shape[whole.astype(int) % teeth]) / rate
    edge_s = np.round(edge_s / TIMER_S) * TIMER_S
    last = np.maximum.accumulate(np.where(np.diff(whole, prepend=whole[0] - 1) > 0, np.arange(len(rpm)), 0))
    before = np.concatenate([[0], last[:-1]])
    span = edge_s[last] - edge_s[before]
    moved = (last != before) & (span > 0)
    found = np.where(moved, (whole[last] - whole[before]) / np.where(moved, span, 1.0), 0.0) * 60 / teeth
    held = np.maximum.accumulate(np.where(moved, np.arange(len(rpm)), 0))
    found = np.where(time_s - time_s[held] < SILENT_S, found[held], 0.0)
    return np.round(found / step) * step


def sense_columns(truth: Mapping[str, Array], generator: np.random.Generator) -> dict[str, Array]:
    """Give every column as its sensor shows it.

    Args:
        truth: true columns, `time_s` among them; texts are left as they are.
    """
    found = dict(truth)
    for name, wheel in WHEELS.items():
        found[name] = count_teeth(truth[name], truth["time_s"], wheel, generator)
    for name, (spread, step) in PLAIN.items():
        noisy = truth[name] + generator.normal(0, spread, len(truth[name])) if spread else truth[name]
        noisy = np.where(truth[name] == 0, 0.0, noisy) if name != "fluid_temp_c" else noisy
        found[name] = np.round(np.maximum(noisy, 0.0) / step) * step if name != "fluid_temp_c" else np.round(noisy)
    return found


def spoil_sensors(
    columns: dict[str, Array], defects: Sequence[DriveDefect], generator: np.random.Generator
) -> list[tuple[str, str, int, int]]:
    """Let sensors drop out and freeze, in place.

    Returns: kind, column, first and last row of each time.
    """
    rows = len(columns["time_s"])
    step = float(columns["time_s"][1] - columns["time_s"][0]) if rows > 1 else 1.0
    spoiled = []
    for item in defects:
        if item.kind not in ("dropout", "freeze"):
            continue
        length = max(round(item.size / step), 1)
        for _ in range(DROPOUTS if item.kind == "dropout" else 1):
            first = int(generator.integers(rows // 5, max(rows * 4 // 5 - length, rows // 5 + 1)))
            last = min(first + length, rows)
            column = columns[item.part].copy()
            column[first:last] = 0.0 if item.kind == "dropout" else column[first]
            columns[item.part] = column
            spoiled.append((item.kind, item.part, first, last - 1))
    return spoiled
