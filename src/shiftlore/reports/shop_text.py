"""What a shop keeps of its own, as text: settings and price book; closed cases, one in full, counts, an import.

Of settings and prices it says what is the shop's own, what is still an example, and how to set it.
"""

import json
from collections.abc import Mapping, Sequence
from typing import Any

from shiftlore.casebook import BookCounts, Closing, Entry, Imported, Tally, hide_password
from shiftlore.knowledge import CASEBOOK, KEYS, Knowledge, OwnShop, Price
from shiftlore.reports.wording import WIDTH, Mark, leave_plain, say_km, say_minutes, say_money, wrap_lines

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


SHORT_ID = 8
"""Digits of an id that are shown; more than enough to tell a shop's cases apart."""
NOBODY_KNOWS = "not known"
_HEAD = f"{'case':<{SHORT_ID}}  {'closed':<10}  {'unit':<14}  {'outcome':<9}  {'time':>11}  {'spent':>12}"
_LABELS = 16


def render_entries(entries: Sequence[Entry], width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write closed cases as a table: two lines for each, the second what it was."""
    if not entries:
        return "No closed case is like that."
    lines = [strong(_HEAD.rstrip())]
    for one in entries:
        time = say_minutes(one.minutes) if one.minutes is not None else ""
        money = say_money(one.spent, one.currency).strip() if one.spent is not None else ""
        facts = f"{one.id[:SHORT_ID]}  {one.closed_on}  {one.unit[:14]:<14}  {_words(one.outcome):<9}  {time:>11}  {money:>12}"
        lines += [facts.rstrip(), *wrap_lines(say_causes(one), " " * (SHORT_ID + 2), width=width)]
    lines += ["", f"{len(entries)} {'case' if len(entries) == 1 else 'cases'}."]
    return "\n".join(lines)


def render_entry(entry: Entry, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write one closed case in full."""
    case = json.loads(entry.case)
    came = f"{_words(entry.outcome)}{f', after {say_km(entry.comeback_km)}' if entry.comeback_km is not None else ''}"
    facts = {
        "vehicle": f"{entry.unit}{f', {say_km(entry.odometer_km)}' if entry.odometer_km is not None else ''}",
        "whose": entry.person,
        "came with": "; ".join(_words(str(one)) for one in case.get("complaint") or ()),
        "was found": "; ".join(_say_findings(case.get("findings") or {})),
        "it was": say_causes(entry) + (f" ({_HOW_KNOWN[entry.confirmed]})" if entry.confirmed else ""),
        "area": _words(entry.area),
        "was done": "; ".join(entry.job_labels),
        "came of it": came,
        "it took": say_minutes(entry.minutes) if entry.minutes is not None else "",
        "it cost": say_money(entry.spent, entry.currency).strip() if entry.spent is not None else "",
        "was believed": _say_belief(entry),
        "in words": " ".join([*map(str, case.get("said") or ()), str(case.get("note") or "")]).strip(),
    }
    lines = [strong(f"Case {entry.id}, closed on {entry.closed_on}")]
    for name, text in facts.items():
        lines += wrap_lines(text, " " * _LABELS, f"  {name:<{_LABELS - 2}}", width) if text else []
    for former in entry.history:
        after = f", after {say_km(former['comeback_km'])}" if former["comeback_km"] is not None else ""
        told = (
            f"{former['closed_on']}: {_words(former['outcome'])}{after}; {', '.join(former['causes']) or NOBODY_KNOWS}."
        )
        lines += wrap_lines(told, " " * _LABELS, f"  {'said before':<{_LABELS - 2}}", width)
    return "\n".join(lines)


_HOW_KNOWN = {"cured": "the job cured it", "seen": "it was seen", "assumed": "assumed"}


def say_causes(entry: Entry) -> str:
    """Say what a case was."""
    return "; ".join(entry.cause_labels or entry.causes) or NOBODY_KNOWS


def _words(name: str) -> str:
    return name.replace("_", " ")


def _say_findings(findings: Mapping[str, Any]) -> list[str]:
    said = {name: answer["is"] if isinstance(answer, dict) else answer for name, answer in findings.items()}
    return [f"{_words(name)}: {_words(str(answer))}" for name, answer in said.items() if answer is not None]


def _say_belief(entry: Entry) -> str:
    """Say what the program made of it before the outcome was known."""
    if not entry.templates or not entry.beliefs:
        return ""
    p = max(entry.beliefs.get(name, 0.0) for name in entry.templates)
    place = 1 + sum(other > p for other in entry.beliefs.values())
    return f"{p:.0%}".replace("%", " %") + f" before the last job, place {place}"


def render_counts(counts: BookCounts, width: int = WIDTH, strong: Mark = leave_plain) -> str:
    """Write how many cases of what; what is left of forgotten ones stands beside it."""
    tables = {
        "What came of it": counts.outcomes,
        "Where it lay": counts.areas,
        "What it was": counts.causes,
        "On which unit": counts.units,
    }
    lines = wrap_lines(_say_sum(counts.cases), width=width)
    for title, table in tables.items():
        if table:
            lines += ["", strong(title)]
            lines += [_render_tally(_words(name) or NOBODY_KNOWS, one) for name, one in table.items()]
    return "\n".join(lines)


def _say_sum(cases: Tally) -> str:
    here = f"{cases.here} closed {'case' if cases.here == 1 else 'cases'}"
    gone = f", and the counts of {cases.forgotten} that {'was' if cases.forgotten == 1 else 'were'} forgotten"
    return here + (gone if cases.forgotten else "") + "."


def _render_tally(name: str, one: Tally) -> str:
    gone = f"   {one.forgotten} of them forgotten" if one.forgotten else ""
    return f"  {one.here + one.forgotten:>6}  {name}{gone}"


def render_closing(closing: Closing, n_cases: int, width: int = WIDTH, doubts: Sequence[str] = ()) -> str:
    """Say what was filed, and what of it does not go with the case."""
    one = closing.entry
    after = f", after {say_km(one.comeback_km)}" if one.comeback_km is not None else ""
    told = f"It was: {say_causes(one)}. What came of it: {_words(one.outcome)}{after}."
    if closing.is_new:
        others = f", with {n_cases - 1} other{'' if n_cases == 2 else 's'}" if n_cases > 1 else ""
        what = f"Closed on {one.closed_on}, and in the casebook{others}."
    elif closing.is_changed:
        what = "Changed in the casebook; what it said before is kept there."
    else:
        what = "It is in the casebook already, just so."
    wrong = (
        f"See whether it is right: {' '.join(doubts)} If it is not, close it again with what it was." if doubts else ""
    )
    return "\n".join(line for text in (told, what, wrong) if text for line in wrap_lines(text, "  ", "", width))


def render_import(done: Imported) -> str:
    """Say what became of the lines of an import."""
    told = [f"{done.new} new, {done.known} here already"]
    told += [f"{done.left_out} left out, for they were forgotten here or elsewhere"] if done.left_out else []
    told += [f"{done.bad} bad and left out"] if done.bad else []
    return f"{'; '.join(told)}."
