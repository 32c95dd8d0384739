"""The page for the owner: its words, its safety, and how it comes out of a browser."""

import re
import subprocess
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.browser import count_pages, find_violations, needs_browser, print_page, read_axe, run_browser
from support.hostile import HOSTILE
from support.offers import offered
from support.pages import page, shop
from support.trade import shipped

from shiftlore.advising import LeftOut, Options
from shiftlore.advising.offering import Complaint
from shiftlore.advising.options_risks import Risk
from shiftlore.reports.page_html import choose_paper
from shiftlore.reports.wording import say_percent
from shiftlore.words import load_phrases

LANGUAGES = ("en", "de")
NASTY = '<script>alert("x")</script> & <img src=x onerror=1>'
JARGON = ("solenoid", "valve body", "converter clutch", "TCC", "regulator", "one-way clutch", "ATF", "planetary")
VOID = {"meta", "img", "br", "rect", "line", "circle"}


class Outline(HTMLParser):
    """Gathers tags, attributes and text, and holds every end against its start."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert tag == self.open.pop()

    def handle_startendtag(self, tag: str, attrs: list) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text.append(data)


def outline(text: str) -> Outline:
    found = Outline()
    found.feed(text)
    assert [] == found.open
    return found


def stressed() -> Options:
    """Make a page as full as it can get: every label long, all risks, a budget."""
    risks = tuple(
        Risk(severity, 0.25, "x", "converter_clutch_or_converter", "", 3000)
        for severity in ("unsafe", "strands", "gets_worse")
    )
    complaints = tuple(Complaint(f"own_{i}", f"Complaint number {i} in quite a few words") for i in range(4))
    found = offered("slips", 600.0)
    long_label = "A job with a rather long name of its own that says what is done"
    options = tuple(
        replace(
            option, jobs=tuple(f"own_{i}" for i in range(3)), label=" + ".join(f"{long_label} {i}" for i in range(3))
        )
        if option.kind not in ("nothing", "check")
        else option
        for option in found.options
    )
    return replace(found, options=options, driving_on=risks, complaint=complaints)


@pytest.mark.parametrize("language", LANGUAGES)
def test_render_page__is_well_formed_and_asks_for_nothing_outside(language: str) -> None:
    text = page(language=language)
    tags = outline(text).tags
    assert not [tag for tag, _ in tags if tag in ("script", "link", "iframe", "object", "form")]
    assert not [given for _, given in tags if any(key in given for key in ("href", "onclick", "onload"))]
    assert not re.search(r"https?://|url\(|@import", text)


@pytest.mark.parametrize("language", LANGUAGES)
def test_render_page__what_comes_from_a_case_prints_as_text(language: str) -> None:
    found = offered("slips", 600.0)
    options = replace(
        found,
        currency="<b>",
        complaint=(Complaint("own", NASTY),),
        options=tuple(replace(o, jobs=("own",) if o.jobs else (), label=NASTY) for o in found.options),
    )
    text = _nasty_page(language, options)
    tags = outline(text).tags
    assert not [tag for tag, _ in tags if tag in ("script", "img")]
    assert "&lt;script&gt;" in text


def _nasty_page(language: str, options: Options, shop_name: str = NASTY) -> str:
    from support.pages import DAY

    from shiftlore.reports.page_html import PageSettings, render_page
    from shiftlore.words import load_phrases

    settings = PageSettings(shop().vary(name=shop_name, address=shop_name), DAY)
    return render_page(options, load_phrases(language), settings)


@settings(deadline=None, max_examples=25)
@given(label=HOSTILE, language=st.sampled_from(LANGUAGES))
def test_render_page__a_hostile_label_makes_no_tag_and_no_attribute(label: str, language: str) -> None:
    """Whatever the label, the page has the tags and attributes that it has for a harmless one, and says it as it is.

    Source: the HTML reader of Python's own library.
    """

    def written(text: str) -> Outline:
        found = offered("slips", 600.0)
        options = tuple(replace(one, jobs=("own",) if one.jobs else (), label=text, says=text) for one in found.options)
        labelled = replace(found, currency=text, unit=text, complaint=(Complaint("own", text),), options=options)
        return outline(_nasty_page(language, labelled, f"x{text}".replace(",", ";")))

    def shape(found: Outline) -> list[tuple[str, list[str]]]:
        return [(tag, sorted(given)) for tag, given in found.tags]

    page_of_label = written(label)
    assert shape(written("harmless")) == shape(page_of_label)
    assert " ".join(label.split()) in " ".join(" ".join(page_of_label.text).split())


def test_render_page__speaks_no_jargon() -> None:
    for name in ("slips", "harsh"):
        words = " ".join(outline(page(name)).text).lower()
        assert [] == [word for word in JARGON if word.lower() in words]


@pytest.mark.parametrize("language", LANGUAGES)
def test_render_page__every_option_has_price_and_chance(language: str) -> None:
    text = page(language=language)
    options = offered("slips", 600.0).options
    assert len(options) == text.count('<article class="option')
    assert len(options) == text.count('<div class="price"><span class="big">')
    assert len(options) - 1 == text.count('class="meter"')


def test_render_page__without_a_check_left_it_shows_no_price_for_one() -> None:
    found = offered("slips", 600.0)
    options = tuple(replace(o, checks=(), advised=False) if o.kind == "check" else o for o in found.options)
    text = page(options=replace(found, options=options))
    assert "No further check" in text and 1 == text.count('<div class="price"></div>')


def test_render_page__numbers_follow_the_language() -> None:
    assert "2 March 2026" in page() and "16 March 2026" in page()
    assert "2. März 2026" in page(language="de") and "190.000\u00a0km" in page(language="de")
    assert "190,000\u00a0km" in page()


def test_render_page__the_currency_is_the_shops() -> None:
    text = page(options=replace(offered("slips", 600.0), currency="XTS"))
    assert "XTS\u00a0" in text and "€" not in text


def test_render_page__danger_comes_first_and_stands_out() -> None:
    text = page(options=stressed())
    notes = text[text.index('class="notes"') :]
    assert notes.index('class="danger"') < notes.index("breaks down")
    assert "Safety first" in notes


@pytest.mark.parametrize("name", ["slips", "harsh"])
def test_render_page__the_zones_make_a_hundred(name: str) -> None:
    bars = re.search(r'<desc id="bars-text">(.*?)</desc>', page(name))
    assert bars is not None
    assert 100 == sum(int(text.rsplit(": ", 1)[1]) for text in bars[1].split("; "))


def test_render_page__price_and_chance_of_a_check_are_of_check_and_repair() -> None:
    check = next(option for option in offered("slips", 600.0).options if option.checks)
    text = page()
    shown = text.split('<article class="option')[2]
    big = re.search(r'<span class="big">(.*?)</span>', shown)
    assert big is not None and big[1] == f"€{check.cost.typical:,.0f}"
    assert "with the repair that then fits" in shown and "the check alone €" in shown


def test_render_page__doing_nothing_says_what_may_come_and_names_no_price_for_it() -> None:
    nothing = page().split('<article class="option')[1]
    assert "of 100" in nothing and "\u00a0km" in nothing and 'class="end"' not in nothing


@pytest.mark.parametrize(("language", "words"), [("en", "Only a service?"), ("de", "Nur ein Ölwechsel?")])
def test_render_page__the_service_that_is_not_listed_is_told(language: str, words: str) -> None:
    found = offered("slips", 600.0)
    option = next(option for option in found.options if option.jobs)
    left_out = LeftOut(("own",), "A <service>", option.cost, 0.03, False)
    text = page(language=language, options=replace(found, left_out=left_out))
    assert words in text and "A &lt;service&gt;" in text
    assert words not in page(language=language, options=replace(found, left_out=None))


def test_render_page__what_was_asked_for_is_marked() -> None:
    found = offered("slips", 600.0)
    asked = replace(found, options=(*found.options[:-1], replace(found.options[-1], asked=True)))
    assert "you asked" in page(options=asked) and "you asked" not in page()


def test_render_page__a_budget_that_buys_nothing_is_told_honestly() -> None:
    text = page(options=offered("slips", 1.0))
    assert "Honestly" in text and "buys no repair" in text


def test_render_page__what_costs_less_in_the_end_beyond_the_budget_is_told() -> None:
    found = offered("slips", 600.0)
    options = tuple(replace(one, advised=bool(one.jobs) and one.is_paid and not one.checks) for one in found.options)
    assert found.budget is not None
    budget = replace(found.budget, cheaper=options[-1].id, buys_little=False)
    text = page(options=replace(found, options=options, budget=budget))
    assert "Of what €600 buys" in text and "is over your budget and yet likely to cost less" in text
    assert "Going on until the fault is gone costs about" in text


@pytest.mark.parametrize(("language", "words"), [("en", "is not likely to cure it"), ("de", "werden es kaum beheben")])
def test_render_page__a_small_purse_is_told_that_it_buys_a_check_and_not_a_cure(language: str, words: str) -> None:
    """It was told that the check was likely to cost it least in the end, six thousand and more."""
    text = page(language=language)
    assert words in text and "likely to cost you least" not in text and "€8,0" not in text


def test_render_page__what_nobody_pays_stands_in_no_sum() -> None:
    text, found = page(), offered("slips", 600.0)
    assert f"{found.uncured_cost:,.0f}" not in text
    for one in found.options[1:]:
        assert f"in the end about €{one.paid_in_the_end:,.0f}, cured in" in text


def test_render_page__a_check_is_named_by_what_is_done() -> None:
    """Two different checks were "a look at the vehicle", and listening at standstill "a short test drive"."""
    named = {"coolant_tank_look": "a look into the coolant tank", "listen_standing": "listening at standstill"}
    for check, words in (*named.items(), ("own_check", "a measurement")):
        options = list(offered().options)
        options[1] = replace(options[1], checks=(check,), check_ways=("measure",), advised=True)
        assert f"First one more check: {words}" in page(options=replace(offered(), options=tuple(options)))


def test_render_page__the_purse_without_a_coin_and_the_vehicle_that_stands() -> None:
    found = offered("slips", 1.0)
    assert found.budget is not None
    options = tuple(replace(one, advised=one.kind == "nothing") for one in found.options)
    none = replace(found, options=options, budget=replace(found.budget, amount=0.0), for_budget=True)
    assert "because you will not spend any" in page(options=none) and "weigh it against" in page(options=none)
    broken = Risk("strands", 1.0, "a", "pump", "It does not go.", None, is_now=True)
    text = page(options=replace(none, driving_on=(broken,)))
    assert "it stays where it stands" in text and "breaks down on the road" not in text


@pytest.mark.parametrize(
    ("language", "words"), [("en", "costs little beside the repair"), ("de", "kostet wenig neben")]
)
def test_render_page__a_look_before_dear_work_is_not_said_to_cost_least(language: str, words: str) -> None:
    options = list(offered().options)
    place = next(i for i, option in enumerate(options) if option.checks)
    most = max(option.paid_in_the_end for option in options)
    options = [replace(option, advised=i == place) for i, option in enumerate(options)]
    options[place] = replace(options[place], paid_in_the_end=most + 5.0, cured_in_the_end=0.5)
    text = page(language=language, options=replace(offered(), options=tuple(options), advised=options[place].id))
    assert words in text and "likely to cost you least" not in text


@pytest.mark.parametrize(("language", "words"), [("en", "too little to be told apart"), ("de", "zu wenig, um sie zu")])
def test_render_page__work_that_costs_a_little_more_than_a_check_is_not_said_to_cost_least(
    language: str, words: str
) -> None:
    options = list(offered().options)
    place = next(i for i, option in enumerate(options) if option.jobs and not option.checks)
    most = max(option.paid_in_the_end for option in options)
    options = [replace(option, advised=i == place) for i, option in enumerate(options)]
    options[place] = replace(options[place], paid_in_the_end=most + 5.0, cured_in_the_end=0.5)
    text = page(language=language, options=replace(offered(), options=tuple(options), advised=options[place].id))
    assert words in text and "likely to cost you least" not in text


def test_render_page__what_a_language_lacks_stays_english_and_is_marked() -> None:
    options = replace(offered("slips", 600.0), complaint=(Complaint("unheard_of", "Sings at night"),))
    assert '<span lang="en">Sings at night</span>' in page(language="de", options=options)


def test_render_page__pictures_say_in_text_what_they_show() -> None:
    tags = outline(page()).tags
    pictures = [given for tag, given in tags if tag == "svg" and given.get("role") == "img"]
    assert 2 == len(pictures) and all(given["aria-labelledby"] for given in pictures)
    assert all(given.get("aria-hidden") == "true" for tag, given in tags if tag == "svg" and given not in pictures)


def test_render_page__chances_are_those_of_the_options() -> None:
    text = page()
    for option in offered("slips", 600.0).options[1:]:
        assert f">{say_percent(option.p_cured).removesuffix(' %')} <small>" in text or option.p_cured < 0.005


@pytest.mark.parametrize(("locale", "paper"), [("en-US", "letter"), ("de", "a4"), ("en_CA", "letter"), ("fr-FR", "a4")])
def test_choose_paper__by_the_country(locale: str, paper: str) -> None:
    assert paper == choose_paper(locale)


@needs_browser
@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("language", LANGUAGES)
def test_render_page__prints_on_one_page(tmp_path: Path, language: str, paper: str) -> None:
    assert 1 == count_pages(print_page(page(language=language, paper=paper), tmp_path))


@needs_browser
def test_render_page__the_fullest_page_is_still_one(tmp_path: Path) -> None:
    text = page(language="de", paper="letter", options=stressed())
    assert 1 == count_pages(print_page(text, tmp_path))


@needs_browser
def test_render_page__no_console_message_and_no_request(tmp_path: Path) -> None:
    """What a browser asks for of its own accord, it asks for on an empty page too."""
    done, asked = _watch_requests(page(), tmp_path)
    assert b"CONSOLE" not in done.stderr
    assert b"<h1>" in done.stdout
    assert asked <= _watch_requests("<!DOCTYPE html><title>empty</title>", tmp_path)[1]


def _watch_requests(text: str, folder: Path) -> tuple[subprocess.CompletedProcess, set[str]]:
    """Open a page and list the hosts that anything was asked of."""
    log = folder / "net.json"
    done = run_browser(text, "--enable-logging=stderr", f"--log-net-log={log}", "--dump-dom", folder=folder)
    return done, set(re.findall(r'"url":"https?://([^/"]*)', log.read_text(encoding="utf-8")))


@needs_browser
@pytest.mark.parametrize("language", LANGUAGES)
def test_render_page__axe_finds_nothing(tmp_path: Path, language: str) -> None:
    """Source: axe-core 4 (WCAG 2 rules, contrast of at least 4.5 to 1 among them)."""
    source = read_axe()
    if source is None:
        pytest.skip("axe-core is not here and cannot be had through npm")
    assert [] == find_violations(page(language=language), source, tmp_path)


@needs_browser
@pytest.mark.parametrize("width", [320, 390])
def test_render_page__nothing_sticks_out_on_a_phone(tmp_path: Path, width: int) -> None:
    """The page asks itself for its width, in a frame as wide as the phone."""
    probe = (
        "<script>addEventListener('load',function(){document.title='W'+document.documentElement.scrollWidth})</script>"
    )
    bare = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page(language="de"))
    inner = bare.replace("</head>", f"{probe}</head>")
    (tmp_path / "inner.html").write_text(inner, encoding="utf-8")
    outer = (
        f'<iframe id="f" src="inner.html" style="width:{width}px;height:900px;border:0"></iframe>'
        "<pre id=w></pre><script>document.getElementById('f').onload=function(){setTimeout(function(){"
        "document.getElementById('w').textContent='@@'+document.getElementById('f').contentDocument.title+'@@'},300)}"
        "</script>"
    )
    flags = ("--allow-file-access-from-files", "--dump-dom", "--virtual-time-budget=5000", "--window-size=800,1000")
    told = re.search(rb"@@W(\d+)@@", run_browser(outer, *flags, folder=tmp_path).stdout)
    assert told is not None and int(told[1]) <= width


def test_render_page__a_name_inside_a_sentence_is_escaped_once() -> None:
    found = offered("slips", 600.0)
    label = "Seal & ring <new> {cost}"
    options = tuple(
        replace(o, jobs=("own",) if o.jobs else (), label=label if o.jobs else o.label) for o in found.options
    )
    advised = replace(found, options=tuple(replace(o, advised=o.kind not in ("nothing", "check")) for o in options))
    text = page(options=advised)
    assert "Seal &amp; ring &lt;new&gt; {cost}" in text
    assert "&amp;amp;" not in text and "&amp;lt;" not in text and "\x00" not in text


@pytest.mark.parametrize("language", LANGUAGES)
def test_render_page__all_that_must_follow_is_named(language: str) -> None:
    """What takes no time of its own, as the road test in every price, need not be named."""
    known = shipped().follow_ups
    names = [name for name, record in known.items() if record.minutes or record.consumables]
    assert len(names) > 10 and all(load_phrases(language).find("follow_ups", name) for name in names)


def test_render_page__a_small_budget_is_given_as_the_reason_and_danger_is_told() -> None:
    poor, one = page(options=offered("milky", 1.0)), page(options=offered("milky", 80.0))
    assert "only because of the budget" in poor and "costs more than it is likely to save" not in poor
    for text in (poor, one):
        assert "Do not drive it: in " in text and "Water or coolant in the oil" in text
    assert "its repair is over your budget" in one and "€80 pays for this check" in one
    german = page(language="de", options=offered("milky", 80.0))
    assert "Bitte nicht fahren" in german and "Do not drive" not in german


def test_render_page__without_danger_nothing_is_said_of_it() -> None:
    assert "Do not drive" not in page(options=offered("harsh")) + page(options=offered("slips"))


def test_render_page__work_of_others_sends_it_back_to_them() -> None:
    assert "whoever did it should see it first" in page(options=replace(offered(), others_work=("Gearbox repaired",)))
    assert "whoever did it" not in page(options=offered())
    for language, word in (("en", "warranty"), ("de", "Garantie")):
        assert word in page(language=language, options=replace(offered(), warranty=True))
        assert word not in page(language=language, options=offered())


def test_render_page__what_waiting_is_worth_and_what_has_broken_down_are_told() -> None:
    options = tuple(replace(option, waiting=50.0 * (option.kind == "check")) for option in offered().options)
    broken = Risk("strands", 1.0, "a", "pump", "It does not go.", None, is_now=True)
    text = page(options=replace(offered(), options=options, driving_on=(broken,)))
    assert "stands with us is worth" in text and "It has broken down as it is" in text and "In 100 of 100" not in text
    assert "stands with us counts" not in page(options=offered())
