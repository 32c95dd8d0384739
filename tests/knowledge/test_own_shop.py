"""A shop's own file: what is in it counts, what is not stays the example, and nothing wrong gets into it."""

import os
import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest
from support.trade import ROOT, shipped, write_small

from shiftlore.basics import KnowledgeError, UsageProblem
from shiftlore.basics.holding import Hold
from shiftlore.knowledge import (
    Knowledge,
    change_own_shop,
    find_own_shop,
    known_tools,
    lay_over,
    load_knowledge,
    peek_setting,
    read_own_shop,
)

OWN = """\
labour_per_hour: 140   # since May
tax_percent: 20
prices:
  pan_gasket: {low: 10, typical: 20, high: 25}
"""


@pytest.fixture
def small(tmp_path: Path) -> Knowledge:
    return load_knowledge(write_small(tmp_path / "knowledge"))


@pytest.fixture
def own(tmp_path: Path) -> Path:
    path = tmp_path / "mine" / "shop.yaml"
    path.parent.mkdir()
    path.write_text(OWN, encoding="utf-8")
    return path


def test_lay_over__own_prices_stand_for_the_examples_tax_included(small: Knowledge, own: Path) -> None:
    laid = lay_over(small, read_own_shop(own, small))
    price, shop = laid.prices["pan_gasket"], laid.shop
    assert (168.0, 20.0) == (shop.labour_per_hour, shop.tax_percent)
    assert (12.0, 24.0, 30.0) == (price.low, price.typical, price.high)
    assert ("A shop", "EUR", ("jack",)) == (shop.name, shop.currency, shop.tools)
    assert "Pan gasket" == price.label


def test_lay_over__nothing_set_is_the_same_knowledge(small: Knowledge, tmp_path: Path) -> None:
    assert lay_over(small, read_own_shop(tmp_path / "none.yaml", small)) is small
    bare = replace(small, shop=None)
    assert lay_over(bare, read_own_shop(tmp_path / "none.yaml", small)) is bare


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("labour_per_hour: 90\n", ("parts",)),
        ("prices: {atf_litre: 9}\n", ("labour",)),
        ("labour_per_hour: 90\nprices: {atf_litre: 9}\n", ()),
        ("name: Mine\n", ("labour", "parts")),
    ],
)
def test_lay_over__what_is_not_set_stays_marked_as_invented(text: str, left: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(text, encoding="utf-8")
    laid = lay_over(shipped(), read_own_shop(path, shipped()))
    assert left == laid.shop.invented


def test_lay_over__takes_own_unit_sheets_and_a_logo_from_beside_the_file(small: Knowledge, own: Path) -> None:
    sheets = own.parent / "sheets"
    sheets.mkdir()
    text = (ROOT / "knowledge" / "units" / "long5.yaml").read_text(encoding="utf-8")
    (sheets / "mine5.yaml").write_text(text.replace("id: long5", "id: mine5", 1), encoding="utf-8")
    own.write_text("units: sheets\nlogo: l.png\n", encoding="utf-8")
    laid = lay_over(small, read_own_shop(own, small))
    assert {*small.sheets, "mine5"} == set(laid.sheets)
    assert str(own.parent / "l.png") == laid.shop.logo
    (sheets / "bad.yaml").write_text("id: bad\n", encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"bad\.yaml:1:1: error U"):
        lay_over(small, read_own_shop(own, small))
    own.write_text("units: nowhere\n", encoding="utf-8")
    with pytest.raises(KnowledgeError, match="no such folder of unit sheets"):
        lay_over(small, read_own_shop(own, small))


def test_lay_over__two_own_sheets_of_one_id_are_told_with_both_places(small: Knowledge, own: Path) -> None:
    sheets = own.parent / "sheets"
    sheets.mkdir()
    text = (ROOT / "knowledge" / "units" / "long5.yaml").read_text(encoding="utf-8")
    for name in ("a.yaml", "b.yaml"):
        (sheets / name).write_text(text.replace("id: long5", "id: mine5", 1), encoding="utf-8")
    own.write_text("units: sheets\n", encoding="utf-8")
    place = r"b\.yaml:\d+:\d+: error K101: .*mine5.*second time(.|\n)*the first stands in .*a\.yaml, line \d+"
    with pytest.raises(KnowledgeError, match=place):
        lay_over(small, read_own_shop(own, small))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("labour_per_hour: dear\n", r":1:18: error K016|:1:18: error K0"),
        ("labour_per_hour: -4\n", r":1:18: "),
        ("tax_percent: 190\n", r":1:14: "),
        ("currency: euro\n", r":1:11: .*ISO 4217"),
        ("prices:\n  pan_gaskett: 3\n", r":2:3: error K020.*\n.*pan_gasket"),
        ("prices:\n  pan_gasket: {low: 9, typical: 3, high: 4}\n", r":2:15: error K125"),
        ("prices:\n  pan_gasket: {low: 9}\n", r":2:15: error K011"),
        ("tools: [jakc]\n", r":1:9: error K020.*\n.*jack"),
        ("labor: 3\n", r":1:1: error K012.*\n.*labour_per_hour"),
    ],
)
def test_read_own_shop__tells_place_and_remedy(text: str, told: str, small: Knowledge, tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"(?s)shop\.yaml" + told):
        read_own_shop(path, small)


