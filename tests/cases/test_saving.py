"""A case is written whole or not at all, reads back as the same case, and keeps what a person wrote in its file."""

import os
import stat
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.basics import CaseError
from shiftlore.cases import (
    LAYOUTS,
    ONSETS,
    Answer,
    Case,
    CaseChanged,
    CaseFile,
    Done,
    Known,
    Measured,
    Onset,
    Outcome,
    read_case,
    render_case,
)
from shiftlore.cases.saving import save_text

KNOWN = Known({}, {}, ["long5"])
GRADES = ("right", "off", "3.10", "1:30", "low", "yes", "no", "y", "two words", 'a "b"', "null")
KNOWN_WORDS = Known(
    findings={"fluid_level": GRADES, "burnt": ("no", "yes"), "slips_2_3": ("no", "yes")},
    backgrounds={"usage": ("normal", "no", "yes", "on", "010"), "life": ("no", "yes")},
    units=["long5", "1e3x", "step-rwd"],
    checks=["pan_drop", "road_test"],
    jobs=["service", "overhaul"],
    access=["standing", "pan_off"],
    events=["engine_service", "wading"],
    conditions=["hot", "at_times"],
    measures={"line_pressure": ("kPa", "bar"), "sump": ("C", "F")},
    causes=["seal_leak", "yes"],
)
TEXT = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Cf", "Zl", "Zp", "Cn")), max_size=30).map(str.strip)


def test_save_text__reads_back(tmp_path):
    save_text(tmp_path / "a.yaml", render_case(Case("long5", note="twice")))
    assert Case("long5", note="twice") == read_case(tmp_path / "a.yaml", KNOWN)


def test_save_text__leaves_no_other_file(tmp_path):
    save_text(tmp_path / "a.yaml", render_case(Case("long5")))
    assert ["a.yaml"] == os.listdir(tmp_path)


