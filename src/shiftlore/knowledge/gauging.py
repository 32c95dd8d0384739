"""What a measured number answers."""

from shiftlore.knowledge.records import Gauge


def answer_number(
    gauge: Gauge, value: float, sound: str, *, stated: tuple[float | None, float | None] | None = None
) -> str | None:
    """Say what a number in the base unit of its kind answers, or None where it says nothing.

    Args:
        sound: the sound answer; stated: the bounds that a unit's sheet states, instead of those of the gauge.
    """
    reached = [grade for grade, bound in gauge.further.items() if value >= bound]
    if reached:
        return reached[-1]
    low, high = (gauge.low, gauge.high) if stated is None else stated
    if low is None and high is None:
        return None
    if low is not None and value < low:
        return gauge.below
    if high is not None and value > high:
        return gauge.above
    return None if gauge.wide and stated is None else sound
