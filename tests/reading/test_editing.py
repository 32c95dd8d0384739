"""One value changes, and everything else stays as a person wrote it."""

import json

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shiftlore.reading import carry_over, set_value

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
        (["name"], '"Other"', '"Gears # and more"   #', '"Other"              #'),
        (["labour_per_hour"], "95", "hour: 90  #", "hour: 95  #"),
        (["prices", "oil"], "14", "oil: 12   #", "oil: 14   #"),
        (["prices", "filter"], "9", "filter: {low: 10, typical: 20, high: 40}", "filter: 9"),
        (["prices", "plug"], "3", "high: 40}\n", "high: 40}\n  plug: 3\n"),
        (["tools"], "[lift]", "tools:\n- lift\n- press\n", "tools: [lift]\n"),
        (["prices", "oil"], None, "  oil: 12   # the drum\n", ""),
        (["tools"], None, "\ntools:\n- lift\n- press\n", ""),
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
    assert "a: 2 # still to say\n" == set_value("a:  # still to say\n", ["a"], "2")


def test_set_value__below_a_heading_keeps_its_margin() -> None:
    assert "shop:\n    a: 1\n    b: 2\n" == set_value("shop:\n    a: 1\n", ["shop", "b"], "2")


def test_set_value__changes_what_stands_in_braces() -> None:
    assert "prices: {oil: 3}  # mine\n" == set_value("prices: {oil: 1}  # mine\n", ["prices", "oil"], "3")


@pytest.mark.parametrize("text", ["{a: 1}\n", "prices: 3\n", "a: 1\na: 2\n", "- a\n", "a: [\n"])
def test_set_value__refuses_what_only_a_person_can_change(text: str) -> None:
    with pytest.raises(ValueError, match=r"braces|mapping|problems"):
        set_value(text, ["prices", "oil"], "3")


KEYS = st.sampled_from(["a", "b", "c", "d"])


UNHURRIED = settings(deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])


@UNHURRIED
@given(st.lists(st.tuples(st.one_of(KEYS.map(lambda key: (key,)), st.tuples(st.just("p"), KEYS)), st.integers(0, 99))))
def test_set_value__is_read_as_written_by_a_general_reader(steps: list[tuple[tuple[str, ...], int]]) -> None:
    """Source: PyYAML, which reads the text without us."""
    text, wanted = "# top\np:\n  z: 1 # last\n", {"p": {"z": 1}}
    for path, value in steps:
        text = set_value(text, path, str(value))
        (wanted if len(path) == 1 else wanted["p"])[path[-1]] = value  # type: ignore[index]
    assert wanted == yaml.safe_load(text)
    assert text.startswith("# top\n") and "z: 1 # last\n" in text


CASE = """\
# A van of the parcel service.
shiftlore: 1      # format
unit: long8

# What the owner said
complaint: [slips, slow]  # he was angry
findings:
    slips: yes    # all day
    # seen by the apprentice
    level: {is: low, doubt: think_so}   # cold!
    'colour': "no"
done:
  - look   # on the lift
  - {job: service, result: not_cured}

# end of the page
budget: 0900
"""
BEFORE = """\
shiftlore: 1
unit: long8
complaint: [slips, slow]
findings:
  slips: yes
  level: {is: low, doubt: think_so}
  colour: no
done: [look, {job: service, result: not_cured}]
budget: 900
"""


@pytest.mark.parametrize(
    ("old", "new", "was", "becomes"),
    [
        ("  colour: no\n", "  colour: no\n  smell: yes\n", "    'colour': \"no\"\n", "    'colour': \"no\"\n    smell: yes\n"),
        ("  colour: no\n", "", "    'colour': \"no\"\n", ""),
        ("slips: yes", "slips: no", "slips: yes    #", "slips: no     #"),
        ("slow]\n", "slow]\nodometer_km: 3\n", "# he was angry\n", "# he was angry\nodometer_km: 3\n"),
        ("[slips, slow]", "[slow]", "[slips, slow]  #", "[slow]         #"),
        ("budget: 900", "budget: null", "budget: 0900", "budget: null"),
        ("not_cured}]", "not_cured}, pan]", "not_cured}\n", "not_cured}\n  - pan\n"),
        ("[look, {", "[pan, {", "  - look   # on the lift\n  - {job: service, result: not_cured}\n", "  - pan\n  - {job: service, result: not_cured}\n"),
        ("budget: 900\n", "", "\n# end of the page\nbudget: 0900\n", "\n# end of the page\n"),
    ],
)  # fmt: skip
def test_carry_over__changes_only_what_changed(old: str, new: str, was: str, becomes: str) -> None:
    made = carry_over(CASE, BEFORE, BEFORE.replace(old, new, 1))
    lost = "# on the lift\n" if "[pan, {" in new else ""
    assert CASE.replace(was, becomes, 1) + lost == made


def test_carry_over__keeps_what_somebody_else_added_meanwhile() -> None:
    text = CASE.replace("  - look", "  - stall\n  - look").replace("budget", "note: typed elsewhere\nbudget")
    made = yaml.safe_load(carry_over(text, BEFORE, BEFORE.replace("not_cured}]", "not_cured}, pan]")))
    assert (["stall", "look", {"job": "service", "result": "not_cured"}, "pan"], "typed elsewhere") == (
        made["done"],
        made["note"],
    )


def test_carry_over__finds_a_key_by_its_other_name() -> None:
    made = carry_over(
        "findings: {p0732: yes}  # read twice\n", "findings: {P0732: yes}\n", "findings: {P0732: no}\n", str.upper
    )
    assert "findings: {p0732: no}   # read twice\n" == made


def test_carry_over__of_json_gives_json() -> None:
    made = carry_over(
        '{"unit": "long8"}', "unit: long8\n", "unit: long8\nbudget: 2.5\nodometer_km: null\nfindings:\n  a: yes\n"
    )
    assert {"unit": "long8", "budget": 2.5, "odometer_km": None, "findings": {"a": "yes"}} == json.loads(made)


VALUES = st.sampled_from(["1", "yes", '"a # b"', "[x, y]", "{is: low}"])
PLAIN = st.dictionaries(KEYS, VALUES, min_size=1)
COMMENTS = st.lists(st.sampled_from(["", "# one", "# two: [", "  # three"]), min_size=12, max_size=12)


@UNHURRIED
@given(PLAIN, PLAIN, COMMENTS)
def test_carry_over__loses_no_comment_and_is_read_as_meant_by_a_general_reader(
    before: dict[str, str], after: dict[str, str], comments: list[str]
) -> None:
    """Source: PyYAML, which reads the text without us."""
    plain = [
        f"top: 1\nfindings:\n{''.join(f'  {key}: {value}' + chr(10) for key, value in one.items())}last: 2\n"
        for one in (before, after)
    ]
    lines = plain[0].splitlines()
    text = "".join(f"{note.strip()}\n{line}" + f"  {note}\n" for note, line in zip(comments, lines, strict=False))
    made = carry_over(text, *plain)
    assert yaml.safe_load(plain[1]) == yaml.safe_load(made)
    assert sorted(comment_lines(text)) == sorted(comment_lines(made))


def comment_lines(text: str) -> list[str]:
    return [line.partition("# ")[2] for line in text.replace("a # b", "").splitlines() if "# " in line]
