"""When something is so: found by its words, told from its contrary, tied to the complaint of its clause."""

import pytest
from support.said import CONDITIONS
from support.trade import shipped, unit_of

from shiftlore.words import choose_vocabulary, read_report
from shiftlore.words.conditions import Moment, find_moments, says_so, settle, tie, without_located
from shiftlore.words.rereader import Rereader
from shiftlore.words.statements import SaidAnswer, Statement
from shiftlore.words.trained import Features, Segment
from shiftlore.words.turns import Turns

KINDS = {one.condition: (key, one.together or key) for key, one in shipped().findings.items() if one.condition}


def moments(text):
    vocabulary = choose_vocabulary(shipped())
    turns = Turns(vocabulary, Rereader(None, Features(vocabulary), None), vocabulary.split(text))
    return [(one.name, one.is_not) for one in find_moments(turns, KINDS)]


def said(text, unit="step", **more):
    return read_report(shipped(), unit_of(unit).expansion, text, **more)


def ties(text):
    return {one.id: tuple(sorted(one.when)) for one in said(text).answers if one.when}


def answers(text):
    return {one.id: one.answer for one in said(text).answers}


def test_moments__english_names_conditions_alone():
    assert set(shipped().languages["en"].moments) <= set(KINDS)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("slips cold in third", [("cold", False)]),
        ("bangs into reverse when it gets hot", [("hot", False)]),
        ("cold: whines", [("cold", False)]),
        ("not when hot", [("hot", True)]),
        ("never in the wet", [("wet", True)]),
        ("goes away when hot", [("hot", True)]),
        ("fine in bends", [("turning", False)]),
        ("slips in the morning", [("cold", False)]),
        ("hot or cold makes no difference", [("hot", True), ("cold", True)]),
        ("hot or cold it slips", [("hot", True), ("cold", True)]),
        ("the same hot and cold", [("hot", True), ("cold", True)]),
        ("start it cold in third", [("cold", False)]),
        ("stops if hot", [("hot", True)]),
        ("a cold start", []),
        ("a hot coffee was spilt", []),
        ("it runs hot", []),
        ("slips until warm", [("cold", False)]),
        ("no reverse until it is warm", [("cold", False)]),
        ("fine until it gets hot", [("hot", False)]),
        ("no drive until 3000 rpm", []),
        ("more than when cold", []),
        ("level on the cold mark", []),
    ],
)
def test_find_moments__words_that_say_when(text, expected):
    assert expected == moments(text)


def test_find_moments__a_condition_that_the_knowledge_does_not_have_is_none():
    vocabulary = choose_vocabulary(shipped())
    turns = Turns(vocabulary, Rereader(None, Features(vocabulary), None), vocabulary.split("slips when hot"))
    assert [] == find_moments(turns, {})


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("slips when cold", {"slips": ("cold",)}),
        ("slips cold in third", {"slips_gear_3": ("cold",)}),
        ("harsh when hot", {"shift_harsh_any": ("hot",)}),
        ("harsh 2-3 hot", {"shift_harsh_2_3": ("hot",)}),
        ("only slips in third when it is warm", {"slips_gear_3": ("hot",)}),
        ("bangs into second first thing in the morning", {"shift_harsh_1_2": ("first_start",)}),
        ("bangs into reverse cold, fine warm", {"engage_harsh_reverse": ("cold",)}),
        ("When hot, it slips in third.", {"slips_gear_3": ("hot",)}),
        ("Slips in third. Only when hot.", {"slips_gear_3": ("hot",)}),
        ("whines when cold, slips when hot", {"noise_whine": ("cold",), "slips": ("hot",)}),
        ("sometimes slips in third when hot", {"slips_gear_3": ("hot",)}),
        ("Slips in third, but only once properly warm.", {"slips_gear_3": ("hot",)}),
    ],
)
def test_tie__to_the_complaint_of_the_clause(text, expected):
    assert expected == ties(text)


@pytest.mark.parametrize("text", ["slips when cold", "whines when hot", "bangs into reverse cold, fine warm"])
def test_tie__a_tied_condition_does_not_stand_by_itself_too(text):
    assert "yes" not in [answer for key, answer in answers(text).items() if key in ("worse_hot", "worse_cold")]


