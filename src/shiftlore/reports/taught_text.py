"""What cases and published repairs have taught: the overlay as a file to review, and how the repairs are ranked."""

import math
from collections.abc import Mapping

from shiftlore.compiling import Learned, Overlay
from shiftlore.knowledge import Knowledge
from shiftlore.repairs import Group, Miss, Scores
from shiftlore.reports.wording import WIDTH, Mark, leave_plain, wrap_lines

SHOWN = 12
_TABLE_HEAD = f"{'':<32}{'repairs':>8}{'first':>8}{'in 3':>8}{'in 5':>8}"
_NO_SAMPLE = "Bulletins and recalls stand for many vehicles of one family: they are no sample of what comes in."
HEAD = """\
# Numbers that cases have taught, laid over the rules. `there` of `of`: how often it was so, as far as the cases can tell,
# in parts of vehicles. Strike out any line that you do not believe; the rules themselves are not changed.
shiftlore: 1
"""


def render_overlay(overlay: Overlay) -> str:
    """Write an overlay as it is kept."""
    lines = [HEAD + "cases: {" + ", ".join(f"{name}: {count}" for name, count in overlay.cases.items()) + "}"]
    lines += [f"unexplained: {_entry(overlay.unexplained)}", "# Per thousand complaints.", "base_rates:"]
    lines += [f"  {cause}: {_entry(one)}" for cause, one in sorted(overlay.base_rates.items())]
    lines.append("strengths:")
    for parent in sorted({parent for parent, _ in overlay.strengths}):
        lines.append(f"  {parent}:")
        own = {child: one for (first, child), one in overlay.strengths.items() if first == parent}
        lines += [f"    {child}: {_entry(one)}" for child, one in sorted(own.items())]
    return "\n".join(lines) + "\n"


def _entry(one: Learned) -> str:
    return f"{{rules: {one.rules:.4g}, learned: {one.learned:.4g}, there: {one.there:.2f}, of: {one.of:.2f}}}"


def render_learned(
    knowledge: Knowledge, overlay: Overlay, n_refused: int, width: int = WIDTH, strong: Mark = leave_plain
) -> str:
    """Say what was learned: from how many cases, and the numbers that changed most."""
    total = sum(overlay.cases.values())
    kinds = ", ".join(f"{count} {name.replace('_', ' ')}" for name, count in overlay.cases.items())
    lines = wrap_lines(f"Learned from {total} {'case' if total == 1 else 'cases'}: {kinds}.", width=width)
    if n_refused:
        lines += wrap_lines(
            f"{n_refused} could not be used: no cause that may have been there gives these answers.", width=width
        )
    lines += ["", strong("How common, per 1,000 complaints, most changed first")]
    for cause, one in _most_changed(overlay.base_rates):
        told = f"{one.rules:6.1f} -> {one.learned:6.1f}   there in {one.there:.1f}, expected {one.of:.1f}"
        lines += wrap_lines(f"{told}   {_label(knowledge.causes[cause].label)}", " " * 47, "  ", width)
    labels = {one.id: one.label for one in (*knowledge.parents, *knowledge.children)}
    lines += ["", strong("How often one thing shows in another, most changed first")]
    for (parent, child), one in _most_changed(overlay.strengths):
        told = f"{100 * one.rules:4.0f} % -> {100 * one.learned:4.0f} %   {one.there:.1f} of {one.of:.1f}"
        lines += wrap_lines(f"{told:<34}{_label(labels[parent])}: {_label(labels[child])}", " " * 36, "  ", width)
    scale = overlay.unexplained.learned
    told = f"Signs without any known cause: {scale:.2f} times as common as the rules say."
    return "\n".join([*lines, "", *wrap_lines(told, width=width)])


def _most_changed(table: Mapping) -> list[tuple]:
    return sorted(table.items(), key=lambda item: (-abs(math.log(item[1].learned / item[1].rules)), item[0]))[:SHOWN]


def _label(label: str) -> str:
    return label.replace("{name}", "…")


def render_scores(scores: Scores, misses: int = 0) -> str:
    """Write shares per kind of record and area, loss, calibration, and the worst misses, in at most 80 columns.

    Args:
        misses: how many of them to show; 0 shows all.
    """
    lines = [_TABLE_HEAD, *(_render_group(name, group) for name, group in scores.groups.items())]
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
