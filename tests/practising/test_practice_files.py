"""A practice on disk: it round-trips, goes on, and tells what is wrong with it."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.practice import exercise_of, round_of

from shiftlore.basics import CaseError, ShiftloreError, UsageProblem
from shiftlore.practising import Move, Practice, Wish, load_practice, resume, save_practice
from shiftlore.practising.practice_files import read_practice, render_practice
from shiftlore.practising.rounds import KINDS

ACTS = (Move("more"), Move("ask", ("slips", "worse_cold")), Move("check", ("module_scan",)), Move("hint"))


def practice_of(*acts: Move) -> Practice:
    return Practice(exercise_of().wish, exercise_of().mark, acts)


NAMES = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=12)
WISHES = st.builds(Wish, NAMES, st.integers(1, 4), st.integers(0, 2**53), NAMES | st.just(""), NAMES | st.just(""))
IDS = st.lists(NAMES, max_size=4, unique=True).map(tuple)


@settings(max_examples=40, deadline=None)
@given(wish=WISHES, acts=st.lists(st.builds(Move, st.sampled_from(KINDS), IDS), max_size=5), day=st.just("") | NAMES)
def test_read_practice__gives_back_what_was_written(wish: Wish, acts: list[Move], day: str) -> None:
    practice = Practice(wish, "abc123", tuple(acts), day)
    assert practice == read_practice(render_practice(practice))


def test_resume__gives_the_round_as_it_stood() -> None:
    there, again = round_of(*ACTS), resume(exercise_of(), practice_of(*ACTS))
    assert there.work.state.evidence == again.work.state.evidence
    assert (there.spent, there.hints, there.named) == (again.spent, again.hints, again.named)


def test_resume__another_vehicle_is_refused() -> None:
    with pytest.raises(UsageProblem, match="rules or prices have changed"):
        resume(exercise_of(1, 12), practice_of())


def test_resume__what_cannot_have_been_done_is_refused() -> None:
    with pytest.raises(UsageProblem, match="cannot have been done: There is no check crystal_ball"):
        resume(exercise_of(), practice_of(Move("check", ("crystal_ball",))))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "The file is empty"),
        ("shiftlore: 1\nunit: long5\n", 'no key "shiftlore"'),
        ("shiftlore_practice: 2\nunit: a\nlevel: 1\nseed: 1\n", "practice:1:21"),
        ("shiftlore_practice: 1\nunit: a\nlevel: 9\nseed: 1\n", "practice:3:8"),
        ("shiftlore_practice: 1\nunit: a\nlevel: 1\nseed: -1\n", "practice:4:7"),
        ("shiftlore_practice: 1\nunit: a\nlevel: 1\nseed: 1\nacts:\n- {do: sing, ids: []}\n", "practice:6:8"),
        ("shiftlore_practice: 1\nunit: a\nlevel: 1\nseed: 1\nacts: 3\n", "practice:5:7"),
        ("shiftlore_practice: [\n", "practice:"),
    ],
)
def test_read_practice__what_is_wrong_is_told_with_its_place(text: str, told: str) -> None:
    with pytest.raises(CaseError) as caught:
        read_practice(text or "\n")
    assert told in str(caught.value)


def test_save_practice__and_load_it(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    assert load_practice(path) is None
    save_practice(path, practice_of(*ACTS))
    assert practice_of(*ACTS) == load_practice(path)
    assert [path] == list(tmp_path.iterdir())


def test_save_practice__where_it_cannot_be_written(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="cannot be written"):
        save_practice(tmp_path, practice_of())


def test_load_practice__what_is_no_text_or_no_file(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(ShiftloreError, match="no text"):
        load_practice(path)
    with pytest.raises(ShiftloreError, match="cannot be read"):
        load_practice(tmp_path)


def test_with_acts__keeps_the_rest() -> None:
    assert (exercise_of().wish, ACTS) == (practice_of().with_acts(ACTS).wish, practice_of().with_acts(ACTS).acts)
