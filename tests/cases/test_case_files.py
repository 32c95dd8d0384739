"""A case's file keeps what a person wrote in it, and what was changed in it meanwhile."""

import os
from dataclasses import replace
from pathlib import Path

import pytest

from shiftlore.basics import CaseError
from shiftlore.cases import Answer, Case, CaseChanged, CaseFile, Done, Known, read_case

KNOWN = Known(
    findings={"slips": ("no", "yes"), "level": ("right", "low")},
    backgrounds={"usage": ("normal", "towing")},
    units=["long5"],
    checks=["pan_drop", "road_test"],
    codes=["P0732"],
    aliases={"slipping": "slips"},
)
TEXT = """\
# Mine.
shiftlore: 1
unit: long5            # the van

# What he said
findings:
  slips: yes   # uphill
  level: {is: low, doubt: think_so}   # cold
"""


@pytest.fixture
def file(tmp_path: Path) -> CaseFile:
    """Give a file with comments, opened."""
    (tmp_path / "case.yaml").write_text(TEXT)
    made = CaseFile(tmp_path / "case.yaml", lambda text: read_case(text, KNOWN))
    made.open()
    return made


def test_save__keeps_comments_order_and_quotes(file: CaseFile) -> None:
    more = {"level": Answer("level", "right"), "P0732": Answer("P0732", "yes")}
    file.save(replace(file.case.with_findings(more), done=(Done("pan_drop"),)))
    wanted = (
        TEXT.replace("{is: low, doubt: think_so}", "right".ljust(len("{is: low, doubt: think_so}")))
        + "  P0732: yes\ndone: [pan_drop]\n"
    )
    assert wanted == file.path.read_text()


def test_save__again_and_again_reads_back(file: CaseFile) -> None:
    first = file.case
    second = replace(first, done=(Done("pan_drop"),), asked=("level",), said=("it slips #1",), odometer_km=1.5)
    for case in (second, first, replace(second, findings={}), second, first):
        file.save(case)
        assert case == file.open()
    assert all(
        comment in file.path.read_text() for comment in ("# Mine.", "# the van", "# What he said", "# uphill", "# cold")
    )


def test_save__what_was_changed_meanwhile_is_not_written_over(file: CaseFile) -> None:
    changed = TEXT.replace("uphill", "uphill, heard it myself")
    file.path.write_text(changed)
    with pytest.raises(CaseChanged, match=r"case.yaml was changed from outside"):
        file.save(replace(file.case, note="mine"))
    assert changed == file.path.read_text()
    file.open()
    file.save(replace(file.case, note="mine"))
    assert "heard it myself" in file.path.read_text() and "note:" in file.path.read_text()


def test_save__a_file_that_appeared_or_vanished_was_changed(tmp_path: Path, file: CaseFile) -> None:
    new = CaseFile(tmp_path / "new.yaml", lambda text: read_case(text, KNOWN))
    assert new.open() is None
    new.path.write_text(TEXT)
    file.path.unlink()
    for one in (new, file):
        with pytest.raises(CaseChanged):
            one.save(Case("long5", note="mine"))


def test_save__a_name_that_means_another_is_not_written_twice(tmp_path: Path) -> None:
    (tmp_path / "case.yaml").write_text("# Mine.\nunit: long5\nfindings: {slipping: yes}  # uphill\n")
    file = CaseFile(tmp_path / "case.yaml", lambda text: read_case(text, KNOWN))
    case = file.open()
    assert case is not None
    file.save(case.with_findings({"slips": Answer("slips", "no")}))
    assert "no" == file.open().findings["slips"].grade
    assert "# Mine." in file.path.read_text() and "# uphill" in file.path.read_text()


def test_save__nothing_new_writes_nothing(file: CaseFile) -> None:
    before = os.stat(file.path).st_mtime_ns
    file.save(file.case)
    assert before == os.stat(file.path).st_mtime_ns


def test_save__of_json_stays_json(tmp_path: Path) -> None:
    import json

    (tmp_path / "case.json").write_text('{"shiftlore": 1, "unit": "long5", "findings": {"slips": true}}')
    file = CaseFile(tmp_path / "case.json", lambda text: read_case(text, KNOWN))
    case = file.open()
    assert case is not None
    file.save(replace(case, odometer_km=120_000.0))
    assert {"shiftlore": 1, "unit": "long5", "odometer_km": 120000, "findings": {"slips": "yes"}} == json.loads(
        file.path.read_text()
    )
    assert 120_000.0 == file.open().odometer_km


def test_open__what_is_no_text_is_told(file: CaseFile) -> None:
    file.path.write_bytes(b"\xff\xfe")
    with pytest.raises(CaseError):
        file.open()
