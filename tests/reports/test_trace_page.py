import datetime
import re
from dataclasses import replace
from functools import cache
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given, settings
from support.browser import find_violations, needs_browser, print_page, read_axe
from support.drives import make_columns, sound_trace, trace_columns
from support.hostile import HOSTILE

from shiftlore.reports.trace_page import BINS, render_trace_page, trace_path
from shiftlore.reports.trace_text import list_telling
from shiftlore.tracing import TakenColumn, Trace

DAY = datetime.date(2025, 5, 6)


@cache
def faulty() -> Trace:
    """Give the trace of a drive with two faults."""
    return trace_columns(make_columns(rounds=2, rate_hz=25, slip={2: 250}, lock_slip=120))


@cache
def page() -> str:
    """Give its page."""
    return render_trace_page(faulty(), "log.csv", "A shop", DAY)


def picture(text: str) -> ElementTree.Element:
    """Read the picture of a page."""
    found = re.search(r"<svg.*</svg>", text, re.DOTALL)
    assert found is not None
    return ElementTree.fromstring(found[0])


def test_render_trace_page__asks_for_nothing_from_outside() -> None:
    assert not re.search(r"(src|href)=|url\(|@import|<script|https?:", page())
    assert "default-src 'none'" in page()


def test_render_trace_page__marks_bear_the_numbers_of_the_answers() -> None:
    numbers = {str(number) for number in range(1, len(list_telling(faulty())) + 1)}
    marked = {node.text for node in picture(page()).iter("text") if node.get("font-weight") == "bold"} & numbers
    listed = set(re.findall(r'<span class="mark">(\d+)</span>', page()))
    assert numbers == marked == listed


def test_render_trace_page__every_picture_stands_inside_the_frame() -> None:
    root = picture(page())
    _, _, wide, high = map(float, root.attrib["viewBox"].split())
    for path in root.iter("path"):
        x, y = zip(
            *(map(float, pair.split()) for pair in re.findall(r"[ML]([\d.]+ [\d.-]+)", path.attrib["d"])), strict=True
        )
        assert 0 <= min(x) and max(x) <= wide and 0 <= min(y) and max(y) <= high


def test_render_trace_page__says_what_it_draws_to_who_cannot_see_it() -> None:
    root = picture(page())
    assert "drive-title drive-text" == root.attrib["aria-labelledby"]
    assert "Slip in gear 3 by scan: yes" in (root.find("desc").text or "")  # type: ignore[union-attr]


def test_render_trace_page__a_sound_drive() -> None:
    text = render_trace_page(sound_trace(), "log.csv", "", DAY, "letter")
    assert "Nothing here speaks of a fault." in text and '<span class="mark">' not in text


@settings(max_examples=25, deadline=None)
@given(HOSTILE)
def test_render_trace_page__no_header_gets_out_of_its_place(header: str) -> None:
    trace = replace(
        sound_trace(),
        columns=(TakenColumn("engine_rpm", header, 1, "rpm", "name"),),
        columns_left=(header,),
        drive=None,
    )
    text = render_trace_page(trace, header, header, DAY)
    assert "<script" not in text and "<img" not in text and "<svg onload" not in text


def test_render_trace_page__a_log_with_engine_speed_alone_draws_what_there_is() -> None:
    columns = make_columns(rounds=2, rate_hz=25)
    trace = trace_columns({name: columns[name] for name in ("time_s", "engine_rpm", "output_rpm", "gear_commanded")})
    titles = {node.text for node in picture(render_trace_page(trace, "a", "", DAY)).iter("text")}
    assert "Speeds, rpm" in titles and "Slip, rpm" not in titles and "Percent" not in titles


def test_trace_path__of_many_rows_no_peak_is_lost() -> None:
    times = np.linspace(0, 100, 50_000)
    shown = np.full(50_000, 100.0)
    shown[31_234] = 5.0
    path = trace_path(times, shown, (0.0, 100.0))
    assert " 5.0" in path
    assert path.count("L") <= 2 * BINS


def test_trace_path__a_gap_breaks_the_line() -> None:
    shown = np.array([1.0, 2.0, np.nan, 3.0, 4.0])
    assert 2 == trace_path(np.arange(5.0), shown, (0.0, 4.0)).count("M")


@needs_browser
def test_page__prints(tmp_path: Path) -> None:
    assert print_page(page(), tmp_path).startswith(b"%PDF")


@needs_browser
def test_page__can_be_read_by_everybody(tmp_path: Path) -> None:
    """Source: axe-core, which checks a page against the rules for accessibility."""
    source = read_axe()
    if source is None:
        pytest.skip("no axe-core here")
    assert [] == find_violations(page(), source, tmp_path)
