"""A state is read with its grades."""

from shiftlore.knowledge.states import read_state


def test_read_state__left_out_grades_are_no_and_yes(taken):
    state, told = taken(read_state, "id: hot\nlabel: Hot\nsource: s\n")
    assert ([], ("no", "yes"), {}) == (told, state.grades, state.unexplained)


def test_read_state__bare_yes_and_no_among_grades_are_told(taken):
    _, told = taken(read_state, "id: hot\nlabel: Hot\nsource: s\ngrades: [no, yes]\n")
    assert [("a.yaml:4:10", "K021"), ("a.yaml:4:14", "K021")] == told


def test_read_state__unexplained_by_grade(taken):
    state, told = taken(read_state, "id: p\nlabel: P\nsource: s\ngrades: [right, low]\nunexplained: {low: rarely}\n")
    assert ([], 0.06) == (told, state.unexplained["low"].p)


def test_read_state__is_no_place_for_words(taken):
    _, told = taken(read_state, "id: hot\nlabel: Hot\nsource: s\nwords: [hot]\n")
    assert [("a.yaml:4:1", "K012")] == told
