"""A shop's settings and prices as text."""

from pathlib import Path

from support.trade import shipped

from shiftlore.knowledge import OwnShop, Price
from shiftlore.reports.shop_text import render_prices, render_shop


def test_render_shop__marks_each_line() -> None:
    text = render_shop(shipped(), OwnShop(Path("mine.yaml"), {"labour_per_hour": 99.5, "tools": ()}))
    assert "labour_per_hour    99.5 [yours]" in text and "currency           EUR [example]" in text
    assert "tax_percent        0 [not set]" in text and "tools              none [yours]" in text


def test_render_shop__fits_eighty_columns_whatever_the_name() -> None:
    text = render_shop(shipped(), OwnShop(Path("mine.yaml"), {"name": "word " * 40}), strong=str.upper)
    assert max(map(len, text.splitlines())) <= 80
    assert text.startswith("YOUR SHOP: MINE.YAML")


def test_render_prices__own_prices_stand_in() -> None:
    pan, fluid = Price("pan", "A pan", 1.0, 2.5, 4.0), Price("fluid", "A litre", 9.0, 10.0, 12000.0)
    own = OwnShop(Path("mine.yaml"), {}, {"pan": Price("pan", "A pan", 5.0, 6.0, 7.0)})
    lines = render_prices([pan, fluid], own, "GBP").splitlines()
    assert "GBP, without tax" in lines[0]
    assert ["pan", "5", "6", "7", "A", "pan", "[yours]"] == lines[2].split()
    assert ["fluid", "9", "10", "12,000", "A", "litre"] == lines[3].split()
