"""The page for the owner: one sheet of paper, in plain words, that asks for nothing from outside.

Everything that comes from a case or from the shop is escaped. All words come from the phrases of a language.
"""

import datetime
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

from shiftlore.advising import LeftOut, Option, Options, Risk, put_likely_first
from shiftlore.knowledge import Shop
from shiftlore.reports.page_style import (
    Bar,
    PageText,
    Point,
    Row,
    choose_ticks,
    draw_bars,
    draw_points,
    fit_points,
    frame_page,
    lengths,
    write_style,
)
from shiftlore.reports.wording import LETTERS, Numbers, of_hundred, share_hundred
from shiftlore.words import Phrases, fill_slots

LETTER_PAPER = ("US", "CA", "MX")
"""Countries that print on Letter (common practice)."""

MOST_BARS = 5
P_BAR = 0.03
JOIN = " + "
HALF_DAY = 0.5
NOW = {"strands": "strands_now"}
TAG_LETTERS = 15
SURER = 0.005
"""What cures more often in the end by this much is surer; less is not seen on the page."""


@dataclass(frozen=True, slots=True)
class PageSettings:
    """What the page needs besides the options.

    Args:
        day: date of the page.
        paper: `a4` or `letter`.
        logo: data address of the shop's logo, or "".
    """

    shop: Shop
    day: datetime.date
    paper: str = "a4"
    logo: str = ""


def choose_paper(locale: str) -> str:
    """Choose the paper that a country prints on.

    Example:
        >>> choose_paper("en-US"), choose_paper("de"), choose_paper("en_CA")
        ('letter', 'a4', 'letter')
    """
    country = re.split(r"[-_]", locale)[-1].upper()
    return "letter" if country in LETTER_PAPER else "a4"


def render_page(offered: Options, phrases: Phrases, settings: PageSettings) -> str:
    """Write the whole page as HTML."""
    return _Page(offered, phrases, settings).render()


def _strip(html: str) -> str:
    """Take the marks out of a piece of the page, for measuring."""
    return re.sub(r"<[^>]*>", "", html).strip()


