"""The page for the shop's head: what its closed cases add up to, one sheet in the style of the owner's page.

It asks for nothing from outside and names no owner. Every label is escaped. With few cases it says that they are too few.
"""

import datetime
from collections.abc import Callable, Iterable, Sequence
from html import escape

from shiftlore.casebook.tallies import Belief, CasebookReport, NamedCount, ReliabilityBand, WilsonShare
from shiftlore.knowledge import Shop
from shiftlore.reports.page_style import (
    FACES,
    GRID,
    INK,
    LARGEST_POINTS,
    PAPER,
    SOFT,
    frame_page,
    head_page,
    svg_text,
    write_style,
)
from shiftlore.reports.wording import say_km, say_minutes, say_money

FEWEST = 10
"""Cases below which a share tells nothing: its interval then is wider than half of all there is (Wilson, at 95 %)."""
NO_DIFFERENCE = 0.1
"""Part of the Brier score within which it tells no more and no less (judgement)."""
MOST_ROWS, MOST_CHECKS, MOST_TAUGHT = 8, 8, 6
SIDE, EDGE, BELOW, ABOVE = 400, 48, 58, 26
"""Width of the picture of reliability, and its rims: left, below, above."""
TICKS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
_TOO_FEW = f"Too few to say: below {FEWEST} cases a share tells next to nothing."


def render_casebook_page(report: CasebookReport, shop: Shop, day: datetime.date, paper: str = "a4") -> str:
    """Write the whole page as HTML.

    Args:
        shop: whose name stands on it.
        day: date of the page; paper: `a4` or `letter`.
    """
    parts = [_heads(report), _came_in(report), _checks(report), _belief(report.belief), _taught(report)]
    body = "\n".join(parts) if report.n else f'<section class="advice"><strong>{escape(_EMPTY)}</strong></section>'
    title = escape(f"What our closed cases say – {shop.name}" if shop.name else "What our closed cases say")
    whole = f"{_header(report, shop, day)}\n<main>\n{body}\n</main>\n{_footer(report)}"
    return frame_page(title, write_style(paper, LARGEST_POINTS, "casebook_page.css"), whole)


_EMPTY = "No case is closed yet. Close the first one with: shiftlore close CASE"


def _header(report: CasebookReport, shop: Shop, day: datetime.date) -> str:
    facts = [("Date", day.isoformat()), ("Closed cases", str(report.n))]
    if report.first:
        facts.append(("Closed from", f"{report.first} to {report.last}"))
    if report.forgotten:
        facts.append(("Forgotten since", str(report.forgotten)))
    return head_page("What our closed cases say", facts, shop.name)


def _heads(report: CasebookReport) -> str:
    """Write the four figures that are looked at first."""
    distances = report.distances
    span = list(dict.fromkeys(say_km(distance) for distance in (*distances[:1], *distances[-1:])))
    back = f"after {' to '.join(span)}" if span else ""
    money = "not told" if report.median_spent is None else say_money(report.median_spent, report.currency).strip()
    idle = say_money(report.idle_money, report.currency).strip() if report.checks else "nothing to count"
    made = sum(check.made for check in report.checks)
    figures = [
        ("Cured at the first visit", *_say_share(report.cured)),
        ("Came back", *_say_share(report.comebacks, back)),
        (
            "Spent on a vehicle, the middle one",
            money,
            f"told of {_count(report.n_spent, 'case')}; {say_minutes(report.minutes)} of work "
            f"in {_count(report.n_minutes, 'case')}",
        ),
        ("Checks that moved nothing", idle, f"of {_count(made, 'check')} whose result was noted" if made else ""),
    ]
    told = "".join(
        f'<div><span class="range">{escape(name)}</span><span class="big">{escape(big)}</span>'
        f'<span class="range">{escape(small)}</span></div>'
        for name, big, small in figures
    )
    return f'<section class="heads" aria-label="At a glance">{told}</section>'


def _say_share(share: WilsonShare, more: str = "") -> tuple[str, str]:
    """Say a share large, and its interval small; with few cases only the count."""
    counted = f"{share.hits} of {share.of}"
    told = f"{counted}{f', {more}' if more else ''}"
    if share.of < FEWEST:
        return counted, f"{f'{more}. ' if more else ''}{_TOO_FEW}"
    return f"{share.hits / share.of * 100:.0f} %", f"{told}; {_say_interval(share)}"


