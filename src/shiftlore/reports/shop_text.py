"""A shop's settings and its price book as text: what is its own, what is still an example, and how to set it."""

from collections.abc import Sequence

from shiftlore.casebook import hide_password
from shiftlore.knowledge import CASEBOOK, KEYS, Knowledge, OwnShop, Price
from shiftlore.reports.wording import WIDTH, Mark, leave_plain, wrap_lines

NAME_WIDTH = 19
HOW = (
    "Set with KEY=VALUE, as many as you like: shiftlore shop labour_per_hour=95 tax_percent=20 currency=GBP; an empty "
    "value goes back to the example. Rate and prices are without tax."
)
HOW_PRICES = (
    "Set a price with ENTRY=PRICE or ENTRY=LOW/TYPICAL/HIGH; shiftlore shop --prices lists all, and shiftlore shop WORDS "
    "finds some."
)


def render_shop(knowledge: Knowledge, own: OwnShop, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write the settings, each with whether it is the shop's own.

    Args:
        knowledge: as it came, without what is the shop's own.
    """
    state = "" if own.path.exists() else " (not there yet: all below are examples)"
    lines = wrap_lines(f"Your shop: {own.path}{state}", "  ", "", width)
    for name in sorted(KEYS, key=lambda key: KEYS[key].holds == "texts"):
        value = own.settings.get(name, getattr(knowledge.shop, name, None))
        mark = "yours" if name in own.settings else "example" if value else "not set"
        shown = hide_password(_say_value(value)) if name == CASEBOOK else _say_value(value)
        lines += wrap_lines(f"{shown} [{mark}]", " " * (NAME_WIDTH + 2), f"  {name:<{NAME_WIDTH}}", width)
    lines += [
        "",
        *wrap_lines(f"Price book: {len(own.prices)} of {len(knowledge.prices)} prices are yours.", width=width),
    ]
    return "\n".join([*(strong(line) for line in lines[:1]), *lines[1:], *wrap_lines(HOW, width=width)])


def _say_value(value: object) -> str:
    if isinstance(value, tuple):
        return ", ".join(value) or "none"
    return f"{value:g}" if isinstance(value, int | float) else str(value or "none")


def render_prices(prices: Sequence[Price], own: OwnShop, currency: str, width: int = WIDTH) -> str:
    """Write entries of the price book: id, low, typical and high without tax, label."""
    lines = [
        f"{'':<28}{'low':>7}{'typical':>9}{'high':>7}  {currency}, without tax;",
        " " * 53 + "examples but for yours",
    ]
    for price in prices:
        price = own.prices.get(price.id, price)
        mark = " [yours]" if price.id in own.prices else ""
        span = f"{price.low:>7,.6g}{price.typical:>9,.6g}{price.high:>7,.6g}"
        lines += wrap_lines(f"{price.label}{mark}", " " * 53, f"{price.id:<28}{span}  ", width)
    return "\n".join([*lines, "", *wrap_lines(HOW_PRICES, width=width)])
