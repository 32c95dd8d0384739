"""Places, problems and how they are told."""

from shiftlore.basics import Mark, Problem, nearest, render_problem


def test_mark__file_line_and_column() -> None:
    assert "a.yaml:3:5" == str(Mark("a.yaml", 3, 5))


def test_render_problem__place_code_what_and_what_to_write_instead() -> None:
    text = render_problem(Problem(Mark("a.yaml", 3, 5), "K014", 'Unknown word "offen"', "Nearest: often."))
    assert text.startswith("a.yaml:3:5: ")
    assert text.index("K014") < text.index("offen") < text.index("Nearest: often.")


def test_nearest__finds_slips_of_the_pen_and_nothing_else() -> None:
    assert "often" == nearest("offen", ["often", "seldom"])[0]
    assert [] == list(nearest("xyz", ["often", "seldom"]))
