"""An explanation as text: the essentials on the first screen, every line and every rule when asked for."""

from collections.abc import Callable, Iterable, Iterator, Mapping

from shiftlore.advising import Explanation, Told
from shiftlore.reports.wording import (
    PROCEDURE_FIRST,
    WIDTH,
    Mark,
    leave_plain,
    of_hundred,
    say_money,
    say_percent,
    say_price_basis,
    wrap_lines,
)

FACT_WIDTH, FIRST_FACTS = 15, 3
SHOWN = 4
HEADINGS: Mapping[str, str] = {
    "shows": "How it shows, in how many of 100 vehicles (in brackets: among all complaints)",
    "mistaken_for": "What it is mistaken for, and what tells them apart",
    "checked_by": "How to look",
    "cured_by": "What puts it right",
    "answers": "Answers, and in how many of 100 complaints",
    "speaks_for": "What it speaks for: of 100 vehicles that show it, how many have this cause",
    "no_speaks_against": "If it is as it should be, that speaks against",
    "reveals": "What it tells",
    "cures": "What it puts right",
    "parts": "What goes into it",
    "follows": "What must follow",
    "mind": "Mind",
}
IN_FULL = ("mind", "follows")
"""Sections of which nothing is left out: what can hurt, and what must be done."""


def render_explanation(
    told: Explanation, width: int = WIDTH, strong: Mark = leave_plain, everything: bool = False
) -> str:
    """Write an explanation.

    Args:
        strong: how headings are set off.
        everything: every line of every section, and every rule with its place.
    """
    lines = [strong(line) for line in wrap_lines(f"{told.label}  [{told.kind} {told.id}]", width=width)]
    if told.says:
        lines += wrap_lines(told.says, width=width)
    facts = list(_list_facts(told))
    lines += _write_facts(facts[:FIRST_FACTS], width)
    for name, section in told.sections.items():
        lines += ["", *(strong(line) for line in wrap_lines(HEADINGS[name], width=width))]
        shown = section if everything or name in IN_FULL else section[:SHOWN]
        for line in shown:
            lines += _WRITERS.get(name, _write_plain)(line, told.currency, width)
        if len(section) > len(shown):
            lines.append(f"  and {len(section) - len(shown)} more (--all)")
    lines += ["", *_write_facts(facts[FIRST_FACTS:], width), "", *_write_rules(told, width, strong, everything)]
    if told.also:
        named = ", ".join(f"{record_id} ({kind})" for kind, record_id in told.also[:SHOWN])
        lines += ["", *wrap_lines(f"The words may also mean: {named}.", width=width)]
    last = f"{say_price_basis(told.invented, told.tax_percent)} {PROCEDURE_FIRST}".strip()
    return "\n".join([*lines, "", *wrap_lines(last, width=width)])


def _list_facts(told: Explanation) -> Iterator[tuple[str, str]]:
    if told.cost is not None:
        yield "costs", _say_cost(told, told.currency)
    yield from told.facts.items()
    among = f" (here for {told.id}; there are {len(told.instances)} of the kind)" if told.instances else ""
    yield "worked out on", f"{told.unit}{among}"


def _write_facts(facts: Iterable[tuple[str, str]], width: int) -> list[str]:
    return [
        line
        for name, text in facts
        for line in wrap_lines(text, " " * (FACT_WIDTH + 2), f"  {name:<{FACT_WIDTH}}", width)
    ]


def _say_cost(told: Told | Explanation, currency: str) -> str:
    """Say a price with its span: `EUR 437 (332 to 632)`."""
    cost = told.cost
    if cost is None:
        return ""
    span = f" ({cost.low:,.0f} to {cost.high:,.0f})" if cost.high - cost.low >= 1 else ""
    return say_money(cost.typical, currency) + span


def _write_plain(told: Told, currency: str, width: int) -> list[str]:
    """Write what it is called, what it costs, what it shows, and what is said of it."""
    head = "; ".join(part for part in (told.label, _say_cost(told, currency)) if part)
    shows = f"shows {'; '.join(told.details)}" if told.details else ""
    text = ". ".join(part for part in (told.says, shows) if part)
    return wrap_lines(f"{head}: {text}" if text else head, "    ", "  ", width)


def _write_sign(told: Told, currency: str, width: int) -> list[str]:
    named = f"; in {told.published} published repair{'s' * (told.published > 1)}" if told.published else ""
    text = f"{of_hundred(told.p or 0.0):>4}  {told.word}: {told.label} ({of_hundred(told.usual or 0.0)}){named}"
    return wrap_lines(text, " " * 8, "  ", width)


def _write_likeness(told: Told, currency: str, width: int) -> list[str]:
    apart = f" Look at: {'; '.join(told.details)}." if told.details else ""
    return wrap_lines(f"{told.label}. {told.says}{apart}", "    ", "  ", width)


def _write_cure(told: Told, currency: str, width: int) -> list[str]:
    cost = _say_cost(told, currency)
    return wrap_lines(
        f"{told.label}: {told.word} ({say_percent(told.p or 0.0)}){f'; {cost}' if cost else ''}", "    ", "  ", width
    )


def _write_answer(told: Told, currency: str, width: int) -> list[str]:
    return wrap_lines(f"{of_hundred(told.usual or 0.0):>4}  {told.label} ({told.id})", " " * 8, "  ", width)


def _write_cause(told: Told, currency: str, width: int) -> list[str]:
    share = "" if told.share is None else f"{of_hundred(told.share):>4}  "
    answer = f"{told.says}: " if told.says else ""
    return wrap_lines(
        f"{share}{answer}{told.label}, which {told.word} shows it ({say_percent(told.p or 0.0)})", " " * 8, "  ", width
    )


def _write_part(told: Told, currency: str, width: int) -> list[str]:
    count = "" if told.says == "1" else f"{told.says} x "
    return wrap_lines(f"{count}{told.label}: {_say_cost(told, currency)}", "    ", "  ", width)


_WRITERS: Mapping[str, Callable[[Told, str, int], list[str]]] = {
    "shows": _write_sign,
    "mistaken_for": _write_likeness,
    "cured_by": _write_cure,
    "cures": _write_cure,
    "answers": _write_answer,
    "speaks_for": _write_cause,
    "no_speaks_against": _write_cause,
    "parts": _write_part,
}


def _write_rules(told: Explanation, width: int, strong: Mark, everything: bool) -> list[str]:
    """Write where the rules stand: in one line, or every one of them."""
    if not told.rules:
        return []
    sources = ", ".join(dict.fromkeys(rule.source for rule in told.rules))
    if not everything:
        more = f" and {len(told.rules) - 1} more lines (--all)" if len(told.rules) > 1 else ""
        return wrap_lines(f"Rules: {told.rules[0].place}{more}. Source: {sources}.", "  ", "", width)
    lines = [strong("Rules")]
    for rule in told.rules:
        lines += wrap_lines(f"{rule.place}  {rule.says} [{rule.source}]", "      ", "  ", width)
    return lines
