"""What can be measured in a road-test log: the names by which rules ask for it."""

from collections.abc import Mapping

from shiftlore.basics.records import Record


class LogMeasure(Record, frozen=True):
    """What can be measured in a road-test log: per which kind of instance (None: once a log), and in which unit."""

    each: str | None
    unit: str


LOG_MEASURES: Mapping[str, LogMeasure] = {
    "gear_slip": LogMeasure("gear", "rpm"),
    "gear_refused": LogMeasure("gear", "%"),
    "gear_kept": LogMeasure("gear", "%"),
    "other_gear": LogMeasure(None, "%"),
    "one_gear": LogMeasure(None, "%"),
    "fallback_gear": LogMeasure(None, "%"),
    "start_gear": LogMeasure(None, "gear"),
    "gear_jumped": LogMeasure(None, "%"),
    "gears_hunted": LogMeasure(None, "a minute"),
    "upshift_flare": LogMeasure("shift", "rpm"),
    "upshift_dip": LogMeasure("shift", "% a second"),
    "upshift_time": LogMeasure("shift", "s"),
    "upshift_refused": LogMeasure("shift", "%"),
    "downshift_flare": LogMeasure("downshift", "rpm"),
    "lock_slip": LogMeasure(None, "rpm"),
    "lock_held": LogMeasure(None, "%"),
    "lock_commanded": LogMeasure(None, "%"),
    "lock_changes": LogMeasure(None, "a minute"),
    "unlocked_slip": LogMeasure(None, "rpm"),
    "applying_shudder": LogMeasure(None, "rpm"),
    "locked_shudder": LogMeasure(None, "rpm"),
    "stall_forward": LogMeasure(None, "rpm"),
    "stall_backward": LogMeasure(None, "rpm"),
    "engage_forward": LogMeasure(None, "s"),
    "engage_backward": LogMeasure(None, "s"),
    "hottest": LogMeasure(None, "C"),
    "temperature_jumps": LogMeasure(None, "times"),
    "idle_pressure": LogMeasure(None, "kPa"),
    "full_pressure": LogMeasure(None, "kPa"),
    "signal_drops": LogMeasure("speed_sensor", "times"),
}
"""What `tracing` measures, by name; how each is measured stands there."""
