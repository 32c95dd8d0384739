"""What is said of a case as text: the ranking for the bench, the options for the counter."""

import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from shiftlore.ranking import AlikeCase, Apart, RankedCause, Ranking, Reason
from shiftlore.reports.wording import (
    LETTERS,
    WIDTH,
    Mark,
    leave_plain,
    say_first,
    say_km,
    say_money,
    say_percent,
    say_price_basis,
    wrap_banner,
    wrap_lines,
)

if TYPE_CHECKING:
    from shiftlore.advising import LeftOut, Option, Options

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
    lines += wrap_banner(ranking.danger, width, strong)
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


INDENT = "     "
LINE_NAMES = {
    "labour": "labour",
    "access": "opening and closing",
    "parts": "parts",
    "fluids": "fluid and small parts",
    "follow_ups": "what must follow",
    "road_test": "road test",
    "borrowed": "tools borrowed",
}
IN_THE_END = (
    '"In the end" is what is paid on average, whatever the budget, if the work goes on until the complaint is gone or nothing '
    "more is worth doing, and how often it is then gone. Where options are weighed, a vehicle that nobody cures counts with "
    "{uncured}, which nobody pays."
)
WEIGH_WORTH = (
    "Weigh the dear options against what the vehicle is worth, as it stands and repaired: where that is less, the cheap ones "
    "or selling it as it is are the honest way."
)
STOPGAP = "Only to go on for a while: {label}, {cost}. The fault stays: look every week, and stop when it grows."
WHY_NOT = {"not_known": "nobody knows", "no_weight": "says nothing on this unit", "no_tool": "tool missing here"}

TRIED = {
    "came_back": "Such work was done for this before and helped for a time: once more it buys some weeks.",
    "not_cured": "Such work was done for this before and did not cure it.",
}
"""What is said of work that is done again."""

ADVISED_THEN = "advised when that fails"
LOOK_FIRST = "this costs little beside the repair that would follow, and may show what nobody thought of."
SURER = 0.005
NOT_WORTH_IT = "that is less than can be told apart."
AT_ONCE = "costs less and helps no less often at the first try, but more in the end: more is repaired in vain."
"""Why something is advised all the same."""


