"""The options as text for the counter: price, chance, what comes after, and how sure we are."""

from collections.abc import Sequence

from shiftlore.advising import NotChecked, Option, Options
from shiftlore.reports.wording import LETTERS, WIDTH, Mark, leave_plain, say_km, say_money, say_percent, wrap_lines

INDENT = "     "
LINE_NAMES = {
    "labour": "labour",
    "access": "opening and closing",
    "parts": "parts",
    "fluids": "fluid and small parts",
    "follow_ups": "what must follow",
    "road_test": "road test",
}
WHY_NOT = {"not_known": "nobody knows", "no_weight": "says nothing on this unit", "no_tool": "tool missing here"}


def render_options(offered: Options, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write the options as text.

    Args:
        strong: how headings are set off; leaves the text alone by default.
    """
    distance = f", {say_km(offered.odometer_km)}" if offered.odometer_km is not None else ""
    lines = [strong(f"Options for the owner ({offered.unit}{distance})")]
    for letter, option in zip(LETTERS, offered.options, strict=False):
        lines += ["", *_render_option(letter, option, offered, width, strong)]
    if offered.budget is not None:
        lines += ["", strong("Budget"), *wrap_lines(offered.budget.says, indent="  ", width=width)]
    lines += ["", strong("If nothing is done")]
    lines += wrap_lines(offered.options[0].if_nothing_done, indent="  ", width=width)
    lines += ["", strong("How sure we are"), *wrap_lines(offered.sureness.says, indent="  ", width=width)]
    lines += _render_not_checked(offered.sureness.not_checked, width)
    return "\n".join(lines)


def _render_option(letter: str, option: Option, offered: Options, width: int, strong: Mark) -> list[str]:
    marks = [
        word
        for word, holds in (
            ("advised", option.advised),
            ("over budget", not option.within_budget),
            ("beaten by another", not option.on_frontier),
        )
        if holds
    ]
    mark = f"  [{', '.join(marks)}]" if marks else ""
    lines = wrap_lines(f"{option.label}{mark}", indent=INDENT, first=f"  {letter}  ", width=width)
    lines = [strong(line) for line in lines]
    if option.kind == "check" and not option.checks:
        return lines
    lines += wrap_lines(_say_price(option, offered.currency), indent=INDENT, width=width)
    if option.kind != "nothing":
        lines += wrap_lines(_say_chance(option), indent=INDENT, width=width)
    total = f"In the end, all that follows included: about {say_money(option.expected_total, offered.currency)}."
    lines += wrap_lines(total, indent=INDENT, width=width)
    for text in (_say_parts(option, offered.currency), _say_after(option, offered.currency), _say_follow_ups(option)):
        if text:
            lines += wrap_lines(text, indent=INDENT, width=width)
    if option.not_covered and option.kind not in ("nothing", "check"):
        lines += wrap_lines(f"Not covered: {option.not_covered}", indent=INDENT, width=width)
    return lines


def _say_price(option: Option, currency: str) -> str:
    cost = option.cost
    if option.kind == "check" and option.checks:
        return (
            f"The check alone {say_money(option.first_cost.typical, currency)}; with the repair that it leads to "
            f"{_span(cost.low, cost.typical, cost.high, currency)}."
        )
    stands = "" if option.days <= 0 else f" Stands {say_days(option.days)}."
    return f"{_span(cost.low, cost.typical, cost.high, currency)}.{stands}"


def _span(low: float, typical: float, high: float, currency: str) -> str:
    if high - low < 1:
        return say_money(typical, currency)
    return f"{say_money(typical, currency)} ({low:,.0f} to {high:,.0f})"


def say_days(days: float) -> str:
    """Write how long a vehicle stands: `half a day`, `1 day`, `3 days`.

    Example:
        >>> say_days(0.5), say_days(1), say_days(1.5)
        ('half a day', '1 day', '1.5 days')
    """
    if days <= 0.5:
        return "half a day"
    return "1 day" if days == 1 else f"{days:g} days"


def _say_chance(option: Option) -> str:
    spread = f"({option.p_cured_low * 100:.0f} to {option.p_cured_high * 100:.0f})"
    return f"Chance that the complaint is gone: {say_percent(option.p_cured)} {spread}."


def _say_parts(option: Option, currency: str) -> str:
    if option.kind in ("nothing", "check"):
        return ""
    lines = [f"{LINE_NAMES[line.what]} {line.typical:,.0f}" for line in option.cost.lines if line.typical >= 1]
    return f"Made of: {', '.join(lines)} ({currency})." if lines else ""


def _say_after(option: Option, currency: str) -> str:
    after = option.if_not_cured
    if after is None:
        return ""
    if not after.jobs:
        return "If it does not help: nothing more is worth doing in this shop; it then lies outside what this covers."
    text = f"If it does not help: {after.label}, {say_money(after.cost.typical, currency)}"
    if after.saved_together >= 1:
        text += f" ({say_money(after.saved_together, currency)} less if both are ordered together)"
    return text + "."


def _say_follow_ups(option: Option) -> str:
    named = [
        item.label + (" (by a shop with the maker's programming gear)" if item.who == "equipped_shop" else "")
        for item in option.follow_ups
    ]
    return f"Must follow: {'; '.join(named)}." if named else ""


def _render_not_checked(items: Sequence[NotChecked], width: int) -> list[str]:
    if not items:
        return []
    named = "; ".join(f"{item.label} ({WHY_NOT[item.why]})" for item in items)
    return wrap_lines(f"Could not be looked at: {named}.", indent="  ", width=width)
