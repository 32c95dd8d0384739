"""Places, problems, how they are told, and the errors that leave a room."""

import pytest

from shiftlore.basics import (
    CaseError,
    ImpossibleEvidence,
    KnowledgeError,
    Mark,
    Problem,
    ShiftloreError,
    UnknownId,
    UsageProblem,
    nearest,
    render_problem,
)


def test_mark__file_line_and_column() -> None:
    assert "a.yaml:3:5" == str(Mark("a.yaml", 3, 5))


def test_render_problem__place_code_what_and_what_to_write_instead() -> None:
    text = render_problem(Problem(Mark("a.yaml", 3, 5), "K014", 'Unknown word "offen"', "Nearest: often."))
    assert text.startswith("a.yaml:3:5: ")
    assert text.index("K014") < text.index("offen") < text.index("Nearest: often.")


def test_nearest__finds_slips_of_the_pen_and_nothing_else() -> None:
    assert "often" == nearest("offen", ["often", "seldom"])[0]
    assert [] == list(nearest("xyz", ["often", "seldom"]))


@pytest.mark.parametrize("kind", [CaseError, KnowledgeError])
def test_problems_error__carries_and_tells_every_problem(kind: type) -> None:
    problems = [Problem(Mark("a.yaml", line, 1), "K001", f"wrong {line}", "Mend it.") for line in (1, 2)]
    error = kind(problems)
    assert tuple(problems) == error.problems
    assert "a.yaml:1:1" in str(error) and "wrong 2" in str(error)


def test_impossible_evidence__names_the_clash_and_the_way_out() -> None:
    error = ImpossibleEvidence(["f", "g"])
    assert ("f", "g") == error.clash
    assert "f, g" in str(error) and "Take one of them back" in str(error)


@pytest.mark.parametrize("kind", [CaseError, KnowledgeError, UnknownId, UsageProblem, ImpossibleEvidence])
def test_shiftlore_error__is_something_that_the_user_can_put_right(kind: type) -> None:
    assert issubclass(kind, ShiftloreError) and issubclass(kind, ValueError)
