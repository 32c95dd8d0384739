"""One value changes, and everything else stays as a person wrote it."""

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.reading import set_value

OWN = """\
# Our shop.

name: "Gears # and more"   # on the sign
labour_per_hour: 90  # since May

# What we pay:
prices:
  oil: 12   # the drum
  # by the piece
  filter: {low: 10, typical: 20, high: 40}

tools:
- lift
- press
# the end
"""


@pytest.mark.parametrize(
    ("path", "value", "old", "new"),
    [
        (["name"], '"Other"', '"Gears # and more"   #', '"Other"   #'),
        (["labour_per_hour"], "95", "hour: 90  #", "hour: 95  #"),
        (["prices", "oil"], "14", "oil: 12   #", "oil: 14   #"),
        (["prices", "filter"], "9", "filter: {low: 10, typical: 20, high: 40}", "filter: 9"),
        (["prices", "plug"], "3", "high: 40}\n", "high: 40}\n  plug: 3\n"),
        (["tools"], "[lift]", "tools:\n- lift\n- press\n", "tools: [lift]\n"),
        (["prices", "oil"], None, "  oil: 12   # the drum\n", ""),
        (["tools"], None, "tools:\n- lift\n- press\n", ""),
        (["currency"], "EUR", "- press\n", "- press\ncurrency: EUR\n"),
        (["nothing"], None, "", ""),
    ],
)
def test_set_value__leaves_all_else(path: list[str], value: str | None, old: str, new: str) -> None:
    assert OWN.replace(old, new, 1) == set_value(OWN, path, value)


def test_set_value__begins_a_text() -> None:
    assert "prices:\n  oil: 3\n" == set_value("", ["prices", "oil"], "3")
    assert "# mine\na: 1\n" == set_value("# mine\n", ["a"], "1")
    assert "" == set_value("", ["a"], None)


def test_set_value__fills_an_empty_mapping_and_an_empty_place() -> None:
    assert "prices:\n  oil: 3\n" == set_value("prices: {}\n", ["prices", "oil"], "3")
    assert "a: 2  # still to say\n" == set_value("a:  # still to say\n", ["a"], "2")


def test_set_value__below_a_heading_keeps_its_margin() -> None:
    assert "shop:\n    a: 1\n    b: 2\n" == set_value("shop:\n    a: 1\n", ["shop", "b"], "2")


@pytest.mark.parametrize("text", ["{a: 1}\n", "prices: {oil: 1}\n", "prices: 3\n", "a: 1\na: 2\n"])
def test_set_value__refuses_what_only_a_person_can_change(text: str) -> None:
    with pytest.raises(ValueError, match=r"braces|problems"):
        set_value(text, ["prices", "oil"], "3")


KEYS = st.sampled_from(["a", "b", "c", "d"])


@given(st.lists(st.tuples(st.one_of(KEYS.map(lambda key: (key,)), st.tuples(st.just("p"), KEYS)), st.integers(0, 99))))
def test_set_value__is_read_as_written_by_a_general_reader(steps: list[tuple[tuple[str, ...], int]]) -> None:
    """Source: PyYAML, which reads the text without us."""
    text, wanted = "# top\np:\n  z: 1 # last\n", {"p": {"z": 1}}
    for path, value in steps:
        text = set_value(text, path, str(value))
        (wanted if len(path) == 1 else wanted["p"])[path[-1]] = value  # type: ignore[index]
    assert wanted == yaml.safe_load(text)
    assert text.startswith("# top\n") and "z: 1 # last\n" in text
