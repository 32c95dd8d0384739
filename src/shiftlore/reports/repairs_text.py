"""How published repairs were ranked, as text."""

from shiftlore.repairs import Group, Miss, Scores
from shiftlore.reports.wording import wrap_lines

_HEAD = f"{'':<32}{'repairs':>8}{'first':>8}{'in 3':>8}{'in 5':>8}"
_NO_SAMPLE = "Bulletins and recalls stand for many vehicles of one family: they are no sample of what comes in."


def render_scores(scores: Scores, misses: int = 0) -> str:
    """Write shares per kind of record and area, loss, calibration, and the worst misses, in at most 80 columns.

    Args:
        misses: how many of them to show; 0 shows all.
    """
    lines = [_HEAD, *(_render_group(name, group) for name, group in scores.groups.items())]
    lines += ["", *wrap_lines(f"Log loss {scores.log_loss:.3f}. {_NO_SAMPLE}")]
    lines += ["", "Areas given a chance of, and right in:"]
    for band in scores.bands:
        lines.append(
            f"  {band.low:>4.0%} to {band.high:>4.0%} {band.count:>8} areas, mean {band.mean:>4.0%}, right {band.right:>4.0%}"
        )
    shown = scores.misses[:misses] if misses else scores.misses
    lines += ["", f"Missed, worst first ({len(shown)} of {len(scores.misses)}):"] if scores.misses else []
    for miss in shown:
        lines += wrap_lines(_tell_miss(miss), indent="    ", first="  ")
    for name, why in scores.refused:
        lines += wrap_lines(f"{name} could not be ranked: {why.splitlines()[0]}", indent="    ", first="  ")
    return "\n".join(lines)


def _render_group(name: str, group: Group) -> str:
    return f"{name:<32}{group.count:>8}" + "".join(f"{share:>8.0%}" for share in group.within)


def _tell_miss(miss: Miss) -> str:
    said = f"{miss.id}: {miss.area} is at place {miss.place}, {miss.first} ({miss.first_cause}) comes first."
    if not miss.cause:
        return f"{said} No cause of that area exists on this unit."
    if miss.decibans >= 0:
        return f"{said} No answer speaks against {miss.cause}: it was rarer beforehand."
    return f'{said} Most against {miss.cause}: "{miss.label}", {miss.decibans:.0f} decibans.'