def test_tie__what_holds_the_condition_in_itself_is_not_tied_to_it():
    assert {} == ties("only when hot")
    assert "yes" == answers("only when hot")["worse_hot"]


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("bangs into reverse cold, fine warm", "worse_hot"),
        ("slips in third when hot, never when cold", "worse_cold"),
        ("slips in third, fine when cold", "worse_cold"),
        ("slips in third hot or cold", "worse_hot"),
        ("slips in third hot or cold", "worse_cold"),
        ("it drives when cold", "worse_cold"),
        ("it goes when it's cold, but when it's hot it goes into neutral", "worse_cold"),
    ],
)
def test_judge__so_it_is_not_then(text, key):
    assert "no" == answers(text).get(key)


@pytest.mark.parametrize("text", ["no slip when hot", "does not bang into second when cold"])
def test_judge__when_something_is_not_so_is_shown(text):
    """Nothing of it is lost silently."""
    assert not {"worse_hot", "worse_cold"} & set(answers(text))
    assert (text,) == said(text).not_understood or text.split("when")[1] in " ".join(said(text).not_understood)


def test_judge__what_is_less_so_then_is_no_condition():
    assert "yes" != answers("slips in third. In the cold it takes longer before it slips").get("worse_cold")


def test_judge__a_condition_of_words_that_were_not_read_is_not_tied_to_another():
    assert {} == ties("slips in third but the quux frobs when hot")
    assert "frobs" in " ".join(said("slips in third but the quux frobs when hot").not_understood)


def test_judge__what_is_not_so_then_may_be_so_else():
    assert "sluggish_pull_away" not in answers("pulls off well when hot")
    assert "no" == answers("pulls off well").get("sluggish_pull_away")


def test_judge__of_two_kinds_it_is_not_said_which():
    assert not {"worse_hot", "after_wet"} & set(answers("slips in third when hot or when wet"))


def test_find_moments__a_question_asks_for_the_finding_and_for_when():
    asked = {one.id: (one.answer, one.when) for one in said("does it slip cold?", is_question=True).answers}
    assert {"slips": ("yes", ()), "worse_cold": ("yes", ())} == asked
    assert () == said("does it slip cold?").answers


@pytest.mark.parametrize(("name", "expected"), [("cold", None), ("wet", Moment("wet", ()))])
def test_settle__a_moment_of_the_same_kind_within_settles_it(name, expected):
    words = tuple(choose_vocabulary(shipped()).split("fine when hot"))
    learned = Moment(name, words)
    found = settle(learned, [Moment("hot", words[1:])], KINDS)
    assert found == (None if expected is None else learned)


def statement(key, text, *, condition="", of=(), answer="yes"):
    words = tuple(choose_vocabulary(shipped()).split(text))
    told = SaidAnswer("finding", key, key, answer=answer, score=1.0, matched=(text,), template=key)
    return words, Statement(Segment(0, 1, key, 1.0), (told,), words, condition, of)


@pytest.mark.parametrize(("answer", "expected"), [("yes", True), ("no", False), ("low", True)])
def test_says_so__anything_but_no(answer, expected):
    assert expected == says_so(statement("slips", "slips", answer=answer)[1])


def test_tie__the_same_condition_twice_is_tied_once():
    (first, one), (second, two) = (
        statement("slips", "slips"),
        statement("worse_hot", "hot", condition="hot", of=("slips",)),
    )
    told = [*one.answers, *two.answers]
    read = [(first, [one]), (second, [two]), (second, [two])]
    (kept,) = tie(told, read, choose_vocabulary(shipped()), lambda found: ())
    assert ("slips", ("hot",)) == (kept.id, kept.when)


def test_tie__a_condition_of_nothing_stands_by_itself():
    words, two = statement("worse_hot", "hot", condition="hot")
    assert list(two.answers) == tie(two.answers, [(words, [two])], choose_vocabulary(shipped()), lambda found: ())


def test_read_report__all_is_well_then_and_another_time_it_is_not():
    assert {"slips": ("hot",)} == ties("cold it is perfect, slips hot")
    for text in ("cold it is perfect, slips hot", "cold it is perfect, after twenty minutes it slips in every gear"):
        assert "no" == answers(text)["worse_cold"]


@pytest.mark.parametrize(
    ("text", "tied", "answered"),
    [
        ("no reverse until it is warm", {"no_reverse": ("cold",)}, {}),
        ("does not slip until it is hot", {"slips": ("hot",)}, {}),
        ("slips until it is warmed up", {"slips": ("cold",)}, {}),
        ("hot it slips, cold it does not", {"slips": ("hot",)}, {"worse_cold": "no"}),
        ("it does not take the reverse when it is warm, cold yes", {"no_reverse": ("hot",)}, {"worse_cold": "no"}),
        ("slow to go in R (5 sec) cold, D normal", {"engage_delay_reverse": ("cold",)}, {}),
        ("hot: slips, cold: fine", {"slips": ("hot",)}, {"worse_cold": "no"}),
        ("hot: fine, cold: slips", {"slips": ("cold",)}, {"worse_hot": "no"}),
    ],
)
def test_conditions__of_short_denials_brackets_and_until(text, tied, answered):
    assert tied == ties(text)
    assert answered == {key: answer for key, answer in answers(text).items() if key in ("worse_cold", "worse_hot")}


