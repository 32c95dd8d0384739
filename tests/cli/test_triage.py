"""`shiftlore triage`, answered through a pipe."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from support.interruptions import load

from shiftlore.basics.holding import Hold
from shiftlore.cases import Done
from shiftlore.reports.wording import clamp_width


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
    out, path = talk("long5", "?", "?", "182000", "q")
    assert "the same command goes on from here" in out
    assert ("long5", 182_000.0) == (load(path).unit, load(path).odometer_km)


def test_triage__goes_on_from_the_file_with_a_recap(talk: Callable) -> None:
    talk("long5", "slips in second", "y", "P0732", "182000", "q")
    out, _ = talk("q")
    assert "Going on with" in out and "long5, 182,000 km. Complaint: Slips in gear 2." in out
    assert "Known: P0732" in out
    assert "kilometres" not in out and "plain words" not in out


def test_triage__a_unit_given_is_not_asked_for(talk: Callable) -> None:
    out, _ = talk("q", options=("--unit", "long6"))
    assert "Which transmission" not in out


def test_triage__words_become_findings_after_a_yes(talk: Callable) -> None:
    out, path = talk("long5", "bangs into second when hot, fluid smells burnt", "y", "q")
    assert "I understood this" in out and "Likeliest now" in out
    assert load(path).complaint or load(path).findings


def test_triage__words_not_yet_confirmed_are_read_again(talk: Callable) -> None:
    talk("long5", "slips in every gear when hot")
    out, _ = talk("q")
    assert "I understood this" in out


def test_triage__what_cannot_be_understood_is_asked_again(talk: Callable) -> None:
    out, path = talk("long5", "?", "?", "very far", "90000", "q")
    assert "Write the distance in kilometres" in out
    assert 90_000.0 == load(path).odometer_km


def test_triage__back_asks_the_last_question_again(talk: Callable) -> None:
    out, path = talk("long5", "?", "?", "90000", "b", "120000", "q")
    assert "Taken back: 90,000 km." in out
    assert 120_000.0 == load(path).odometer_km


def test_triage__help_why_and_ranking_answer_nothing(talk: Callable) -> None:
    out, path = talk("long5", "it slips", "y", "?", "90000", "h", "w", "r", "k", "q")
    assert "Where the trouble lies" in out and "not known" in out
    assert "odometer_km" == load(path).asked[-1]
    assert 5 == out.count("Is any of this so?"), "the question that waits is shown again"


def test_triage__stopped_before_anything_leaves_no_file(talk: Callable) -> None:
    out, path = talk("q")
    assert "before anything was answered" in out
    assert not path.exists()


def test_triage__an_unknown_unit_is_told(run: Callable, tmp_path: Path) -> None:
    ended = run("triage", str(tmp_path / "c.yaml"), "--unit", "long55")
    assert 2 == ended.code
    assert "long5" in ended.err


def test_triage__a_broken_file_is_left_alone(run: Callable, write: Callable) -> None:
    path = write("unit: long5\nfindings: {nothing_such: yes}\n")
    before = Path(path).read_text(encoding="utf-8")
    ended = run("triage", path, stdin="1\n")
    assert (1, before) == (ended.code, Path(path).read_text(encoding="utf-8"))


def test_triage__says_that_the_makers_procedure_comes_first(talk: Callable) -> None:
    assert "maker's procedure" in talk("q")[0]


def test_triage__eight_inputs_until_the_first_ranking_where_nothing_is_known(talk: Callable) -> None:
    """Review of use: 18 to 26 inputs; here unit, sentence, confirmation and five times not known."""
    out, path = talk("long6", "it is sluggish", "y", *["?"] * 5, "q")
    assert "Where it stands" in out and "What to do next" in out
    assert (out.index("Where it stands") > out.index("Is any of this so?")) and len(load(path).asked) > 5


def test_triage__a_sentence_and_one_letter_until_a_ranking(talk: Callable) -> None:
    assert "Where it stands" in talk("long6", "slips in third when hot", "y", "c")[0]


SLIPS = (
    "shiftlore: 1\nunit: long5\nodometer_km: 182000\nbackground: {service_record: never, usage: towing}\n"
    "complaint: [slips_gear_2]\nfindings: {fluid_level: right, fluid_colour: dark, fluid_smell_burnt: no}\n"
    "asked: [complaint, codes, odometer_km, recent_events, first_look, slips_gear]\n"
)


@pytest.fixture
def at_steps(run: Callable, write: Callable) -> Callable:
    """Give a function that types at the next steps."""

    def go(*lines: str, more: str = "") -> tuple:
        path = write(SLIPS + more)
        ended = run("triage", path, stdin="\n".join(lines) + "\n")
        assert 0 == ended.code, ended.err
        return " ".join(ended.out.split()), load(Path(path))

    return go


def test_triage__a_check_is_told_with_its_cautions_and_entered(at_steps: Callable) -> None:
    out, case = at_steps("pan_drop", "3", "1", "q")
    assert "Drop the pan and look at what lies in it" in out and "Mind: " in out
    assert "Entered: Drop the pan" in out
    assert ("pan_drop",) == case.done_ids and "pan_off" == case.access
    assert "thick" == case.findings["magnet_paste"].grade


def test_triage__back_at_the_first_question_leaves_the_check(at_steps: Callable) -> None:
    out, case = at_steps("pan_drop", "b", "q")
    assert "It does not count as made." in out
    assert () == case.done and "magnet_paste" not in case.asked


def test_triage__a_check_cut_off_in_between_is_taken_up_again(run: Callable, write: Callable) -> None:
    path = write(SLIPS)
    run("triage", path, stdin="pan_drop\n3\n")
    ended = run("triage", path, stdin="1\n")
    assert "Half entered: Drop the pan" in " ".join(ended.out.split())
    assert ("pan_drop",) == load(Path(path)).done_ids


def test_triage__what_cannot_be_read_at_the_steps_is_asked_again(at_steps: Callable) -> None:
    out, _ = at_steps("99", "c", "q")
    assert "Write a number from 1 to 3" in out and 2 == out.count("What to do next")


def test_triage__after_a_result_only_what_is_new_is_shown(at_steps: Callable) -> None:
    out, _ = at_steps("P0740", "c", "q")
    _, news, again = out.split("Where it stands")[1:]
    assert len(news) < len(again)
    assert "was " in news


@pytest.mark.parametrize(
    ("line", "done", "said"),
    [
        ("gone", Done("overhaul", "cured"), "Do not forget what must follow"),
        ("still there", Done("overhaul", "not_cured"), "the complaint is still there"),
        ("came back after 3 weeks", Done("overhaul", "came_back", after_days=21.0), "it came back after 21 days"),
    ],
)
def test_triage__what_came_of_a_job_is_in_the_file(at_steps: Callable, line: str, done: Done, said: str) -> None:
    out, case = at_steps("overhaul", line)
    assert (done,) == case.done and said in out


def test_triage__the_closing_of_an_open_vehicle_is_counted(at_steps: Callable) -> None:
    out, _ = at_steps("hot_drive", "q", more="access: pan_off\n")
    assert "First close the vehicle and fill it: " in out


def test_triage__a_check_that_what_is_known_forbids_asks_first(at_steps: Callable) -> None:
    out, case = at_steps("stall_test", "b", "q")
    assert "It does not go with what is known: Slips in gear 2: yes" in out
    assert "entering stall_test" not in case.asked


def test_triage__work_that_hardly_helps_is_not_called_the_best(talk: Callable) -> None:
    out, _ = talk("long6", "it is sluggish", "y", "c", "q")
    assert "No repair is likely enough yet" in out and "best work" not in out


def test_triage__explains_in_words_and_by_the_number_of_a_step(at_steps: Callable) -> None:
    out, case = at_steps("explain drop the pan", "explain nothing such", "explain 1", "q")
    assert "[check pan_drop]" in out and "nothing such" in out and 2 == out.count("[check ")
    assert SLIPS.count("asked") and () == case.done


def test_triage__without_a_name_it_says_which_case_lies_there(
    run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shiftlore.cli.triage.FIRST_CASE", tmp_path / "case.yaml")
    (tmp_path / "case.yaml").write_text(SLIPS, encoding="utf-8")
    asked = run("triage", stdin="\nmaybe\ny\nq\n")
    assert "holds a case already: long5; slips gear 2." in " ".join(asked.out.split()) and "Write y or n." in asked.out
    assert "Going on with" in asked.out
    new = run("triage", stdin="n\nlong6\nq\n")
    assert "long6" == load(tmp_path / "case-2.yaml").unit and SLIPS == (tmp_path / "case.yaml").read_text(
        encoding="utf-8"
    ), new.err


def test_triage__another_unit_than_the_files_is_refused(run: Callable, write: Callable) -> None:
    ended = run("triage", write(SLIPS), "--unit", "trans4")
    assert (2, True) == (ended.code, "is about long5" in ended.err)


def test_triage__a_folder_that_is_not_there_is_told_before_anything_is_asked(run: Callable, tmp_path: Path) -> None:
    ended = run("triage", str(tmp_path / "none" / "c.yaml"))
    assert (2, "") == (ended.code, ended.out)
    assert "There is no folder" in ended.err


def change_at(monkeypatch: pytest.MonkeyPatch, line: str, change: Callable[[], None]) -> None:
    """Let something happen to the file while triage waits for this line."""
    import shiftlore.cli.common as common

    read = common.read_line

    def read_and_change(prompt: str = "> ") -> str:
        typed = read(prompt)
        if typed.strip() == line:
            change()
        return typed

    monkeypatch.setattr(common, "read_line", read_and_change)


@pytest.mark.parametrize("fault", [MemoryError, RuntimeError])
def test_triage__an_answer_is_on_disk_before_anything_is_worked_out(
    run: Callable, write: Callable, monkeypatch: pytest.MonkeyPatch, fault: type[Exception]
) -> None:
    from shiftlore.compiling import CompiledCase

    work = CompiledCase.__dict__["faults_now"].func

    def fail(self: CompiledCase) -> object:
        if self.case.odometer_km == 120_000.0:
            raise fault("no more")
        return work(self)

    path = write("unit: long5\ncomplaint: [slips_gear_2]\nasked: [complaint, codes]\n")
    monkeypatch.setattr(CompiledCase, "faults_now", property(fail))
    ended = run("triage", path, stdin="120000\n")
    assert (1 if fault is MemoryError else 3) == ended.code
    assert 120_000.0 == load(Path(path)).odometer_km


def test_triage__the_owners_words_are_on_disk_before_they_are_read(
    run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr("shiftlore.sessions.desk.read_said", fail)
    run("triage", str(tmp_path / "c.yaml"), stdin="long5\nslips in second\n")
    assert ("slips in second",) == load(tmp_path / "c.yaml").said


def test_triage__what_is_refused_after_all_is_not_in_the_file(at_steps: Callable) -> None:
    _, case = at_steps("P0741", "b", "q")
    assert "P0741" not in case.findings


@pytest.mark.parametrize("columns", [40, 44, 60])
def test_triage__no_line_is_longer_than_a_narrow_window(
    run: Callable, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, columns: int
) -> None:
    """At 44 columns words were broken at the edge: "Type h fo / r help"."""
    monkeypatch.setattr("shiftlore.cli.common.terminal_width", lambda: clamp_width(columns))
    ended = run(
        "triage", str(tmp_path / "new.yaml"), stdin="trans4\nh\nit does not drive forward\ny\nnone\n?\n?\nk\nc\n1\nq\n"
    )
    lines = ended.out.splitlines()
    assert len(lines) > 60 and [] == [line for line in lines if len(line) > columns]


def test_triage__the_second_on_a_case_is_told_and_changes_nothing(run: Callable, write: Callable) -> None:
    path = Path(write(SLIPS))
    hold = Hold(path)
    hold.take()
    ended = run("triage", str(path), stdin="x\nq\n")
    assert 1 == ended.code and "is open in another triage" in " ".join(ended.out.split()) and "left alone" in ended.err
    assert 1 == run("triage", str(path)).code, "the end of the input leaves it alone"
    assert SLIPS == path.read_text() and hold.is_here()


def test_triage__the_second_may_look_on(run: Callable, write: Callable) -> None:
    path = Path(write(SLIPS))
    hold = Hold(path)
    hold.take()
    ended = run("triage", str(path), stdin="l\n")
    assert 0 == ended.code and "Where it stands" in ended.out and "What to do next" in ended.out
    assert SLIPS == path.read_text() and hold.is_here()


def test_triage__taken_over_the_first_stops_and_the_second_keeps_all(run: Callable, write: Callable) -> None:
    path = Path(write(SLIPS))
    second = Hold(path)
    change = second.take_over
    with pytest.MonkeyPatch.context() as patch:
        change_at(patch, "P0740", change)
        ended = run("triage", str(path), stdin="P0741\nP0740\nq\n")
    assert 1 == ended.code and "taken" in ended.err and "over" in ended.err
    assert "Your last line is not in" in ended.out and "Everything before it is in" in " ".join(ended.out.split())
    assert {"P0741"} == {key for key in load(path).findings if key.startswith("P")}
    second.release()


def test_triage__an_edit_from_outside_is_taken_in(run: Callable, write: Callable) -> None:
    path = Path(write(SLIPS))

    def change() -> None:
        path.write_text(path.read_text() + "note: from outside  # mine\n")

    with pytest.MonkeyPatch.context() as patch:
        change_at(patch, "P0740", change)
        ended = run("triage", str(path), stdin="c\nP0740\nP0741\nq\n")
    case, told = load(path), " ".join(ended.out.split())
    assert "was changed from outside" in told and '"P0740" was not taken' in told
    assert "from outside" == case.note and "# mine" in path.read_text()
    assert "P0741" in case.findings and "P0740" not in case.findings


def test_triage__an_answer_to_the_same_question_is_taken_with_the_edit(run: Callable, tmp_path: Path) -> None:
    path = tmp_path / "c.yaml"

    def change() -> None:
        path.write_text(path.read_text() + "note: from outside\n")

    with pytest.MonkeyPatch.context() as patch:
        change_at(patch, "90000", change)
        run("triage", str(path), stdin="long5\n?\n?\n90000\nq\n")
    assert ("from outside", 90_000.0) == (load(path).note, load(path).odometer_km)


@pytest.mark.parametrize("mended", [True, False])
def test_triage__an_edit_that_cannot_be_read_is_asked_about(run: Callable, write: Callable, mended: bool) -> None:
    path = Path(write("# Mine.\n" + SLIPS))

    def change() -> None:
        path.write_text(SLIPS + "note: [half\n")

    with pytest.MonkeyPatch.context() as patch:
        change_at(patch, "P0740", change)
        change_at(patch, "mended", lambda: path.write_text(SLIPS + "note: whole\n"))
        ended = run("triage", str(path), stdin="P0741\nP0740\n" + ("mended\nq\n" if mended else ""))
    assert "note: [half" in path.read_text() or mended
    kept = path if mended else path.with_name("case-2.yaml")
    assert "C004" in ended.err and str(path.with_name("case-2.yaml")) in "".join(ended.out.split())
    assert ("whole" if mended else "") == load(kept).note
    assert mended or ("P0741" in load(kept).findings and "# Mine." in kept.read_text())
    assert {path.name, kept.name} == set(os.listdir(path.parent))


def test_triage__comments_of_a_hand_written_case_stay(run: Callable, write: Callable) -> None:
    text = "# A van.\n" + SLIPS.replace("182000\n", "182000   # on the clock\n")
    path = Path(write(text))
    run("triage", str(path), stdin="P0741\nq\n")
    assert "P0741" in load(path).findings
    assert path.read_text().startswith("# A van.\n") and "182000   # on the clock" in path.read_text()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_triage__places_that_cannot_be_written_are_told_before_anything_is_asked(run: Callable, tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "dangling.yaml").symlink_to(tmp_path / "none" / "c.yaml")
    for name in ("pipe.yaml", "dangling.yaml", "n" * 300 + ".yaml", "/proc/c.yaml", "bad\x1bname.yaml", "."):
        ended = run("triage", str(tmp_path / name))
        assert (2, "") == (ended.code, ended.out), name
        assert "\x1b" not in ended.err


def test_triage__leaves_nothing_beside_the_case(run: Callable, write: Callable) -> None:
    path = Path(write(SLIPS))
    run("triage", str(path), stdin="P0741\nq\n")
    assert [path.name] == os.listdir(path.parent)
