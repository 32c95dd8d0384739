"""`shiftlore practise` from the outside: pipes, files, seeds, scores, kills; see `tests/practising/golden` for whole rounds."""

import os
import random
import time
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from support.interruptions import Run
from support.long_runs import long_run

import shiftlore.practising as practising
from shiftlore.basics import UsageProblem
from shiftlore.basics.holding import Hold
from shiftlore.cli.practise import _Behind, _Stopped
from shiftlore.practising import load_practice

ASK = "does it slip?\nanything else?\n"
CURE = "module scan\ny\nshift solenoid c renewed\ny\n"
SAME = ("--unit", "long5", "--level", "1", "--seed", "11")


@pytest.fixture(autouse=True)
def book(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep the scores of a test by themselves."""
    place = tmp_path / "book.db"
    monkeypatch.setenv("SHIFTLORE_CASEBOOK", str(place))
    return place


@pytest.fixture
def file(tmp_path: Path) -> str:
    """Give the name of a file for a round."""
    return str(tmp_path / "round.yaml")


def test_practise__a_whole_round_through_a_pipe(run: Callable, file: str) -> None:
    ended = run("practise", file, *SAME, stdin=ASK + CURE)
    assert (0, "") == (ended.code, ended.err)
    assert "What it was\n  Shift solenoid C sticks off." in ended.out
    assert "Shift solenoid: 1 of 1 found so far." in ended.out
    assert "\x1b" not in ended.out and max(map(len, ended.out.split("\n"))) <= 80


def test_practise__the_same_seed_and_lines_give_the_same_bytes(run: Callable, tmp_path: Path) -> None:
    texts, kept = [], []
    for name in ("a.yaml", "b.yaml"):
        ended = run("practise", str(tmp_path / name), *SAME, stdin=ASK + CURE)
        texts.append(ended.out[ended.out.index("Level 1") :].replace("1 of 1", "").replace("2 of 2", ""))
        kept.append(load_practice(tmp_path / name))
    assert texts[0] == texts[1]
    assert (kept[0].wish, kept[0].mark, kept[0].acts) == (kept[1].wish, kept[1].mark, kept[1].acts)


def test_practise__goes_on_where_it_was_and_shows_the_end_again(run: Callable, file: str, book: Path) -> None:
    begun = run("practise", file, *SAME, stdin=ASK)
    assert f"Everythingdoneisin{file}" in "".join(begun.out.split())
    again = run("practise", file, stdin=CURE)
    assert "Going on with" in again.out and "Slips" not in begun.err
    assert "The vehicle drives right." in again.out
    over = run("practise", file)
    assert "is over" in over.out and "What it was" in over.out
    assert "1 of 1 found" in over.out, "it is counted once"
    assert "Shift solenoid: 1 of 1 found" in run("practise", "--scores").out


ROAD = "road test with live readings\ny\n"


def test_practise__the_log_of_a_road_test_is_kept_and_trace_reads_the_same_figures(run: Callable, file: str) -> None:
    ended, place = run("practise", file, *SAME, stdin=f"log\n{ROAD}log\nlog\n"), Path(file).with_name("round-log.csv")
    assert (0, "") == (ended.code, ended.err)
    assert "No road test was made with the recorder on yet" in ended.out
    assert 2 == " ".join(ended.out.split()).count("Read it: shiftlore trace")
    told = ended.out[ended.out.index("The log:") : ended.out.index("log keeps it")].split("\n", 1)[1]
    shown = run("trace", str(place), "--unit", "long5")
    assert told.rstrip() in shown.out


def test_practise__a_file_that_is_there_is_not_taken_for_the_log(run: Callable, file: str) -> None:
    place = Path(file).with_name("round-log.csv")
    place.write_text("mine")
    ended = run("practise", file, *SAME, stdin=f"{ROAD}log\n")
    assert "stays as it is" in " ".join(ended.out.split()) and "mine" == place.read_text()


def test_practise__a_log_that_cannot_be_written_is_told_and_the_round_goes_on(run: Callable, file: str) -> None:
    place = Path(file).with_name("round-log.csv")
    place.mkdir()
    ended = run("practise", file, *SAME, stdin=f"{ROAD}log\nk\n")
    assert 0 == ended.code and "The log could not be kept" in ended.out and "Spent so far" in ended.out


def test_practise__a_vehicle_that_cannot_be_simulated_says_so(run: Callable, file: str) -> None:
    vehicle = ("--unit", "trans4", "--level", "1", "--seed", "19")
    ended = run("practise", file, *vehicle, stdin=f"{ROAD}log\n")
    assert 2 == ended.out.count("No log was kept of this drive") and not Path(file).with_name("round-log.csv").exists()


def test_practise__the_default_file_takes_the_first_round_that_is_not_over(
    run: Callable, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("shiftlore.cli.practise.FIRST_FILE", tmp_path / "practice.yaml")
    run("practise", *SAME, stdin="give up\ny\n")
    run("practise", *SAME, stdin="hint\n")
    assert ["practice-2.yaml", "practice.yaml"] == sorted(one.name for one in tmp_path.glob("*.yaml"))
    assert "Going on with" in run("practise").out


def test_practise__another_round_than_the_file_holds_is_refused(run: Callable, file: str) -> None:
    run("practise", file, *SAME)
    ended = run("practise", file, "--seed", "12", "--level", "1")
    assert 2 == ended.code and "Leave --seed out" in " ".join(ended.err.split())


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--unit", "long55"), 'no unit "long55"'),
        (("--level", "9"), '"9" will not do. Write a whole number from 1 to 4.'),
        (("--area", "pumps"), 'no area "pumps"'),
        (("--area", "pump", "--level", "1"), "Add --level 3"),
        (("--seed", "-4"), "Write a whole number"),
    ],
)
def test_practise__wrong_usage_is_told(run: Callable, file: str, arguments: tuple[str, ...], told: str) -> None:
    ended = run("practise", file, *arguments)
    assert 2 == ended.code
    assert told in " ".join(ended.err.split())
    assert not Path(file).exists()


def test_practise__a_file_that_is_no_practice_is_left_alone(run: Callable, tmp_path: Path) -> None:
    case = tmp_path / "case.yaml"
    case.write_text("shiftlore: 1\nunit: long5\n", encoding="utf-8")
    ended = run("practise", str(case))
    assert 1 == ended.code and "case.yaml:" in ended.err
    assert "shiftlore: 1\nunit: long5\n" == case.read_text(encoding="utf-8")


def test_practise__the_second_on_a_round_is_told_and_changes_nothing(run: Callable, file: str) -> None:
    run("practise", file, *SAME, stdin=ASK)
    before = Path(file).read_bytes()
    first = Hold(Path(file))
    first.take()
    ended = run("practise", file, stdin=CURE)
    assert (1, "") == (ended.code, ended.out) and "is open in another session (process " in ended.err
    assert before == Path(file).read_bytes()
    first.release()
    assert "Going on with" in run("practise", file, stdin="q\n").out
    assert [Path(file).name] == [one.name for one in Path(file).parent.iterdir() if "round" in one.name]


def test_practise__an_area_is_drawn_where_the_score_is_weak(run: Callable, file: str) -> None:
    ended = run("practise", file, "--level", "1", stdin="q\n")
    practice = load_practice(Path(file))
    assert 0 == ended.code and practice is not None
    assert practice.wish.area and practice.wish.area not in ended.out


def test_practise__no_scores_yet(run: Callable) -> None:
    assert "Nothing has been practised yet" in run("practise", "--scores").out


def test_practise__a_casebook_that_cannot_be_used_loses_no_round(
    run: Callable, file: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SHIFTLORE_CASEBOOK", str(Path(file).parent))
    ended = run("practise", file, *SAME, stdin=CURE)
    assert 0 == ended.code
    assert "What it was" in ended.out and "could not be kept" in " ".join(ended.out.split())


def test_practise__lists_why_and_known_through_a_pipe(run: Callable, file: str) -> None:
    ended = run("practise", file, *SAME, stdin="list\njobs\nk\nwhy\nmodule scan\ny\nwhy\nh\n")
    for words in ("Prices from here", "Nothing was paid for yet", "What its results would have meant", "Complaint: "):
        assert words in ended.out


@long_run
@pytest.mark.parametrize("seed", range(3))
def test_practise__killed_it_has_lost_nothing(tmp_path: Path, seed: int) -> None:
    """Killed at a random moment after a line was typed: the file is whole, and holds all that was answered."""
    rng, path = random.Random(seed), tmp_path / "round.yaml"
    os.environ["SHIFTLORE_CASEBOOK"] = str(tmp_path / "book.db")
    lines = ["does it slip?", "anything else?", "hint", "module scan", "y", "any warning light?"]
    rounds = Run("practise", str(path), *SAME)
    rounds.read()
    stop = rng.randint(1, len(lines))
    for line in lines[: stop - 1]:
        rounds.write(line)
        rounds.read()
    before = load_practice(path)
    rounds.write(lines[stop - 1])
    time.sleep(rng.choice([0, 0.001, 0.01, 0.05]))
    assert "Traceback" not in rounds.kill()
    after = load_practice(path)
    assert before is not None and after is not None
    assert before.acts == after.acts[: len(before.acts)] and len(after.acts) <= len(before.acts) + 1
    again = Run("practise", str(path))
    assert "Going on with" in again.read()
    again.kill()


def behind_of(monkeypatch: pytest.MonkeyPatch, judge: Callable, plan: Callable, at_once: bool) -> _Behind:
    """Give what works behind the prompt, on a round of two choices."""
    monkeypatch.setattr(practising, "run_planner", lambda exercise, go_on: plan(go_on))
    monkeypatch.setattr(practising, "judge_act", lambda exercise, made, name: judge(name))
    monkeypatch.setattr(practising, "name_act", lambda current, act: act)
    return _Behind(SimpleNamespace(exercise=None, made=[SimpleNamespace(act="a"), SimpleNamespace(act="b")]), at_once)


@pytest.mark.parametrize("at_once", [False, True])
def test_behind__each_choice_is_judged_once_and_given_in_its_order(
    monkeypatch: pytest.MonkeyPatch, at_once: bool
) -> None:
    judged, told = [], []
    behind = behind_of(monkeypatch, lambda name: judged.append(name) or f"judged {name}", lambda go_on: "plan", at_once)
    assert "judged b" == behind.judged(1)
    assert (["judged a", "judged b"], "plan") == behind.finish(told.append)
    assert ["a", "b"] == sorted(judged) and 1.0 == told[-1]
    behind.take_in(SimpleNamespace(exercise=None, made=[*"ab", SimpleNamespace(act="c")]))
    assert "judged c" == behind.judged(2)


@pytest.mark.parametrize("at_once", [False, True])
def test_behind__what_goes_wrong_is_told_where_it_is_asked_for(monkeypatch: pytest.MonkeyPatch, at_once: bool) -> None:
    def judge(name: str) -> str:
        raise UsageProblem(f"{name} cannot be judged.")

    behind = behind_of(monkeypatch, judge, lambda go_on: "plan", at_once)
    with pytest.raises(UsageProblem, match=r"b cannot be judged\."):
        behind.judged(1)
    with pytest.raises(UsageProblem, match=r"b cannot be judged\."):  # and once more, as often as it is asked for
        behind.finish(lambda share: None)


def test_behind__stopped_it_breaks_off_what_is_begun(monkeypatch: pytest.MonkeyPatch) -> None:
    behind = behind_of(monkeypatch, str, lambda go_on: go_on(1), at_once=False)
    behind.stop()
    with pytest.raises(_Stopped):
        behind.finish(lambda share: None)