def test_read_own_shop__with_the_heading_of_the_shipped_one(small: Knowledge, own: Path) -> None:
    own.write_text("shop:\n  labour_per_hour: 77\n", encoding="utf-8")
    mine = read_own_shop(own, small)
    assert {"labour_per_hour": 77.0} == mine.settings
    change_own_shop(mine, small, {"name": "Mine"})
    assert 'shop:\n  labour_per_hour: 77\n  name: "Mine"\n' == own.read_text(encoding="utf-8")


def test_change_own_shop__keeps_comments_and_sets_each_kind(small: Knowledge, own: Path) -> None:
    changes = {
        "labour_per_hour": "95.5", "name": "Gears # Co", "pan_gasket": "9/11/14", "tax_percent": "",
        "tools": "jack", "currency": "GBP", "quote": "7",
    }  # fmt: skip
    mine = change_own_shop(read_own_shop(own, small), small, changes)
    assert mine == read_own_shop(own, small)
    assert "labour_per_hour: 95.5  # since May\n" in own.read_text(encoding="utf-8")
    assert {"labour_per_hour": 95.5, "name": "Gears # Co", "tools": ("jack",), "currency": "GBP", "quote_days": 7} == (
        mine.settings
    )
    assert (9, 11, 14) == (
        mine.prices["pan_gasket"].low,
        *[getattr(mine.prices["pan_gasket"], it) for it in ("typical", "high")],
    )


def test_change_own_shop__a_comma_before_the_last_digits_is_a_decimal_point(small: Knowledge, own: Path) -> None:
    mine = change_own_shop(read_own_shop(own, small), small, {"labour_per_hour": "95,50", "pan_gasket": "8,5/9,75/12"})
    assert (95.5, 8.5, 9.75) == (
        mine.settings["labour_per_hour"],
        mine.prices["pan_gasket"].low,
        mine.prices["pan_gasket"].typical,
    )
    with pytest.raises(UsageProblem, match="labour_per_hour=1,234"):
        change_own_shop(mine, small, {"labour_per_hour": "1,234"})


def test_change_own_shop__adds_and_takes_tools(tmp_path: Path) -> None:
    first = read_own_shop(tmp_path / "new" / "shop.yaml", shipped())
    mine = change_own_shop(first, shipped(), {"tools": "+fluid_exchanger, -press"})
    have = set(shipped().shop.tools)
    assert (have | {"fluid_exchanger"}) - {"press"} == set(mine.settings["tools"])
    assert have == set(change_own_shop(mine, shipped(), {"tools": "+press,-fluid_exchanger"}).settings["tools"])


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("labour_per_hour", "dear", "labour_per_hour=dear: .*plain digits"),
        ("currency", "EURO", "currency=EURO: .*three capital letters"),
        ("pan_gasket", "3/2/1", "goes down from low to high"),
        ("pan_gasket", "3/4", "pan_gasket=3/4: .*number"),
        ("pan_gaskt", "3", "pan_gasket"),
        ("tools", "+jakc", "jack"),
        ("tools", "-jakc", "Write one of: jack"),
        ("tax_percent", "200", "tax_percent=200: "),
    ],
)
def test_change_own_shop__refuses_and_leaves_the_file(
    name: str, value: str, told: str, small: Knowledge, own: Path
) -> None:
    with pytest.raises(UsageProblem, match=told):
        change_own_shop(read_own_shop(own, small), small, {"name": "Other", name: value})
    assert OWN == own.read_text(encoding="utf-8")


