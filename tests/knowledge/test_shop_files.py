"""Another shop's file."""

from pathlib import Path

import pytest

from shiftlore.basics import KnowledgeError
from shiftlore.knowledge import load_shop

TEXT = "name: Side Street\ncurrency: CHF\nlabour_per_hour: 140\ntools: [lift]\n"


def test_load_shop__with_and_without_its_heading(tmp_path: Path) -> None:
    plain, headed = tmp_path / "plain.yaml", tmp_path / "headed.yaml"
    plain.write_text(TEXT, encoding="utf-8")
    headed.write_text("shop:\n" + "".join(f"  {line}\n" for line in TEXT.splitlines()), encoding="utf-8")
    for path in (plain, headed):
        shop = load_shop(path)
        assert ("CHF", 140.0, ("lift",)) == (shop.currency, shop.labour_per_hour, shop.tools)


def test_load_shop__tells_the_place_of_every_problem(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(TEXT.replace("140", "dear"), encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"shop\.yaml:3:\d+: error"):
        load_shop(path)


def test_load_shop__a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="cannot be read"):
        load_shop(tmp_path / "none.yaml")