@dataclass(frozen=True)
class _Page:
    """One page in the making."""

    offered: Options
    phrases: Phrases
    settings: PageSettings

    @property
    def numbers(self) -> Numbers:
        """How numbers are written."""
        return Numbers(self.phrases, self.offered.currency)

    @property
    def lettered(self) -> list[tuple[str, Option]]:
        """The options with their letters."""
        return list(zip(LETTERS, self.offered.options, strict=False))

    def render(self) -> str:
        """Put the page together; the print is made as large as the text allows."""
        paragraphs = "".join(f"<p>{text}</p>" for text in self._list_advice())
        advice = f'<section class="advice"><h2>{self._told("advice")}</h2>{paragraphs}</section>'
        rows = "\n".join(self._option(letter, option) for letter, option in self.lettered)
        options = f"<section><h2>{self._told('options')}</h2>\n{rows}\n</section>"
        inside = "\n".join([advice, self._pictures(), options, self._notes()])
        body = f"{self._header()}\n<main>\n{inside}\n</main>\n{self._footer()}"
        style = write_style(self.settings.paper, fit_points(self._measure(), self.settings.paper))
        title = escape(f"{self._say('title')} – {self.settings.shop.name}")
        return frame_page(title, style, body, language=escape(self.phrases.language), allows="; img-src data:")

    def _measure(self) -> PageText:
        """Measure the texts of the page in letters."""
        rows = [
            Row(
                len(_strip(self._name_option(it))) + TAG_LETTERS * (it.advised + (not it.is_paid)),
                len(_strip(self._does(it))),
                lengths([_strip(text) for text in self._details(it)]),
                len(_strip(self._middle_price(it) + self._in_the_end(it))),
            )
            for _, it in self.lettered
        ]
        notes = (lengths([_strip(text) for text in self._list_risks()]), lengths([_strip(self._sureness())]))
        advice = lengths([_strip(text) for text in self._list_advice()])
        return PageText(tuple(rows), len(_strip(self._facts())), advice, notes, len(self._small_print()))

    def _say(self, key: str, **values: str) -> str:
        """Give a text of the page, not yet escaped."""
        return self.phrases.fill(key, **values)

    def _told(self, key: str, **values: str) -> str:
        """Give a text of the page, escaped."""
        return escape(self._say(key, **values))

    def _told_with(self, html: Mapping[str, str], key: str, **values: str) -> str:
        """Give a text of the page, escaped, in which some words in braces stand for what is escaped already."""
        filled = {name: escape(value) for name, value in values.items()} | dict(html)
        return fill_slots(escape(self.phrases.word(key)), filled)

    def _name(self, section: str, record_id: str, label: str) -> str:
        """Name a record, escaped; where the language has no name for it, its own label is marked as English."""
        found = self.phrases.find(section, record_id)
        if found is not None:
            return escape(found)
        return escape(label) if self.phrases.language == "en" else f'<span lang="en">{escape(label)}</span>'

    def _name_jobs(self, jobs: Sequence[str], label: str) -> str:
        """Name jobs done in one go; jobs of one name are named once."""
        labels = label.split(JOIN)
        labels += [label] * (len(jobs) - len(labels))
        return JOIN.join(dict.fromkeys(self._name("jobs", job, own) for job, own in zip(jobs, labels, strict=False)))

    def _name_checks(self, checks: Sequence[str], ways: Iterable[str]) -> str:
        """Name checks, each once; what the language has no name for is told by how it is made: `a measurement`."""
        named = [self.phrases.find("checks", check) for check in checks]
        if None in named:
            named = [self.phrases.word(way, "ways") for way in ways]
        return f" {self._say('and')} ".join(dict.fromkeys(filter(None, named)))

    def _name_option(self, option: Option) -> str:
        """Name an option, escaped."""
        if option.kind == "nothing":
            return self._told("nothing_label" if self.offered.danger is None else "nothing_parked")
        if option.kind == "check":
            if not option.checks:
                return self._told("no_check")
            return self._told("check_label", way=self._name_checks(option.checks, option.check_ways))
        return self._name_jobs(option.jobs, option.label)

    def _facts(self) -> str:
        """Write date, validity, distance and complaint."""
        shop, numbers = self.settings.shop, self.numbers
        valid = self.settings.day + datetime.timedelta(days=shop.quote_days)
        facts = [("date", numbers.date(self.settings.day)), ("valid", numbers.date(valid))]
        if self.offered.odometer_km is not None:
            facts.append(("odometer", numbers.km(self.offered.odometer_km)))
        listed = "".join(f"<div><dt>{self._told(key)}</dt><dd>{escape(text)}</dd></div>" for key, text in facts)
        listed += f'<div><dt>{self._told("vehicle")}</dt><dd><span class="blank">&nbsp;</span></dd></div>'
        if self.offered.complaint:
            names = "; ".join(dict.fromkeys(self._name("complaints", it.id, it.label) for it in self.offered.complaint))
            listed += f"<div><dt>{self._told('told_us')}</dt><dd>{names}</dd></div>"
        return listed

    def _header(self) -> str:
        shop = self.settings.shop
        logo = f'<img src="{escape(self.settings.logo)}" alt="{escape(shop.name)}">' if self.settings.logo else ""
        lines = [line.strip() for line in re.split(r"[\n,]", shop.address) if line.strip()]
        address = "".join(f"<span>{escape(line)}</span>" for line in lines)
        return (
            f'<header><div class="top"><div><h1>{self._told("title")}</h1><dl class="facts">{self._facts()}</dl></div>'
            f'<div class="shop">{logo}<strong>{escape(shop.name)}</strong>{address}</div></div></header>'
        )

    def _list_advice(self) -> list[str]:
        """Write the paragraphs of the advice, escaped."""
        letter, advised = next(
            ((letter, option) for letter, option in self.lettered if option.advised), ("A", self.offered.options[0])
        )
        if advised.kind == "nothing":
            first = f"<strong>{self._why_nothing()}</strong>"
        else:
            text = self._told_with({"label": self._name_option(advised)}, "advise_option", letter=letter)
            first = f"<strong>{text}</strong> {self._why(advised)}"
        texts = [self._danger(), self._others_work(), first, self._budget()]
        texts.append(self._left_out(self.offered.left_out, "only_service"))
        texts.append(self._left_out(self.offered.stopgap, "only_stopgap"))
        texts.append(self._told("weigh_worth") if self.offered.weigh_worth else "")
        return list(filter(None, [*texts, self._price_basis()]))

    def _why_nothing(self) -> str:
        """Say why nothing is advised, escaped."""
        amount = self.offered.budget.amount if self.offered.budget else 0.0
        key = "advise_nothing_budget" if amount >= 1 else "advise_nothing_zero"
        return self._told(key if self.offered.for_budget else "advise_nothing", budget=self.numbers.money(amount))

    def _why(self, advised: Option) -> str:
        """Say why an option is advised: what the budget buys, or what is paid in the end; escaped."""
        budget, money = self.offered.budget, self.numbers.money
        rivals = [one for one in self.offered.options if one.jobs or one.checks]
        least = min(rivals, key=lambda one: one.paid_in_the_end)
        words = {"total": money(advised.paid_in_the_end), "price": money(advised.first_cost.typical)}
        if budget is not None:
            words["budget"] = money(budget.amount)
            if not advised.is_paid:
                return self._told("advise_check_budget", **words)
            if advised.checks and budget.buys_little:
                return self._told("advise_check_little", **words)
            more = self._told("go_on", **words) if advised.paid_in_the_end > budget.amount else ""
            return f"{self._told('advise_within', **words)} {more}".rstrip()
        if advised.paid_in_the_end < least.paid_in_the_end + 1:
            return self._told("advise_why", **words)
        surer = advised.cured_in_the_end - least.cured_in_the_end >= SURER
        return self._told("advise_look" if advised.checks else "advise_surer" if surer else "advise_near", **words)

    def _danger(self) -> str:
        """Say that it should stand, where nothing helps likely or a sign says so, and what is done at once; escaped."""
        told = [self._name("do_now", one.id, one.says) for one in self.offered.do_now]
        if danger := self.offered.danger:
            area = self.phrases.word(danger.area, "areas")
            told.insert(0, self._told("do_not_drive", n=of_hundred(danger.p), area=area))
        return f"<strong>{' '.join(told)}</strong>" if told else ""

    def _others_work(self) -> str:
        """Send it first to whoever worked on it before, and to the maker whose warranty may hold; escaped."""
        keys = {"others_work": self.offered.others_work, "warranty": self.offered.warranty}
        return " ".join(self._told(key) for key, holds in keys.items() if holds)

    def _left_out(self, left: LeftOut | None, key: str) -> str:
        """Say what something that is not among the options costs and how often it helps; escaped."""
        if left is None:
            return ""
        price, n = self.numbers.money(left.cost.typical), of_hundred(left.p_cured)
        return self._told_with({"label": self._name_jobs(left.jobs, left.label)}, key, price=price, n=n)

    def _budget(self) -> str:
        """Say honestly what the budget buys, escaped."""
        budget = self.offered.budget
        if budget is None:
            return ""
        amount = self.numbers.money(budget.amount)
        letters = {option.id: letter for letter, option in self.lettered}
        check = next(((letter, it) for letter, it in self.lettered if it.kind == "check" and it.checks), None)
        first = ""
        is_other = check is not None and check[1].advised and check[1].id != budget.option
        if budget.buys_little and check and is_other and check[1].first_cost.high <= budget.amount:
            first = " " + self._told("budget_check", letter=check[0])
        if budget.cheaper in letters:
            total = next(it.paid_in_the_end for _, it in self.lettered if it.id == budget.cheaper)
            first += " " + self._told("budget_more", letter=letters[budget.cheaper], total=self.numbers.money(total))
        if budget.option not in letters or budget.p_cured <= 0:
            return self._told("budget_nothing", budget=amount) + first
        key = "budget_little" if budget.buys_little else "budget_buys"
        n = of_hundred(budget.p_cured)
        return self._told(key, budget=amount, letter=letters[budget.option], n=n) + first

    def _pictures(self) -> str:
        likely = [it for it in self.offered.zones if it.probability >= P_BAR][:MOST_BARS]
        named = [(self.phrases.word(it.area, "areas"), it.probability) for it in likely]
        if self.offered.nothing_found >= P_BAR:
            named.append((self._say("not_found"), self.offered.nothing_found))
        named.append((self._say("elsewhere"), max(0.0, 1.0 - sum(p for _, p in named))))
        counts = share_hundred([p for _, p in named])
        bars = [Bar(label, p, str(n)) for (label, p), n in zip(named, counts, strict=True) if n]
        picture = draw_bars(bars, self._say("where"), "; ".join(f"{bar.label}: {bar.text}" for bar in bars))
        return (
            f'<div class="pictures"><figure><h2>{self._told("where")}</h2>{picture}'
            f"<figcaption>{self._told('where_describe')}</figcaption></figure>"
            f"<figure><h2>{self._told('picture')}</h2>{self._draw_points()}"
            f"<figcaption>{self._told('picture_describe')}</figcaption></figure></div>"
        )

    def _draw_points(self) -> str:
        points = []
        for letter, it in self.lettered:
            if it.kind != "check" or it.checks:
                cost = it.cost
                says = f"{letter}: {self.numbers.money(cost.typical)}, {of_hundred(it.p_cured)} {self._say('of_100')}"
                points.append(
                    Point(
                        letter,
                        low=cost.low,
                        typical=cost.typical,
                        high=cost.high,
                        p=it.p_cured,
                        p_low=it.p_cured_low,
                        p_high=it.p_cured_high,
                        is_advised=it.advised,
                        says=says,
                    )
                )
        ticks = {price: self.numbers.money(price) for price in choose_ticks(max(point.high for point in points))}
        title, price, chances = (self._say(key) for key in ("picture", "axis_price", "axis_chance"))
        return draw_points(
            points,
            title,
            "; ".join(point.says for point in points),
            axis_price=price,
            axis_chance=chances,
            price_texts=ticks,
        )

    def _option(self, letter: str, option: Option) -> str:
        tags = f' <span class="tag ours">{self._told("our_advice")}</span>' if option.advised else ""
        if option.asked:
            tags += f' <span class="tag">{self._told("you_asked")}</span>'
        if not option.is_paid:
            over = "repair_over_budget" if option.within_budget else "over_budget"
            tags += f' <span class="tag">{self._told(over)}</span>'
        small = "".join(f'<p class="small">{text}</p>' for text in self._details(option) if text)
        is_empty = option.kind == "check" and not option.checks
        price, chance = ("", "") if is_empty else (self._price(option), self._chance(option))
        return (
            f'<article class="option{" advised" if option.advised else ""}"><div class="letter">{letter}</div>'
            f'<div class="what"><h3>{self._name_option(option)}{tags}</h3><p>{self._does(option)}</p>{small}</div>'
            f'<div class="price">{price}</div><div class="chance">{chance}</div></article>'
        )

    def _does(self, option: Option) -> str:
        """Say what is done, escaped."""
        if option.kind == "nothing":
            risks = put_likely_first(self.offered.driving_on)
            return f"{self._told('nothing_does')} {self._tell_risk(risks[:1])}".strip()
        if option.kind == "check":
            return self._told("check_does") if option.checks else ""
        return escape(self.phrases.word("bundle" if len(option.jobs) > 1 else option.job_kinds[0], "kinds"))

    def _details(self, option: Option) -> list[str]:
        """Write the small print of an option: made of, if it does not help, afterwards, not covered; escaped."""
        if option.kind == "nothing":
            return []
        if option.kind == "check" and not option.jobs:
            return [self._told("then_leave") + "."] if option.checks else []
        if option.kind == "check":
            return [self._told_with({"label": self._name_jobs(option.jobs, "")}, "then_repair") + "."]
        shown = [line for line in option.cost.lines if line.typical >= 1]
        lines = [self._told(line.what, amount=self.numbers.money(line.typical)) for line in shown]
        made = f"<b>{self._told('made_of')}:</b> {' · '.join(lines)}."
        stands = f"<b>{self._told('stands')}:</b> {self._days(option.days)}."
        covered = f"<b>{self._told('not_included')}:</b> {self._not_covered(option)}"
        tried = f"<b>{self._told(f'tried_{option.tried}')}</b>" if option.tried else ""
        return [tried, made, f"{self._afterwards(option)} {stands}".strip(), self._if_not(option), covered]

    def _days(self, days: float) -> str:
        if days <= HALF_DAY:
            return self._told("half_day")
        return self._told("one_day") if days == 1 else self._told("days", days=self.numbers.decimal(days))

    def _afterwards(self, option: Option) -> str:
        named = []
        for item in option.follow_ups:
            who = f" ({self._told('by_equipped')})" if item.who == "equipped_shop" else ""
            if name := self._name("follow_ups", item.id, item.label):
                named.append(name + who)
        return f"<b>{self._told('afterwards')}:</b> {'; '.join(named)}." if named else ""

    def _not_covered(self, option: Option) -> str:
        texts = dict.fromkeys(self.phrases.word(kind, "not_covered") for kind in option.job_kinds)
        return escape(" ".join(texts) if len(texts) == 1 else self.phrases.word("bundle", "not_covered"))

    def _if_not(self, option: Option) -> str:
        if (after := option.if_not_cured) is None:
            return ""
        head = f"<b>{self._told('if_not')}:</b> "
        if not after.jobs or after.is_guess:
            return f"{head}{self._told('then_look' if after.jobs else 'then_nothing')}."
        jobs = self._name_jobs(after.jobs, after.label)
        parts = [self._told_with({"label": jobs}, "then_next", cost=self.numbers.money(after.cost.typical))]
        if after.saved_together >= 1:
            parts.append(self._told("then_saved", saved=self.numbers.money(after.saved_together)))
        parts += [
            self._told_with({"label": name}, "then_paid")
            for name in (self._name("follow_ups", key, key) for key in after.already_paid)
            if name
        ]
        return f"{head}{'; '.join(parts)}."

    def _price(self, option: Option) -> str:
        is_free = option.kind == "nothing" and option.cost.typical < 1
        big = escape(self.numbers.money(0 if is_free else option.cost.typical))
        middle = self._told("no_price") if is_free else self._middle_price(option)
        end = "" if option.kind == "nothing" else f'<span class="end">{self._in_the_end(option)}</span>'
        return f'<span class="big">{big}</span><span class="range">{middle}</span>{end}'

    def _in_the_end(self, option: Option) -> str:
        """Write what is paid in the end, and how often it is then cured, escaped."""
        total, n = self.numbers.money(option.paid_in_the_end), of_hundred(option.cured_in_the_end)
        return self._told("in_the_end", total=total, n=n)

    def _middle_price(self, option: Option) -> str:
        """Write the span of a price, escaped."""
        money, cost = self.numbers.money, option.cost
        span = self._told("from_to", low=money(cost.low), high=money(cost.high))
        if option.kind == "check":
            alone = self._told("check_alone", price=money(option.first_cost.typical))
            if option.waiting >= 1:
                alone += f"<br>{self._told('check_waits', price=money(option.waiting))}"
            return f"{self._told('check_then')}<br>{span}<br>{alone}"
        return span

    def _chance(self, option: Option) -> str:
        n = escape(of_hundred(option.p_cured))
        if option.kind == "nothing":
            return f'<span class="range">{self._told("chance_none")}</span>'
        low, high = of_hundred(option.p_cured_low), of_hundred(option.p_cured_high)
        full = f'<rect x="0" y="0" width="{option.p_cured * 100:.1f}" height="10" fill="#1f4e79"/>'
        meter = (
            '<svg class="meter" viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">'
            f'<rect x=".5" y=".5" width="99" height="9" fill="#fff" stroke="#1a1a1a"/>{full}</svg>'
        )
        return (
            f'<span class="range">{self._told("chance")}</span>'
            f'<span class="big">{n} <small>{self._told("of_100")}</small></span>'
            f'{meter}<span class="range">{self._told("chance_spread", low=low, high=high)}</span>'
        )

    def _notes(self) -> str:
        risks = "".join(self._list_risks())
        return (
            f'<div class="notes"><section><h2>{self._told("if_nothing")}</h2>{risks}</section>'
            f"<section><h2>{self._told('sure')}</h2>{self._sureness()}</section></div>"
        )

    def _list_risks(self) -> list[str]:
        """Write a paragraph for each thing that happens if nothing is done, danger to people first; escaped."""
        if not self.offered.driving_on:
            return [f"<p>{self._told('not_known')}</p>"]
        told = [(' class="danger"' * (risk.severity == "unsafe"), risk) for risk in self.offered.driving_on]
        return [f"<p{mark}>{self._tell_risk([risk])}</p>" for mark, risk in told]

    def _tell_risk(self, risks: Sequence[Risk]) -> str:
        """Tell how it may go on, with the distance; escaped."""
        parts = []
        for risk in risks:
            key = NOW.get(risk.severity, risk.severity) if risk.is_now else risk.severity
            parts.append(self._told(key, n=of_hundred(risk.p), area=self.phrases.word(risk.area, "areas")))
            if risk.within_km and risk.severity != "nuisance":
                parts.append(self._told("within", km=self.numbers.km(risk.within_km)))
        return " ".join(parts)

    def _sureness(self) -> str:
        sureness = self.offered.sureness
        parts = [self._told(f"sure_{sureness.word}")]
        change = sureness.would_change
        advised = next((option.checks for option in self.offered.options if option.advised), ())
        if change is not None and change.id not in advised:
            cost = self.numbers.money(change.cost.typical)
            parts.append(self._told("would_change", way=self._name_checks([change.id], change.ways), cost=cost))
        named = self._not_looked_at()
        if named:
            parts.append(self._told("not_looked", list=", ".join(named)))
        return f"<p>{' '.join(parts)}</p>"

    def _not_looked_at(self) -> list[str]:
        whys = [item.why for item in self.offered.sureness.not_checked]
        named = []
        worded = (("no_tool", "no_tool_one", "no_tool"), ("not_known", "not_known_one", "not_known_things"))
        for why, one, many in worded:
            if count := whys.count(why):
                named.append(self._say(one) if count == 1 else self._say(many, n=str(count)))
        if "no_weight" in whys:
            named.append(self._say("no_weight_things"))
        return named

    def _price_basis(self) -> str:
        """Say that prices are examples, until the shop has set its own, and which tax is in them; escaped."""
        parts = [self._told("example_prices")] if self.offered.invented else []
        if tax := self.offered.tax_percent:
            parts.append(self._told("tax_included", tax=self.numbers.decimal(tax)))
        return " ".join(parts)

    def _small_print(self) -> str:
        """Say what the figures are, what is meant by "in the end", and what comes first; escaped."""
        return self._told("small_print")

    def _footer(self) -> str:
        boxes = "".join(f'<span><span class="box"></span>{letter}</span>' for letter, _ in self.lettered)
        return (
            f'<footer><div class="sign"><div>{self._told("choose")}{boxes}</div>'
            f'<div><span class="line"></span>{self._told("at_most")}</div>'
            f'<div><span class="line"></span>{self._told("signed")}</div></div>'
            f'<p class="print">{self._small_print()}</p></footer>'
        )