def render_options(offered: "Options", width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write the options as text.

    Args:
        strong: how headings are set off; leaves the text alone by default.
    """
    distance = f", {say_km(offered.odometer_km)}" if offered.odometer_km is not None else ""
    lines = [strong(f"Options for the owner ({offered.unit}{distance})")]
    if first := offered.danger.says if offered.danger else " ".join(one.says for one in offered.do_now):
        lines += ["", *(strong(line) for line in wrap_lines(first, indent="  ", width=width))]
    if first := say_first(offered.others_work, offered.warranty):
        lines += ["", *(strong(line) for line in wrap_lines(first, indent="  ", width=width))]
    for letter, option in zip(LETTERS, offered.options, strict=False):
        lines += ["", *_render_option(letter, option, offered, width, strong)]
    if offered.budget is not None:
        lines += ["", strong("Budget"), *wrap_lines(offered.budget.says, indent="  ", width=width)]
    if offered.left_out is not None:
        lines += ["", strong("Only a service?")]
        lines += wrap_lines(_say_left_out(offered.left_out, offered.currency), indent="  ", width=width)
    if offered.stopgap is not None:
        cost = say_money(offered.stopgap.cost.typical, offered.currency)
        lines += ["", *wrap_lines(STOPGAP.format(label=offered.stopgap.label, cost=cost), indent="  ", width=width)]
    if offered.weigh_worth:
        lines += ["", *wrap_lines(WEIGH_WORTH, indent="  ", width=width)]
    lines += ["", strong("How sure we are"), *wrap_lines(offered.sureness.says, indent="  ", width=width)]
    if named := "; ".join(f"{item.label} ({WHY_NOT[item.why]})" for item in offered.sureness.not_checked):
        lines += wrap_lines(f"Could not be looked at: {named}.", indent="  ", width=width)
    uncured = say_money(offered.uncured_cost, offered.currency)
    basis = say_price_basis(offered.invented, offered.tax_percent)
    return "\n".join([*lines, "", *wrap_lines(f"{IN_THE_END.format(uncured=uncured)} {basis}".rstrip(), width=width)])


def _render_option(letter: str, option: "Option", offered: "Options", width: int, strong: Mark) -> list[str]:
    goes_back = option.kind != "nothing" and (offered.others_work or offered.warranty)
    all_marks = {ADVISED_THEN if goes_back else "advised": option.advised, "asked for": option.asked}
    all_marks["over budget"] = not option.within_budget
    all_marks["its repair over budget"] = option.within_budget and not option.repair_within_budget
    all_marks["beaten by another"] = not option.on_frontier
    marks = ", ".join(word for word, holds in all_marks.items() if holds)
    title = option.label + (f"  [{marks}]" if marks else "")
    lines = [strong(line) for line in wrap_lines(title, INDENT, f"  {letter}  ", width)]
    if option.kind == "check" and not option.checks:
        return lines
    is_covered = option.kind == "check" or not option.not_covered
    if option.kind == "nothing":
        says = f"{_say_price(option, offered.currency)} {option.if_nothing_done}"
        return [*lines, *wrap_lines(says, INDENT, width=width)]
    texts = [
        _say_price(option, offered.currency),
        _say_chance(option),
        f"In the end about {say_money(option.paid_in_the_end, offered.currency)}, cured "
        f"{say_percent(option.cured_in_the_end)}. {_say_why(option, offered)}".rstrip(),
        TRIED.get(option.tried, ""),
        _say_parts(option, offered.currency),
        _say_after(option, offered.currency),
        _say_follow_ups(option),
        "" if is_covered else f"Not covered: {option.not_covered}",
    ]
    return lines + [line for text in texts if text for line in wrap_lines(text, INDENT, width=width)]


def _say_why(option: "Option", offered: "Options") -> str:
    """Say why an option is advised where another looks better by the numbers that stand beside it."""
    rivals = [(letter, one) for letter, one in zip(LETTERS, offered.options, strict=False) if one.jobs and one.is_paid]
    if not option.advised:
        return ""
    least = min(rivals, key=lambda rival: rival[1].paid_in_the_end, default=("", option))
    saved = option.paid_in_the_end - least[1].paid_in_the_end
    if saved >= 1 and option.cured_in_the_end - least[1].cured_in_the_end >= SURER:
        return f"{least[0]} may cost {say_money(saved, offered.currency)} less in the end, but cures less often."
    if saved >= 1:
        why = LOOK_FIRST if option.kind == "check" else NOT_WORTH_IT
        return f"{least[0]} may cost {say_money(saved, offered.currency)} less in the end; {why}"
    beating = [(letter, one) for letter, one in rivals if one.kind != "check"
               and one.cost.typical <= option.cost.typical and one.p_cured >= option.p_cured]  # fmt: skip
    surest = max(
        (rival for rival in beating if rival[1] is not option), key=lambda rival: rival[1].p_cured, default=None
    )
    return f"{surest[0]} {AT_ONCE}" if surest else ""


def _say_left_out(left_out: "LeftOut", currency: str) -> str:
    """Say what the plain service costs and how often it helps, and why it is not among the options."""
    cost, chance = left_out.cost, say_percent(left_out.p_cured)
    why = "for no more money another option helps more often" if left_out.beaten else "the money does more elsewhere"
    return (
        f"{left_out.label}: {say_money(cost.typical, currency)} ({cost.low:,.0f} to {cost.high:,.0f}), chance {chance}. "
        f"It is not listed because {why}. --job {left_out.jobs[0]} shows it in full."
    )


def _say_price(option: "Option", currency: str) -> str:
    cost = option.cost
    span = "" if cost.high - cost.low < 1 else f" ({cost.low:,.0f} to {cost.high:,.0f})"
    whole = f"{say_money(cost.typical, currency)}{span}."
    if option.kind == "check" and option.checks:
        alone = say_money(option.first_cost.typical, currency)
        if option.waiting >= 1:
            alone += f", and {say_money(option.waiting, currency)} for the time that the vehicle waits"
        return f"{whole[:-1]} with the repair that it leads to; the check alone {alone}."
    return whole if option.days <= 0 else f"{whole} Stands {say_days(option.days)}."


def say_days(days: float) -> str:
    """Write how long a vehicle stands: `half a day`, `1 day`, `3 days`.

    Example:
        >>> say_days(0.5), say_days(1), say_days(1.5)
        ('half a day', '1 day', '1.5 days')
    """
    if days <= 0.5:
        return "half a day"
    return "1 day" if days == 1 else f"{days:g} days"


def _say_chance(option: "Option") -> str:
    spread = f"({option.p_cured_low * 100:.0f} to {option.p_cured_high * 100:.0f})"
    return f"Chance that the complaint is gone: {say_percent(option.p_cured)} {spread}."


def _say_parts(option: "Option", currency: str) -> str:
    if option.kind == "check":
        return ""
    lines = [f"{LINE_NAMES[line.what]} {line.typical:,.0f}" for line in option.cost.lines if line.typical >= 1]
    return f"Made of: {', '.join(lines)} ({currency})." if lines else ""


def _say_after(option: "Option", currency: str) -> str:
    after = option.if_not_cured
    if after is None:
        return ""
    if not after.jobs:
        return "If it does not help: nothing more is worth doing in this shop; it then lies outside what this covers."
    if after.is_guess:
        return "If it does not help: we look again before anything else is bought."
    text = f"If it does not help: {after.label}, {say_money(after.cost.typical, currency)}"
    if after.saved_together >= 1:
        text += f" ({say_money(after.saved_together, currency)} less if both are ordered together)"
    return text + "."


def _say_follow_ups(option: "Option") -> str:
    who = {"equipped_shop": " (by a shop with the maker's programming gear)"}
    named = [item.label + who.get(item.who, "") for item in option.follow_ups]
    return f"Must follow: {'; '.join(named)}." if named else ""
