"""The options as text for the counter: price, chance, what comes after, and how sure we are."""

from shiftlore.advising import LeftOut, Option, Options
from shiftlore.reports.wording import (
    LETTERS,
    WIDTH,
    Mark,
    leave_plain,
    say_km,
    say_money,
    say_percent,
    say_price_basis,
    wrap_lines,
)

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
    '"In the end" is what is paid on average until the complaint is gone, further repairs included; a vehicle that nobody '
    "cures counts with {uncured}."
)
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
    if offered.left_out is not None:
        lines += ["", strong("Only a service?")]
        lines += wrap_lines(_say_left_out(offered.left_out, offered.currency), indent="  ", width=width)
    lines += ["", strong("How sure we are"), *wrap_lines(offered.sureness.says, indent="  ", width=width)]
    if named := "; ".join(f"{item.label} ({WHY_NOT[item.why]})" for item in offered.sureness.not_checked):
        lines += wrap_lines(f"Could not be looked at: {named}.", indent="  ", width=width)
    uncured = say_money(offered.uncured_cost, offered.currency)
    basis = say_price_basis(offered.invented, offered.tax_percent)
    return "\n".join([*lines, "", *wrap_lines(f"{IN_THE_END.format(uncured=uncured)} {basis}".rstrip(), width=width)])


def _render_option(letter: str, option: Option, offered: Options, width: int, strong: Mark) -> list[str]:
    all_marks = {"advised": option.advised, "asked for": option.asked, "over budget": not option.within_budget}
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
        f"In the end about {say_money(option.expected_total, offered.currency)}.",
        _say_parts(option, offered.currency),
        _say_after(option, offered.currency),
        _say_follow_ups(option),
        "" if is_covered else f"Not covered: {option.not_covered}",
    ]
    return lines + [line for text in texts if text for line in wrap_lines(text, INDENT, width=width)]


def _say_left_out(left_out: LeftOut, currency: str) -> str:
    """Say what the plain service costs and how often it helps, and why it is not among the options."""
    cost, chance = left_out.cost, say_percent(left_out.p_cured)
    why = "for no more money another option helps more often" if left_out.beaten else "the money does more elsewhere"
    return (
        f"{left_out.label}: {say_money(cost.typical, currency)} ({cost.low:,.0f} to {cost.high:,.0f}), chance {chance}. "
        f"It is not listed because {why}. --job {left_out.jobs[0]} shows it in full."
    )


def _say_price(option: Option, currency: str) -> str:
    cost = option.cost
    span = "" if cost.high - cost.low < 1 else f" ({cost.low:,.0f} to {cost.high:,.0f})"
    whole = f"{say_money(cost.typical, currency)}{span}."
    if option.kind == "check" and option.checks:
        alone = say_money(option.first_cost.typical, currency)
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


def _say_chance(option: Option) -> str:
    spread = f"({option.p_cured_low * 100:.0f} to {option.p_cured_high * 100:.0f})"
    return f"Chance that the complaint is gone: {say_percent(option.p_cured)} {spread}."


def _say_parts(option: Option, currency: str) -> str:
    if option.kind == "check":
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
    who = {"equipped_shop": " (by a shop with the maker's programming gear)"}
    named = [item.label + who.get(item.who, "") for item in option.follow_ups]
    return f"Must follow: {'; '.join(named)}." if named else ""
