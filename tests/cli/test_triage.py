"""`shiftlore triage`, answered through a pipe."""

from collections.abc import Callable
from pathlib import Path

import pytest
from support.interruptions import load


@pytest.fixture
def talk(run: Callable, tmp_path: Path) -> Callable:
    """Give a function that answers a triage line by line; it ends at the end of the pipe."""

    def go(*lines: str, options: tuple[str, ...] = ()) -> tuple:
        path = tmp_path / "case.yaml"
        ended = run("triage", str(path), *options, stdin="\n".join(lines) + "\n")
        assert 0 == ended.code, ended.err
        return " ".join(ended.out.split()), path

    return go


def test_triage__every_answer_is_on_disk_when_it_stops(talk: Callable) -> None:
    out, path = talk("long5", "?", "182000", "q")
    assert "the same command goes on from here" in out
    assert ("long5", 182_000.0) == (load(path).unit, load(path).odometer_km)


def test_triage__goes_on_from_the_file(talk: Callable) -> None:
    talk("long5", "?", "182000", "q")
    out, _ = talk("q")
    assert "Going on with" in out
    assert "kilometres" not in out and "plain words" not in out


def test_triage__a_unit_given_is_not_asked_for(talk: Callable) -> None:
    out, _ = talk("q", options=("--unit", "long6"))
    assert "Which transmission" not in out


def test_triage__words_become_findings_after_a_yes(talk: Callable) -> None:
    out, path = talk("long5", "bangs into second when hot, fluid smells burnt", "y", "q")
    assert "I understood this" in out
    assert load(path).complaint or load(path).findings


def test_triage__words_not_yet_confirmed_are_read_again(talk: Callable) -> None:
    talk("long5", "slips in every gear when hot")
    out, _ = talk("q")
    assert "I understood this" in out


def test_triage__what_cannot_be_understood_is_asked_again(talk: Callable) -> None:
    out, path = talk("long5", "?", "very far", "90000", "q")
    assert "Write the distance in kilometres" in out
    assert 90_000.0 == load(path).odometer_km


def test_triage__back_asks_the_last_question_again(talk: Callable) -> None:
    _, path = talk("long5", "?", "90000", "b", "120000", "q")
    assert 120_000.0 == load(path).odometer_km


def test_triage__help_why_and_ranking_answer_nothing(talk: Callable) -> None:
    out, path = talk("long5", "it slips", "y", "90000", "h", "w", "r", "q")
    assert "Where the trouble lies" in out and "not known" in out
    assert "odometer_km" == load(path).asked[-1]


def test_triage__stopped_before_anything_leaves_no_file(talk: Callable) -> None:
    out, path = talk("q")
    assert "before anything was answered" in out
    assert not path.exists()


def test_triage__an_unknown_unit_is_told(run: Callable, tmp_path: Path) -> None:
    ended = run("triage", str(tmp_path / "c.yaml"), "--unit", "long55")
    assert 1 == ended.code
    assert "long5" in ended.err


def test_triage__a_broken_file_is_left_alone(run: Callable, write: Callable) -> None:
    path = write("unit: long5\nfindings: {nothing_such: yes}\n")
    before = Path(path).read_text(encoding="utf-8")
    ended = run("triage", path, stdin="1\n")
    assert (1, before) == (ended.code, Path(path).read_text(encoding="utf-8"))


def test_triage__says_that_the_makers_procedure_comes_first(talk: Callable) -> None:
    assert "maker's procedure" in talk("q")[0]


def test_triage__to_the_end_ranks_and_names_checks(talk: Callable) -> None:
    out, path = talk("long5", "slips in every gear", "y", "180000", *["?"] * 40)
    assert "Where the trouble lies" in out and "more questions" in out
    assert len(load(path).asked) > 8


ASKED = "asked: [recent_events, replaced_parts, codes]\n"
SLIPS = (
    "shiftlore: 1\nunit: long5\nodometer_km: 182000\nbackground: {service_record: never, usage: towing}\n"
    "complaint: [slips_gear_2]\nfindings: {fluid_level: right, fluid_colour: dark, fluid_smell_burnt: no}\n"
)


@pytest.fixture
def at_steps(run: Callable, write: Callable) -> Callable:
    """Give a function that answers what is asked first with "not known" and then types at the next steps."""

    def go(*lines: str) -> tuple:
        path = write(SLIPS + ASKED)
        ended = run("triage", path, stdin="?\n" * 16 + "\n".join(lines) + "\n")
        assert 0 == ended.code, ended.err
        return " ".join(ended.out.split()), load(Path(path))

    return go


def test_triage__a_check_is_told_with_its_cautions_and_entered(at_steps: Callable) -> None:
    out, case = at_steps("pan_drop", "3", "1", "q")
    assert "Drop the pan and look at what lies in it" in out and "Mind: " in out
    assert ("pan_drop",) == case.done_ids and "pan_off" == case.access
    assert "thick" == case.findings["magnet_paste"].grade


def test_triage__back_at_the_first_question_leaves_the_check(at_steps: Callable) -> None:
    _, case = at_steps("pan_drop", "b", "q")
    assert () == case.done and "magnet_paste" not in case.asked


def test_triage__what_cannot_be_read_at_the_steps_is_asked_again(at_steps: Callable) -> None:
    out, _ = at_steps("99", "c", "q")
    assert "Write a number from 1 to 3" in out and 2 == out.count("What to do next")


def test_triage__another_unit_than_the_files_is_refused(run: Callable, write: Callable) -> None:
    ended = run("triage", write(SLIPS), "--unit", "trans4")
    assert (1, True) == (ended.code, "is about long5" in ended.err)


def test_triage__a_folder_that_is_not_there_is_told_before_anything_is_asked(run: Callable, tmp_path: Path) -> None:
    ended = run("triage", str(tmp_path / "none" / "c.yaml"))
    assert (1, "") == (ended.code, ended.out)
    assert "There is no folder" in ended.err
