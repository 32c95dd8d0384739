"""What is written reads back as the same case."""

import yaml
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.cases import Answer, Case, Known, read_case, render_case

GRADES = ("right", "off", "3.10", "1:30", "low", "yes", "no", "y", "two words", 'a "b"', "null")
KNOWN = Known(
    findings={"fluid_level": GRADES, "burnt": ("no", "yes"), "slips_2_3": ("no", "yes")},
    backgrounds={"usage": ("normal", "no", "yes", "on", "010")},
    units=["long5", "1e3x", "step-rwd"],
    checks=["pan_drop", "road_test"],
    jobs=["service"],
    access=["standing", "pan_off"],
)
TEXT = st.text(st.characters(blacklist_categories=("Cs", "Cc", "Cf", "Zl", "Zp", "Cn")), max_size=30).map(str.strip)


@st.composite
def cases(draw):
    names = draw(st.lists(st.sampled_from(["fluid_level", "burnt", "P0732"]), unique=True))
    findings = {}
    for name in names:
        grade = draw(st.sampled_from(GRADES if name == "fluid_level" else ("no", "yes")))
        findings[name] = Answer(name, grade, draw(st.sampled_from([None, "think_so"])))
    return Case(
        unit=draw(st.sampled_from(["long5", "step-rwd"])),
        odometer_km=draw(st.none() | st.integers(0, 3_000_000).map(float)),
        background=draw(st.dictionaries(st.just("usage"), st.sampled_from(KNOWN.backgrounds["usage"]))),
        complaint=tuple(draw(st.lists(st.sampled_from(["burnt", "slips_2_3"]), unique=True))),
        findings=findings,
        done=tuple(draw(st.lists(st.sampled_from(["pan_drop", "road_test", "service"]), unique=True))),
        access=draw(st.sampled_from(["", "standing", "pan_off"])),
        budget=draw(st.none() | st.integers(0, 10_000_000).map(lambda cents: cents / 100)),
        unanswered=draw(st.sampled_from([(), ("slips_2_3",)])),
        note=draw(TEXT),
        shop=draw(TEXT),
    )


@given(cases())
def test_render_case__reads_back_the_same(case):
    assert case == read_case(render_case(case), KNOWN)


@given(cases())
def test_render_case__stock_yaml_reads_the_same_words(case):
    loaded = yaml.safe_load(render_case(case))
    for name, answer in case.findings.items():
        given_grade = loaded["findings"][name]
        grade = given_grade["is"] if isinstance(given_grade, dict) else given_grade
        assert answer.grade == ({True: "yes", False: "no"}[grade] if isinstance(grade, bool) else grade)


def test_render_case__writes_the_form_of_the_contract():
    case = Case(
        "long5", 182000.0, complaint=("burnt",), findings={"burnt": Answer("burnt", "yes", "think_so")}, budget=600.5
    )
    assert (
        "shiftlore: 1\nunit: long5\nodometer_km: 182000\ncomplaint: [burnt]\n"
        "findings:\n  burnt: {is: yes, doubt: think_so}\nbudget: 600.5\n"
    ) == render_case(case)


def test_render_case__unprintable_characters_become_spaces():
    text = render_case(Case("long5", note="bang\x07\x1b[2J \u202etext\nsecond line"))
    assert "bang  [2J  text\nsecond line" == read_case(text, KNOWN).note
