"""The ranking as text for the bench: where the trouble lies, what it may be, what speaks for and against."""

import textwrap
from collections.abc import Sequence

from shiftlore.ranking import AlikeCase, Apart, RankedCause, Ranking, Reason
from shiftlore.reports.wording import WIDTH, Mark, leave_plain, say_km, say_percent, wrap_lines

SHOWN_CAUSES = 8
SHOWN_AREAS = 5
SHOWN_REASONS = 4
P_WORTH_SHOWING = 0.01
OWN_SHOP = "shop"
"""Source of the cases that are the shop's own."""
LEAST_WEIGHT = 0.5
"""Decibans that are told: a smaller change of belief nobody notices (Good 1950)."""
LONGEST_CAUSE = 80
LARGEST_ODDS = 1_000
"""Beyond, odds are a figure of the model and not of the world (judgement)."""


def render_ranking(
    ranking: Ranking,
    odometer_km: float | None = None,
    width: int = WIDTH,
    strong: Mark = leave_plain,
    n_causes: int = SHOWN_CAUSES,
) -> str:
    """Write the ranking as text.

    Args:
        strong: how headings and percentages are set off; leaves the text alone by default.
        n_causes: at most so many causes, and only those worth showing unless it asks for all of them.
    """
    distance = f", {say_km(odometer_km)}" if odometer_km is not None else ""
    lines = []
    if ranking.closed is not None:
        lines = [*wrap_lines(f"{ranking.closed.label} cured it: the case is closed.", width=width), ""]
    lines.append(strong(f"Where the trouble {'lies' if ranking.closed is None else 'lay'} ({ranking.unit}{distance})"))
    for area in [area for area in ranking.areas if area.probability >= P_WORTH_SHOWING][:SHOWN_AREAS]:
        lines.append(f"  {say_percent(area.probability):>10}  {area.label}")
    lines += ["", strong("What it may be" if ranking.closed is None else "What it was, most likely")]
    everything = n_causes >= len(ranking.causes)
    shown = [cause for cause in ranking.causes if everything or cause.probability >= P_WORTH_SHOWING][:n_causes]
    for place, cause in enumerate(shown or ranking.causes[:3], 1):
        lines += _render_cause(place, cause, width, strong)
    if ranking.nothing_found >= P_WORTH_SHOWING:
        lines.append(f"  {say_percent(ranking.nothing_found):>10}  Nothing that this knowledge holds")
    if ranking.together:
        lines += ["", strong("Several at once")]
        named = [
            f"{say_percent(item.probability)}  {item.labels[0]}; with it: {', '.join(item.labels[1:])}"
            for item in ranking.together
        ]
        lines += [line for text in named for line in wrap_lines(text, " " * 8, " " * 6, width)]
    if ranking.measured:
        lines += ["", strong("What was measured")]
        lines += [line for text in ranking.measured for line in wrap_lines(text, " " * 6, "  ", width)]
    if ranking.alike:
        lines += ["", strong("Looked alike")]
        for one in ranking.alike:
            lines += wrap_lines(tell_alike(one), " " * 6, "  ", width)
    lines += ["", *wrap_lines(ranking.fit.note, width=width)]
    if ranking.unused:
        lines += wrap_lines(f"Carries no weight on this unit: {', '.join(ranking.unused)}.", width=width)
    if (audit := ranking.audit) is not None:
        text = f"Recomputed by {audit.engine} for the first {audit.causes} causes: largest difference "
        text += f"{audit.max_abs_difference:.1e} ({audit.seconds:.1f} s there, {ranking.seconds:.2f} s here)."
        lines += ["", *wrap_lines(text, width=width)]
    return "\n".join(lines)


def _render_cause(place: int, cause: RankedCause, width: int, strong: Mark) -> list[str]:
    spread = f"({cause.low * 100:.0f} to {cause.high * 100:.0f})"
    title = f"{say_percent(cause.probability)} {spread}  {cause.label}"
    lines = wrap_lines(title, " " * 8, f"  {place:>2}. ", width)
    lines[0] = lines[0].replace(cause.label, strong(cause.label))
    lines += _render_reasons("for:", cause.speaks_for, width)
    lines += _render_reasons("against:", cause.speaks_against, width)
    return lines


def _render_reasons(word: str, reasons: Sequence[Reason], width: int) -> list[str]:
    if not reasons:
        return []
    text = "; ".join(f"{reason.label} ({reason.decibans:+.0f})" for reason in reasons[:SHOWN_REASONS])
    return wrap_lines(text, indent=" " * 15, first=f"      {word:<9}", width=width)


def tell_alike(case: AlikeCase) -> str:
    """Say of a case that looked alike what it presented, what it was, what it shares and what tells it apart."""
    whose = "Your own case" if case.source == OWN_SHOP else "Published repair"
    cause = case.cause.rstrip(". ") or "not known"
    told = f"{whose} {case.id}: {case.presented.rstrip('. ')}. It was: {cause}{f' ({case.area})' if case.area else ''}."
    shared = "; ".join(f"{sign.label} ({sign.decibans:+.0f})" for sign in case.shared)
    apart = "; ".join(map(_tell_apart, case.apart))
    likely = f"One cause made both {say_odds(case.factor_decibans)} as likely as two would."
    parts = [told, likely, f"Alike in: {shared}." if shared else "", f"Apart: {apart}." if apart else ""]
    return " ".join(part for part in parts if part)


def name_alike(case: AlikeCase) -> str:
    """Say in one line what a case that looked alike was."""
    cause = textwrap.shorten(case.cause, LONGEST_CAUSE, placeholder=" ...").rstrip(". ")
    whose = "Your own case" if case.source == OWN_SHOP else "Published repair"
    return f"{whose} {case.id} looked alike: {cause or 'its cause is not known'} (r: more)"


def _tell_apart(sign: Apart) -> str:
    weight = f" ({sign.decibans:+.0f})" if abs(sign.decibans) >= LEAST_WEIGHT else ""
    there = "nothing told" if sign.there is None else sign.there
    return f"{sign.label}: there {there}, here {sign.here}{weight}"


def say_odds(decibans: float) -> str:
    """Say a weight of evidence as so many times, in two figures at most.

    Example:
        >>> say_odds(12.0), say_odds(20.6), say_odds(31.0)
        ('16 times', '110 times', 'over 1,000 times')
    """
    times = 10 ** (decibans / 10)
    if times > LARGEST_ODDS:
        return f"over {LARGEST_ODDS:,} times"
    return f"{float(f'{times:.1e}'):,.0f} times"