def test_change_own_shop__a_file_in_braces_is_left_to_an_editor(small: Knowledge, own: Path) -> None:
    own.write_text('{"labour_per_hour": 80}', encoding="utf-8")
    with pytest.raises(UsageProblem, match=r"in braces.*editor"):
        change_own_shop(read_own_shop(own, small), small, {"name": "Mine"})


@pytest.mark.parametrize("above", ["", "# Ours.\n\n", "shop:\n  # Ours.\n  "])
def test_change_own_shop__the_last_setting_taken_back_leaves_a_file_that_says_nothing(
    above: str, small: Knowledge, own: Path
) -> None:
    own.write_text(above + "currency: GBP\n", encoding="utf-8")
    change_own_shop(read_own_shop(own, small), small, {"currency": ""})
    left = read_own_shop(own, small)
    assert ({}, {}) == (left.settings, left.prices) and ("Ours" in above) == ("Ours" in own.read_text(encoding="utf-8"))
    assert "" == peek_setting(own, "casebook")
    change_own_shop(left, small, {"currency": ""})
    assert ("Ours" in above) == ("Ours" in own.read_text(encoding="utf-8"))
    assert {"name": "Mine"} == change_own_shop(left, small, {"name": "Mine"}).settings
    assert {"name": "Mine"} == read_own_shop(own, small).settings


def test_change_own_shop__several_at_once_lose_nothing(small: Knowledge, own: Path) -> None:
    """Eight read the same file and each sets a thing of its own."""
    wanted = {"name": "Mine", "currency": "GBP", "locale": "de", "pan_gasket": "3/4/5", "labour_per_hour": "90",
              "address": "Here", "day_cost": "12", "tax_percent": "7"}  # fmt: skip
    before, start = read_own_shop(own, small), threading.Barrier(len(wanted))

    def change(item: tuple[str, str]) -> None:
        start.wait(10)
        change_own_shop(before, small, dict([item]))

    with ThreadPoolExecutor(len(wanted)) as pool:
        list(pool.map(change, wanted.items()))
    now = read_own_shop(own, small)
    assert {"name": "Mine", "currency": "GBP", "locale": "de", "labour_per_hour": 90, "address": "Here", "day_cost": 12,
            "tax_percent": 7} == now.settings  # fmt: skip
    assert 4 == now.prices["pan_gasket"].typical and "# since May" in own.read_text(encoding="utf-8")
    assert [own.name] == os.listdir(own.parent)


def test_change_own_shop__one_that_another_program_keeps_is_told(
    small: Knowledge, own: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shiftlore.knowledge.own_shop._PATIENCE_SECONDS", 0.0)
    Hold(own).take()
    with pytest.raises(UsageProblem, match=r"is being changed elsewhere \(process .*delete .*\.shop\.yaml\.open"):
        change_own_shop(read_own_shop(own, small), small, {"name": "Mine"})
    assert OWN == own.read_text(encoding="utf-8")


@pytest.mark.skipif(os.geteuid() == 0 if hasattr(os, "geteuid") else True, reason="root may write anywhere")
def test_change_own_shop__tells_where_it_cannot_write(small: Knowledge, tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    with pytest.raises(UsageProblem, match=r"cannot be written.*SHIFTLORE_SHOP"):
        change_own_shop(read_own_shop(tmp_path / "a" / "shop.yaml", small), small, {"name": "Mine"})


def test_change_own_shop__a_file_where_a_folder_should_be(small: Knowledge, tmp_path: Path) -> None:
    (tmp_path / "a").write_text("", encoding="utf-8")
    with pytest.raises(UsageProblem, match=r"cannot be written.*SHIFTLORE_SHOP"):
        change_own_shop(read_own_shop(tmp_path / "a" / "shop.yaml", small), small, {"name": "Mine"})


def test_known_tools__are_those_of_shop_checks_and_jobs() -> None:
    assert {"lift", "module_programmer"} <= known_tools(shipped())


def test_find_own_shop__follows_the_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Source: the XDG base directory specification; a relative path in it is passed over."""
    monkeypatch.delenv("SHIFTLORE_SHOP", raising=False)
    monkeypatch.delenv("APPDATA", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    assert tmp_path / "shiftlore" / "shop.yaml" == find_own_shop()
    monkeypatch.setenv("XDG_CONFIG_HOME", "relative")
    assert Path.home() / ".config" / "shiftlore" / "shop.yaml" == find_own_shop()
    monkeypatch.setenv("SHIFTLORE_SHOP", str(tmp_path / "other.yaml"))
    assert tmp_path / "other.yaml" == find_own_shop()