def test_save_text__keeps_the_mode(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("old")
    path.chmod(0o640)
    save_text(path, render_case(Case("long5")))
    assert 0o640 == stat.S_IMODE(path.stat().st_mode)


def test_save_text__a_new_file_gets_the_users_mode(tmp_path):
    old = os.umask(0o027)
    try:
        save_text(tmp_path / "a.yaml", render_case(Case("long5")))
    finally:
        os.umask(old)
    assert 0o640 == stat.S_IMODE((tmp_path / "a.yaml").stat().st_mode)


def test_save_text__follows_a_link(tmp_path):
    (tmp_path / "real.yaml").write_text("old")
    (tmp_path / "link.yaml").symlink_to("real.yaml")
    save_text(tmp_path / "link.yaml", render_case(Case("long5")))
    assert (tmp_path / "link.yaml").is_symlink()
    assert "unit: long5" in (tmp_path / "real.yaml").read_text()


def test_save_text__a_missing_folder_is_told(tmp_path):
    with pytest.raises(CaseError, match=r"a\.yaml.*C040.*cannot be written: No such file"):
        save_text(tmp_path / "none" / "a.yaml", render_case(Case("long5")))


def test_save_text__a_folder_in_its_place_is_told(tmp_path):
    with pytest.raises(CaseError, match="it is a folder"):
        save_text(tmp_path, render_case(Case("long5")))


def test_save_text__a_full_disk_leaves_the_old_file(tmp_path, monkeypatch):
    path = tmp_path / "a.yaml"
    path.write_text("old")

    def full(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(CaseError, match="No space left"):
        save_text(path, render_case(Case("long5")))
    assert ("old", ["a.yaml"]) == (path.read_text(), os.listdir(tmp_path))


@pytest.mark.skipif(os.name != "posix" or os.getuid() == 0, reason="the superuser may write everywhere")
def test_save_text__a_write_protected_file_is_told(tmp_path):
    path = tmp_path / "a.yaml"
    path.write_text("old")
    path.chmod(0o400)
    with pytest.raises(CaseError, match="write-protected"):
        save_text(path, render_case(Case("long5")))


DONE = (
    Done("pan_drop"),
    Done("road_test"),
    Done("service"),
    Done("service", "cured"),
    Done("service", "came_back", 900.0, 21.5),
    Done(
        "overhaul",
        "not_cured",
        found_after={"burnt": Answer("burnt", "no"), "P0732": Answer("P0732", "yes", "think_so")},
    ),
)


EITHER = (
    (Answer("slips_2_3", "yes"), Answer("fluid_level", "low", "think_so")),
    (Answer("usage", "on"), Answer("life", "yes")),
)


def onsets():
    after = st.lists(st.sampled_from(KNOWN_WORDS.events), unique=True).map(tuple)
    return st.builds(Onset, after, st.sampled_from(["", *ONSETS]), st.none() | st.just(0.0))


@st.composite
def cases(draw):
    names = draw(st.lists(st.sampled_from(["fluid_level", "burnt", "P0732"]), unique=True))
    findings = {}
    for name in names:
        grade = draw(st.sampled_from(GRADES if name == "fluid_level" else ("no", "yes")))
        when = draw(st.sampled_from([(), ("hot",), ("at_times", "hot")])) if grade not in ("right", "no") else ()
        findings[name] = Answer(name, grade, draw(st.sampled_from([None, "think_so"])), when=when)
    usage = draw(st.dictionaries(st.just("usage"), st.sampled_from(KNOWN_WORDS.backgrounds["usage"])))
    burnt = [key for key in ("burnt",) if key not in findings or findings[key].grade == "yes"]
    odometer_km = draw(st.none() | st.integers(0, 3_000_000).map(float))
    return Case(
        unit=draw(st.sampled_from(["long5", "step-rwd"])),
        odometer_km=odometer_km,
        odometer_at_least=odometer_km is not None and draw(st.booleans()),
        background=usage,
        background_doubts=dict.fromkeys(usage.items(), "think_so") if draw(st.booleans()) else {},
        speeds=draw(st.none() | st.integers(1, 16)),
        layout=draw(st.sampled_from(["", *LAYOUTS])),
        onset=draw(st.none() | onsets()),
        measured=draw(st.sampled_from([{}, {"line_pressure": Measured(4.2, "bar"), "sump": Measured(-3.0, "C")}])),
        either=draw(st.sampled_from([(), EITHER])),
        outcome=draw(st.sampled_from([None, Outcome(("seal_leak", "yes"), "seen"), Outcome((), "")])),
        complaint=tuple(draw(st.lists(st.sampled_from(["slips_2_3", *burnt]), unique=True))),
        findings=findings,
        done=tuple(draw(st.lists(st.sampled_from(DONE), unique_by=lambda item: item.id))),
        access=draw(st.sampled_from(["", "standing", "pan_off"])),
        budget=draw(st.none() | st.integers(0, 10_000_000).map(lambda cents: cents / 100)),
        unanswered=draw(st.sampled_from([(), ("slips_2_3",)])),
        note=draw(TEXT),
        shop=draw(TEXT),
    )


@given(cases())
def test_render_case__reads_back_the_same(case):
    assert case == read_case(render_case(case), KNOWN_WORDS)


@given(cases())
def test_render_case__stock_yaml_reads_the_same_words(case):
    loaded = yaml.safe_load(render_case(case))
    for name, answer in case.findings.items():
        given_grade = loaded["findings"][name]
        grade = given_grade["is"] if isinstance(given_grade, dict) else given_grade
        assert answer.grade == ({True: "yes", False: "no"}[grade] if isinstance(grade, bool) else grade)


def test_render_case__writes_the_form_of_the_contract():
    case = Case(
        "long5", 182000.0, complaint=("burnt",), findings={"burnt": Answer("burnt", "yes", "think_so")}, budget=600.5
    )
    assert (
        "shiftlore: 1\nunit: long5\nodometer_km: 182000\ncomplaint: [burnt]\n"
        "findings:\n  burnt: {is: yes, doubt: think_so}\nbudget: 600.5\n"
    ) == render_case(case)


def test_render_case__unprintable_characters_become_spaces():
    text = render_case(Case("long5", note="bang\x07\x1b[2J \u202etext\nsecond line"))
    assert "bang  [2J  text\nsecond line" == read_case(text, KNOWN_WORDS).note


KNOWN_HERE = Known(
    findings={"slips": ("no", "yes"), "level": ("right", "low")},
    backgrounds={"usage": ("normal", "towing")},
    units=["long5"],
    checks=["pan_drop", "road_test"],
    codes=["P0732"],
    aliases={"slipping": "slips"},
)
WRITTEN = """\
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
    (tmp_path / "case.yaml").write_text(WRITTEN)
    made = CaseFile(tmp_path / "case.yaml", lambda text: read_case(text, KNOWN_HERE))
    made.open()
    return made


def test_save__keeps_comments_order_and_quotes(file: CaseFile) -> None:
    more = {"level": Answer("level", "right"), "P0732": Answer("P0732", "yes")}
    file.save(replace(file.case.with_findings(more), done=(Done("pan_drop"),)))
    wanted = (
        WRITTEN.replace("{is: low, doubt: think_so}", "right".ljust(len("{is: low, doubt: think_so}")))
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
    changed = WRITTEN.replace("uphill", "uphill, heard it myself")
    file.path.write_text(changed)
    with pytest.raises(CaseChanged, match=r"case.yaml was changed from outside"):
        file.save(replace(file.case, note="mine"))
    assert changed == file.path.read_text()
    file.open()
    file.save(replace(file.case, note="mine"))
    assert "heard it myself" in file.path.read_text() and "note:" in file.path.read_text()


def test_save__a_file_that_appeared_or_vanished_was_changed(tmp_path: Path, file: CaseFile) -> None:
    new = CaseFile(tmp_path / "new.yaml", lambda text: read_case(text, KNOWN_HERE))
    assert new.open() is None
    new.path.write_text(WRITTEN)
    file.path.unlink()
    for one in (new, file):
        with pytest.raises(CaseChanged):
            one.save(Case("long5", note="mine"))


def test_save__comments_of_a_file_that_vanished_come_back(file: CaseFile) -> None:
    file.path.unlink()
    assert file.open() is None
    file.save(replace(file.case, note="mine"))
    assert file.path.read_text().startswith(WRITTEN) and "mine" == file.open().note


def test_move_to__comments_go_along(tmp_path: Path, file: CaseFile) -> None:
    case = file.case
    file.path.write_text("note: [half")
    with pytest.raises(CaseError):
        file.open()
    file.move_to(tmp_path / "case-2.yaml")
    file.save(replace(case, note="mine"))
    assert (tmp_path / "case-2.yaml").read_text().startswith(WRITTEN)
    assert "note: [half" == (tmp_path / "case.yaml").read_text()


def test_save__a_name_that_means_another_is_not_written_twice(tmp_path: Path) -> None:
    (tmp_path / "case.yaml").write_text("# Mine.\nunit: long5\nfindings: {slipping: yes}  # uphill\n")
    file = CaseFile(tmp_path / "case.yaml", lambda text: read_case(text, KNOWN_HERE))
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
    file = CaseFile(tmp_path / "case.json", lambda text: read_case(text, KNOWN_HERE))
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
