"""`shiftlore close`: by options and by questions, once and again, into the file and into the casebook."""

import json
import random
from collections.abc import Callable
from pathlib import Path

import pytest
from support.casebooks import CLOSING, close_and_kill
from support.trade import shipped

import shiftlore
from shiftlore import cases
from shiftlore.casebook import open_casebook
from shiftlore.cli import close

TEXT = "# Mine.\nshiftlore: 1\nunit: long6\nodometer_km: 164000\ncomplaint: [slips]  # he said\nfindings: {slips: yes, fluid_smell_burnt: yes}\n"


@pytest.fixture
def case(write: Callable[[str], str]) -> str:
    """Give the path of a case."""
    return write(TEXT)


@pytest.fixture
def place(tmp_path: Path) -> str:
    """Give where the casebook is."""
    return str(tmp_path / "book.db")


def outcome_of(case: str) -> object:
    return shiftlore.read_case(Path(case), shipped()).outcome


def test_close__knows_the_words_of_a_case() -> None:
    for name in ("RESULTS", "CONFIRMED_BY", "CAME_BACK", "LONGEST_WORK_MINUTES", "HIGHEST_ODOMETER_KM"):
        assert getattr(cases, name) == getattr(close, name)


def test_close__by_options(run: Callable, case: str, place: str) -> None:
    ended = run("close", case, *CLOSING, "--yes", "--casebook", place, "--closed-on", "2026-03-02")
    assert (0, "") == (ended.code, ended.err)
    assert "It was: Pump worn. What came of it: cured.\nClosed on 2026-03-02, and in the casebook.\n" == ended.out
    with open_casebook(place) as book:
        (entry,) = book.entries()
    assert (("pump_worn",), ("overhaul",), 300.0, 900.5, 164_000.0) == (
        entry.causes, entry.corrections, entry.minutes, entry.spent, entry.odometer_km,
    )  # fmt: skip
    assert f"{entry.id}" in Path(case).read_text() and "# he said" in Path(case).read_text()


def test_close__once_more_changes_nothing_and_a_comeback_is_added(run: Callable, case: str, place: str) -> None:
    run("close", case, *CLOSING, "--yes", "--casebook", place)
    text = Path(case).read_text()
    again = run("close", case, "--casebook", place)  # asks nothing
    assert (0, text) == (again.code, Path(case).read_text()) and "in the casebook already, just so" in again.out
    late = run("close", case, "--outcome", "came_back", "--came-back-after-km", "8000", "--casebook", place)
    assert "What came of it: came back, after 8,000 km." in late.out and "Changed in the casebook" in late.out
    shown = run("casebook", "show", "--casebook", place, _ids(run, place)[0])
    assert "said before" in shown.out and "cured; pump_worn" in shown.out


def _ids(run: Callable, place: str) -> list[str]:
    return [
        one["id"] for one in json.loads(run("casebook", "list", "--format", "json", "--casebook", place).out)["entries"]
    ]


def test_close__asks_what_is_not_given(run: Callable, case: str, place: str) -> None:
    answers = [
        "zzzz",
        "9",
        "pump worn, 1",
        "fluid xyz",
        "-",
        "4",
        "came",
        "",
        "8000",
        "-2",
        "90",
        "",
        "maybe",
        "y",
    ]
    ended = run("close", case, "--casebook", place, stdin="\n".join(answers) + "\n")
    assert 0 == ended.code, ended.err
    for said in (
        "What was it?\n  1 ", '"zzzz" does not say which cause.', '"9" does not say which cause.', "What was done for it?",
        "Write a number from 1 to 3, or one of: cured, not cured, came back.", "Enter: assumed.",
        "After what distance did it come back?", "Write a plain number from 0 to 100,000, in minutes; or hours",
        "What did the owner really pay?", "Write y or n.", "What came of it: came back, after 8,000 km.",
    ):  # fmt: skip
        assert said in ended.out or said in " ".join(ended.out.split()), said
    found = outcome_of(case)
    assert "pump_worn" == found.causes[0] and 90.0 == found.minutes and "assumed" == found.confirmed  # type: ignore[attr-defined]
    assert max(map(len, ended.out.splitlines())) <= 80


def test_close__takes_units_and_goes_back_and_shows_all_that_it_files(run: Callable, case: str, place: str) -> None:
    typed = [
        "b",
        "pump worn",
        "overhaul",
        "cured",
        "b",
        "h",
        "-",
        "1",
        "1",
        "16 h",
        "b",
        "2.5 hours",
        "1,900 euros",
        "y",
    ]
    ended = run("close", case, "--casebook", place, stdin="\n".join(typed) + "\n")
    said = " ".join(ended.out.split())
    assert 0 == ended.code, ended.err
    for part in (
        "This is the first question.", "b goes back, q leaves the case open.",
        "It was: Pump worn. What was done: ", "What came of it: cured. It took 2 h 30 min. The owner paid EUR 1,900.",
    ):  # fmt: skip
        assert part in said, part
    found = outcome_of(case)
    assert (("overhaul",), 150.0, 1900.0) == (found.jobs, found.minutes, found.spent)  # type: ignore[attr-defined]


@pytest.mark.parametrize("typed", ["?", "nobody knows", "Don't know", "unknown"])
def test_close__nobody_knows(run: Callable, case: str, place: str, typed: str) -> None:
    ended = run("close", case, "--casebook", place, stdin=f"{typed}\n-\n1\n\n\ny\n")
    assert 0 == ended.code and "It was: not known." in ended.out


