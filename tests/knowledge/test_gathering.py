"""The words are read before everything else, and a shop's file may also be read on its own."""

from pathlib import Path

import pytest

from shiftlore.basics import KnowledgeError
from shiftlore.knowledge import load_shop
from shiftlore.knowledge.files import collect_files
from shiftlore.knowledge.gathering import read_all


def test_read_all__takes_the_words_first(folder):
    files, _ = collect_files(folder())
    knowledge, problems = read_all(list(reversed(files)))
    assert ([], 0.65) == (problems, knowledge.causes["worn_pump"].leads_to[1].strengths["dark"].p)


def test_read_all__tells_each_problem_once(folder):
    files, _ = collect_files(folder({"cautions.yaml": "cautions: []\n"}))
    _, problems = read_all(files)
    assert len(problems) == len(set(problems)) == 2


def test_read_all__reads_unit_sheets_with_their_own_codes(folder):
    files, _ = collect_files(folder({"units/x.yaml": "id: x\n"}))
    _, problems = read_all(files)
    assert {"U"} == {problem.code[0] for problem in problems if problem.mark.file == "units/x.yaml"}


SHOP_TEXT = "name: Side Street\ncurrency: CHF\nlabour_per_hour: 140\ntools: [lift]\n"


def test_load_shop__with_and_without_its_heading(tmp_path: Path) -> None:
    plain, headed = tmp_path / "plain.yaml", tmp_path / "headed.yaml"
    plain.write_text(SHOP_TEXT, encoding="utf-8")
    headed.write_text("shop:\n" + "".join(f"  {line}\n" for line in SHOP_TEXT.splitlines()), encoding="utf-8")
    for path in (plain, headed):
        shop = load_shop(path)
        assert ("CHF", 140.0, ("lift",)) == (shop.currency, shop.labour_per_hour, shop.tools)


def test_load_shop__tells_the_place_of_every_problem(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(SHOP_TEXT.replace("140", "dear"), encoding="utf-8")
    with pytest.raises(KnowledgeError, match=r"shop\.yaml:3:\d+: error"):
        load_shop(path)


def test_load_shop__a_missing_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(KnowledgeError, match="cannot be read"):
        load_shop(tmp_path / "none.yaml")


def test_read_all__a_check_that_names_no_access_is_made_with_nothing_open(folder):
    path = folder()
    checks = path / "checks/all.yaml"
    checks.write_text(checks.read_text(encoding="utf-8").replace("  access: pan_off\n", ""), encoding="utf-8")
    knowledge, _ = read_all(list(reversed(collect_files(path)[0])))
    assert "standing" == knowledge.unopened == knowledge.checks["pan_drop"].access