def _say_interval(share: WilsonShare) -> str:
    return f"between {share.low * 100:.0f} and {share.high * 100:.0f} %"


def _count(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def _came_in(report: CasebookReport) -> str:
    """Write what came in and what it was."""
    known = sum(one.count for one in report.areas)
    unknown = report.n - known
    left = f"Of {_count(unknown, 'case')} nobody knows what it was." if unknown else ""
    return (
        f'<div class="pictures part"><section><h2>What came in</h2>{_table(report.complaints, "Complaint")}</section>'
        f"<section><h2>Where the trouble lay</h2>{_table(report.areas, 'Area')}<p>{escape(left)}</p></section></div>"
        f'<section class="part"><h2>What it was</h2>{_table(report.causes, "Cause")}</section>'
    )


def _table(rows: Sequence[NamedCount], name: str) -> str:
    """Write counts as a table, the most frequent first; the rest as one line."""
    if not rows:
        return "<p>Nothing is told.</p>"
    cells = [(one.label, str(one.count)) for one in rows[:MOST_ROWS]]
    if rest := rows[MOST_ROWS:]:
        cells.append((f"{len(rest)} others", str(sum(one.count for one in rest))))
    return _grid((name, "Cases"), cells)


def _grid(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Write a table; all columns but the first hold numbers."""
    mark = ("", *(' class="n"' for _ in heads[1:]))
    head = "".join(f'<th scope="col"{one}>{escape(name)}</th>' for one, name in zip(mark, heads, strict=True))
    body = "".join(
        "<tr>" + "".join(f"<td{one}>{escape(text)}</td>" for one, text in zip(mark, row, strict=True)) + "</tr>"
        for row in rows
    )
    return f'<div class="wide"><table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'


def _checks(report: CasebookReport) -> str:
    """Write which checks moved nothing, and what these cost."""
    what = (
        "A check moved nothing where, without what it showed and with everything else that was known, the same cause would "
        "have been the likeliest. Its price is the work on it and what it uses up, by your own price book, without opening and "
        "closing the vehicle. A check that moved nothing was not always a mistake: nobody knew beforehand what it would show."
    )
    if not report.checks:
        return _part("Money spent on checks", f"<p>{escape('No check with a noted result is in the casebook.')}</p>")
    rows = [
        (one.label, str(one.made), str(one.idle), say_money(one.money, report.currency).strip())
        for one in report.checks[:MOST_CHECKS]
    ]
    table = _grid(("Check", "Made", "Moved nothing", "Spent on these"), rows)
    few = f"<p>{_TOO_FEW}</p>" if report.n < FEWEST else ""
    return _part("Money spent on checks that changed nothing", f"{few}{table}<p>{escape(what)}</p>")


def _part(title: str, inside: str) -> str:
    return f'<section class="part"><h2>{escape(title)}</h2>{inside}</section>'


def _belief(belief: Belief | None) -> str:
    """Write how far what the program believed could be trusted, with the picture of it."""
    title = "How far the program's word could be trusted"
    if belief is None:
        return _part(title, "<p>No case tells both what was believed and what it was.</p>")
    first, n = belief.first, belief.first.of
    if n < FEWEST:
        counted = f"The likeliest area was right in {first.hits} of {_count(n, 'case')}."
        return _part(title, f"<p>{escape(counted)} {_TOO_FEW}</p>")
    words = [
        f"Before the outcome was known, the likeliest area was right in {first.hits} of {n} cases "
        f"({_say_interval(first)}).",
        f"What it was had been given a chance of {belief.p_right * 100:.0f} % in the middle (geometric mean; the log score).",
        f"Brier score {belief.brier:.2f}: 0 is perfect; whoever had said {first.hits / n * 100:.0f} % every time would "
        f"have got {belief.brier_even:.2f}. {_judge(belief)}",
    ]
    caption = (
        "Each dot: the cases in which the likeliest area was given about this chance, and how often it was right. On the line "
        "word and world agree; below it the program was too sure. Strokes: intervals of Wilson at 95 %; numbers: cases."
    )
    picture = draw_reliability(belief.bands)
    told = "".join(f"<p>{escape(text)}</p>" for text in words)
    return (
        f'<div class="pictures part"><section><h2>{escape(title)}</h2>{told}</section>'
        f"<figure>{picture}<figcaption>{escape(caption)}</figcaption></figure></div>"
    )


def _judge(belief: Belief) -> str:
    """Say whether the figures told the sure cases from the unsure ones; a tenth of the score is no difference."""
    if belief.brier < (1 - NO_DIFFERENCE) * belief.brier_even:
        return "So its figures told the sure cases from the unsure ones."
    if belief.brier > (1 + NO_DIFFERENCE) * belief.brier_even:
        return "So its figures misled: one figure for all would have been better."
    return "So its figures were about as good as one figure for all."


def draw_reliability(bands: Sequence[ReliabilityBand]) -> str:
    """Draw how often what was given some chance was right, with counts and intervals.

    Source: the reliability diagram, DeGroot and Fienberg 1983, "The comparison and evaluation of forecasters".
    """
    height = SIDE - EDGE + BELOW + ABOVE - 12
    right, bottom = SIDE - 12, height - BELOW

    def at(p: float) -> float:
        return EDGE + (right - EDGE) * p

    def up(p: float) -> float:
        return bottom - (bottom - ABOVE) * p

    parts = []
    for tick in TICKS:
        parts.append(_line(at(tick), up(0), at(tick), up(1), GRID) + _line(at(0), up(tick), at(1), up(tick), GRID))
        parts.append(svg_text(at(tick), bottom + 18, f"{tick * 100:.0f}", anchor="middle"))
        parts.append(svg_text(EDGE - 8, up(tick) + 4, f"{tick * 100:.0f}", anchor="end"))
    parts.append(_line(at(0), up(0), at(1), up(1), INK, more=' stroke-dasharray="5 4"'))
    for band in bands:
        x, y = at(band.mean), up(band.right.hits / band.right.of)
        parts.append(_line(x, up(band.right.low), x, up(band.right.high), SOFT))
        parts.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="{SOFT}" stroke="{PAPER}" stroke-width="1.5"/>')
        anchor, side = ("end", -10) if band.mean > 0.85 else ("start", 10)
        parts.append(svg_text(x + side, y + 5, f"{band.right.hits}/{band.right.of}", anchor=anchor, bold=True))
    parts.append(svg_text(right, bottom + 40, "chance that it was given, % →", anchor="end"))
    parts.append(svg_text(4, 14, "↑ right, %"))
    describe = "; ".join(
        f"given about {band.mean * 100:.0f} %: right in {band.right.hits} of {band.right.of}" for band in bands
    )
    return (
        f'<svg viewBox="0 0 {SIDE} {height}" role="img" aria-labelledby="reliability-title reliability-text"'
        f' font-family="{FACES}" fill="{INK}"><title id="reliability-title">What was believed and what it was</title>'
        f'<desc id="reliability-text">{escape(describe)}</desc>{"".join(parts)}</svg>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, colour: str, *, more: str = "") -> str:
    wide = 2 if colour == SOFT else 1
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{wide}"{more}/>'
    )


def _taught(report: CasebookReport) -> str:
    """Write what the overlay that the shop uses says otherwise than the rules."""
    title = "What our cases have taught"
    if not report.n_taught:
        how = "Nothing yet: no overlay is in use. Learn one with: shiftlore learn --casebook --into overlay.yaml"
        return _part(title, f"<p>{escape(how)}</p>")
    rows = [(what, _rate(rules), _rate(now), _rate(seen)) for what, rules, now, seen in report.taught[:MOST_TAUGHT]]
    told = f"From {_count(report.n_taught, 'case')}: how common a cause is, per 1,000 complaints; most changed first."
    table = _grid(("Cause", "By the rules", "With our cases", "Seen"), rows) if rows else ""
    return _part(title, f"<p>{escape(told)}</p>{table}")


_rate: Callable[[float], str] = "{:.1f}".format


def _footer(report: CasebookReport) -> str:
    notes = [
        "Intervals are Wilson's at 95 %: in 95 of 100 such shops the true share lies inside. Prices are without tax."
    ]
    if report.forgotten:
        notes.append(f"{_count(report.forgotten, 'forgotten case')} stand in no figure here.")
    if report.n_unread:
        notes.append(
            f"{_count(report.n_unread, 'case')} could not be read under today's rules, and tell nothing of checks."
        )
    return f'<footer><p class="print">{escape(" ".join(filter(None, notes)))}</p></footer>'
