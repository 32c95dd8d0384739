"""The `where` words are those of the format's table, and names of gears fit ids."""

import pytest

from shiftlore.sheets.unit_sheets import SheetGear, is_where_word, where_words

# The table of knowledge/README.md: from, to, the usual word.
USUAL = [
    (None, "element", "any"), (None, "gear", "any"), ("element", "gear", "applied"), ("element", "shift", "coming_on"),
    ("solenoid", "element", "controlled"), ("solenoid", "gear", "controlled"), ("solenoid", "shift", "switching"),
    ("gear", "shift", "into"), ("shift", "gear", "into"), ("pressure_switch", "element", "monitored"),
    ("element", "element", "same"), ("gear", "gear", "same"), ("speed_sensor", "gear", "any"),
]  # fmt: skip


@pytest.mark.parametrize(("parent", "target", "usual"), USUAL)
def test_where_words__begin_with_the_usual_one(parent, target, usual):
    assert usual == where_words(parent, target)[0]


def test_where_words__there_are_none_between_single_records():
    assert () == where_words(None, None)


@pytest.mark.parametrize(
    ("word", "parent", "target", "expected"),
    [
        ("lost_off", "solenoid", "gear", True),
        ("lost", "solenoid", "gear", False),
        ("reverse", None, "gear", True),
        ("reverse", "element", "gear", False),
        ("in_first", "element", None, True),
        ("in_lockup", "solenoid", None, True),
        ("in_first", "shift", None, False),
        ("type_output", "speed_sensor", None, True),
        ("type_output", None, None, False),
    ],
)
def test_is_where_word__fits_the_two_ends(word, parent, target, expected):
    assert expected == is_where_word(word, parent, target)


@pytest.mark.parametrize(("name", "ident"), [("1", "1"), ("R", "r"), ("2 prime", "2_prime"), ("R-2", "r_2")])
def test_id__is_fit_for_expanded_ids(name: str, ident: str) -> None:
    assert ident == SheetGear(name, None, {}).id