@pytest.mark.parametrize(
    ("text", "never"),
    [
        (
            "It used to only happen when hot, now it happens cold as well. Slips between 2nd and 3rd.",
            ("worse_hot", "yes"),
        ),
        ("First only in the mornings, now all day", ("worse_cold", "yes")),
        ("slow to go in R (5 sec) cold, D normal", ("worse_cold", "no")),
        ("smooth until warm, then bangs into second", ("worse_cold", "yes")),
    ],
)
def test_conditions__of_what_was_once_or_the_other_way_round(text, never):
    assert never not in [
        *answers(text).items(),
        *((CONDITIONS[one], "yes") for when in ties(text).values() for one in when),
    ]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("It slips in third when it is warm but in the morning it's perfectly ok.", {"slips_gear_3": ("hot",)}),
        ("It bangs into drive when hot but when cold it is smooth.", {"engage_harsh_drive": ("hot",)}),
    ],
)
def test_judge__sound_behind_but(text, expected):
    assert expected == ties(text)
    assert "no" == answers(text)["worse_cold"]


def trusted(key, trust, *words, condition=""):
    answer = SaidAnswer("finding", key, key, "yes", 1.0, ())
    return Statement(Segment(0, 1, key, 1.0, trust), (answer,), words, condition)


@pytest.mark.parametrize(
    ("key", "trusts", "left"),
    [
        ("leak_cooler", (0.2, 2.0), 1),  # no complaint: none has a condition
        ("slips", (0.2, 2.0), 2),
        ("leak_cooler", (1.5, 2.0), 2),
        ("leak_cooler", (0.2, 0.1), 2),
        ("usage", (0.2, 2.0), 1),
    ],
)
def test_without_located__of_a_surer_statement_without_conditions(key, trusts, left):
    words = choose_vocabulary(shipped()).split("damp pipe")
    found = [trusted("after_wet", trusts[0], words[0], condition="wet"), trusted(key, trusts[1], *words)]
    assert left == len(without_located(shipped(), found))


def test_without_located__its_own_words_stay():
    damp, pipe = choose_vocabulary(shipped()).split("damp pipe")
    found = [trusted("after_wet", 0.2, damp, condition="wet"), trusted("leak_cooler", 2.0, pipe)]
    assert found == without_located(shipped(), found)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("shudders when creeping, worse when warm, fine above 30 km/h", "hot"),
        ("flares 2-3, only when cold, after 5 minutes it is fine", "cold"),
        ("flares 2-3, only when cold, then it is fine", "cold"),
        ("slips in third, worst uphill, perfect on the flat", "load"),
        ("slips in third, especially when cold, normal when warm", "cold"),
    ],
)
def test_judge__what_is_fine_behind_a_stop_is_not_fine_then(text, expected):
    assert {(expected,)} == set(ties(text).values())
    assert "yes" not in [answers(text).get(key) for key in ("worse_hot", "worse_cold")]


def test_judge__only_then_without_a_complaint():
    assert {"worse_cold": "yes"} == answers("only when cold, then it is fine")
    assert {"worse_hot": "no"} == answers("when hot, fine")


@pytest.mark.parametrize("text", ["ok below 60, above that it shakes", "whines above 60 km/h, quiet below"])
def test_read_report__a_bound_on_one_side_of_which_all_is_well(text):
    whens = [name for one in said(text).answers for name in one.when]
    assert "low_speed_only" not in answers(text) and "low_speed" not in whens
    assert answers(text).get("above_speed_only") == "yes" or "above_speed" in whens


def test_judge__all_is_well_then_though_that_was_read_as_a_statement():
    assert ("no", ("hot",)) == (
        answers("Slips when hot. Cold it shifts ok.").get("worse_cold"),
        ties("Slips when hot. Cold it shifts ok.")["slips"],
    )


def test_find_moments__unless_is_as_until_where_it_is_said_of_what():
    assert "yes" == answers("doesn't slip unless it is hot").get("slips")
    assert not {"worse_hot", "worse_cold"} & set(answers("no bang unless cold"))