def test_close__words_that_name_no_cause_are_answered_in_words(run: Callable, case: str, place: str) -> None:
    ended = run("close", case, "--casebook", place, stdin="pump cover worn away\nthe clutch thing\nq\n")
    said = " ".join(ended.out.split())
    assert (
        "Pump worn (pump_worn)" in said
        and "Worn linings in clutch C1" in said
        and 1 == ended.code
        and "Nothing was closed." in ended.err
    )


def test_close__proposes_what_was_done(run: Callable, write: Callable, place: str) -> None:
    case = write(TEXT + "done: [pan_drop, {job: overhaul, result: cured}]\n")
    ended = run("close", case, "--casebook", place, stdin="?\n\n\n\n\ny\n")
    assert 0 == ended.code and "(cured)" in ended.out and "It was: not known. What was done: " in ended.out
    found = outcome_of(case)
    assert ((), ("overhaul",), "cured", "") == (found.causes, found.jobs, found.result, found.confirmed)  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("typed", "says"), [("1\n", "the answers ended too early"), ("1\n\n1\n1\n\n\nn\n", "Nothing was closed.")]
)
def test_close__left_open(run: Callable, case: str, place: str, typed: str, says: str) -> None:
    ended = run("close", case, "--casebook", place, stdin=typed)
    assert 1 == ended.code and says in ended.err and TEXT == Path(case).read_text()
    assert [] == _ids(run, place)


@pytest.mark.parametrize(
    ("words", "cause"),
    [
        ("pump worn", "pump_worn"),
        ("Worn pump", "pump_worn"),
        ("pump_worn", "pump_worn"),
        ("linings b2", "worn_element_lining_b2"),
    ],
)
def test_close__a_cause_in_plain_words(run: Callable, case: str, place: str, words: str, cause: str) -> None:
    ended = run("close", case, "--cause", words, "--outcome", "cured", "--yes", "--casebook", place)
    assert (0, (cause,)) == (ended.code, outcome_of(case).causes), ended.err  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("arguments", "code", "says"),
    [
        (["--yes"], 2, "It is not said what came of it. Add --outcome cured, not_cured or came_back."),
        (["--yes", "--outcome", "cured"], 2, "It is not said what it was. Add --cause CAUSE, or --cause unknown"),
        (["--cause", "seal", "--outcome", "cured", "--yes"], 2, '"seal" does not say which cause. Name one of: '),
        (["--cause", "qqqq", "--outcome", "cured", "--yes"], 2, '"qqqq" does not say which cause. Find it: shiftlore find'),
        (["--did", "seals", "--outcome", "cured", "--yes"], 2, '"seals" does not say which job. Name one of: '),
        (["--did", "qq_q", "--outcome", "cured", "--yes"], 2, '"qq_q" does not say which job. Find it: shiftlore find'),
        (["--outcome", "better"], 2, "'better' is not one of"),
        (["--minutes", "long"], 2, "Write a whole number from 0 to 100000."),
        (["--spent", "-3"], 2, "Write the spent as a plain number"),
        (["--closed-on", "2.3.2026"], 2, "does not match the format"),
        (["--closed-on", "2999-01-01"], 2, "is still to come"),
        (["--cause", "pump_worn", "--outcome", "cured", "--came-back-after-km", "3", "--yes"], 2, "belongs to a fault that came back"),
        (["--cause", "pump_worn", "--outcome", "cured", "--person", "a\x1bb", "--yes"], 1, "Write at most 2000 visible characters."),
    ],
)  # fmt: skip
def test_close__what_cannot_be_changes_nothing(
    run: Callable, case: str, place: str, arguments: list[str], code: int, says: str
) -> None:
    ended = run("close", case, *arguments, "--casebook", place)
    assert (code, True, TEXT) == (ended.code, says in ended.err, Path(case).read_text()), ended.err


def test_close__no_case_or_no_casebook(run: Callable, case: str, tmp_path: Path) -> None:
    assert "There is no case nowhere.yaml." in run("close", "nowhere.yaml").err
    ended = run("close", case, *CLOSING, "--yes", "--casebook", str(tmp_path))
    assert 1 == ended.code and "is a folder. Name the casebook's file" in ended.err and TEXT == Path(case).read_text()
    ended = run("close", case, *CLOSING, "--yes", "--casebook", str(tmp_path / "none" / "casebook.db"))
    assert 1 == ended.code and "There is no folder" in ended.err


def test_close__a_case_that_was_forgotten_stays_so(run: Callable, case: str, place: str) -> None:
    run("close", case, *CLOSING, "--yes", "--casebook", place, "--person", "Anna")
    assert "1 case forgotten" in run("casebook", "forget", "anna", "--yes", "--casebook", place).out
    ended = run("close", case, "--casebook", place)
    assert 1 == ended.code and "forgotten on purpose. To file it anew, take id out of its outcome." in ended.err


def test_close__killed_is_whole_and_once_more_completes_it(tmp_path: Path) -> None:
    """At full size, 200 times on a file and on a server: tests/benchmarks/bench_casebook.py."""
    assert close_and_kill(tmp_path, str(tmp_path / "book.db"), random.Random(1))[0] in ("open", "file", "filed")
