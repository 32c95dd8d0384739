"""Words and counts become Betas, and what all record readers share."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.trade import shipped

from shiftlore.basics import Mark
from shiftlore.knowledge.intake import (
    Intake,
    Opened,
    counted_strength,
    how_common_of,
    mean_of,
    ratio_of,
    read_words,
    strength_of,
    strengths_by_grade,
)
from shiftlore.knowledge.records import Strength
from shiftlore.reading import Fields, read_yaml


def opened(words, text):
    """Open a check that is called c."""
    node, problems = read_yaml(text, "a.yaml")
    record = Opened(Fields(node, problems, "check"), Intake(words, problems), "check")
    record.name("c")
    return record


def test_ids__notes_the_place_of_each(words):
    record = opened(words, "reveals: [one, two]\n")
    assert ("one", "two") == record.intake.ids(record.fields, "reveals", record.owner)
    assert "a.yaml:1:16" == str(record.intake.places["check", "c", "reveals", "two"])


def test_note__the_first_place_counts(words):
    intake = Intake(words)
    intake.note(("check", "c"), Mark("a", 1, 2))
    intake.note(("check", "c"), Mark("b", 3, 4))
    assert {("check", "c"): Mark("a", 1, 2)} == intake.places


def test_name__is_told_with_a_missing_key(words):
    record = opened(words, "id: c\n")
    record.fields.text("label")
    assert ["The check c has no label"] == [problem.what for problem in record.intake.problems]


@pytest.mark.parametrize(("text", "codes"), [("a: often", []), ("a: offen", ["K014"]), ("a: [often]", ["K013"])])
def test_strength__is_none_where_it_is_wrong(words, text, codes):
    record = opened(words, text)
    strength = record.intake.strength(record.fields.get("a"))
    assert (codes, bool(codes)) == ([problem.code for problem in record.intake.problems], strength is None)


@pytest.mark.parametrize(("text", "answer"), [("yes", "yes"), ("true", "yes"), ("no", "no"), ('"dark"', "dark")])
def test_answer__is_a_word_whatever_yaml_makes_of_it(words, text, answer):
    record = opened(words, f"a: {text}")
    assert (answer, []) == (record.intake.answer(record.fields.get("a")), record.intake.problems)


# Mosteller & Youtz 1990, Statistical Science 5, pooled means of 20 studies; from memory, so to within 0.06.
MOSTELLER_YOUTZ = {
    "always": 0.98, "nearly_always": 0.91, "usually": 0.77, "often": 0.65, "sometimes": 0.30, "seldom": 0.15,
    "rarely": 0.07, "hardly_ever": 0.03,
}  # fmt: skip


def node_of(text):
    root, _ = read_yaml(f"key: {text}\n", "a.yaml")
    return root.get("key")


def refused(reader, text, *rest):
    problems = []
    assert not reader(node_of(text), *rest, problems)
    return [(str(problem.mark), problem.code) for problem in problems]


def test_strength_of__a_word(words):
    assert words.strengths["often"] is strength_of(node_of("often"), words, [])


@pytest.mark.parametrize(
    ("text", "place", "code"),
    [
        ("offen", "1:6", "K014"),
        ("0.65", "1:6", "K019"),
        ("65", "1:6", "K019"),
        ("yes", "1:6", "K021"),
        ("[often]", "1:6", "K013"),
        ("{counted: {hits: 3}}", "1:16", "K011"),
        ("{counted: {hits: 3, of: 0}}", "1:30", "K016"),
        ("{counted: {hits: 3.5, of: 9}}", "1:23", "K016"),
        ("{count: {hits: 3, of: 9}}", "1:7", "K012"),
    ],
)
def test_strength_of__tells_what_is_wrong(words, text, place, code):
    assert (f"a.yaml:{place}", code) in refused(strength_of, text, words)


@given(st.integers(1, 10_000).flatmap(lambda of: st.tuples(st.integers(0, of), st.just(of))))
def test_counted_strength__is_the_beta_of_jeffreys(counts):
    # Jeffreys 1946: Beta(hits + 1/2, misses + 1/2); its mean is a / (a + b).
    hits, of = counts
    strength = counted_strength(hits, of)
    a, b = hits + 0.5, of - hits + 0.5
    assert (a / (a + b), a + b) == (pytest.approx(strength.p, abs=1e-12), pytest.approx(strength.weight, abs=1e-9))
    assert 0 < strength.p < 1


def test_how_common_of__takes_words_shares_and_counts(words):
    found = [
        how_common_of(node_of(text), words, [])
        for text in ("rare", "{per_thousand: 12}", "{counted: {hits: 4, of: 199}}")
    ]
    assert [0.002, 0.012, 0.0225] == [pytest.approx(strength.p, abs=1e-12) for strength in found]


def test_how_common_of__a_bare_number_does_not_say_of_how_many(words):
    assert [("a.yaml:1:6", "K019")] == refused(how_common_of, "12", words)


def test_strengths_by_grade__one_word_means_yes(words):
    assert ["yes"] == list(strengths_by_grade(node_of("often"), words, []))
    assert ["low", "high"] == list(strengths_by_grade(node_of("{low: often, high: rarely}"), words, []))


def test_ratio_of__needs_a_number_above_nothing():
    assert [("a.yaml:1:6", "K016")] == refused(ratio_of, "0")


def test_mean_of__adds_up():
    assert 0.5 == mean_of({"low": Strength(0.2, 1), "high": Strength(0.3, 1)})


def test_read_words__strengths_lie_near_the_published_ones(words):
    # almost_never and certainly stand beyond every word that was studied: for what is measured or seen, judgement.
    beyond = ("almost_never", "certainly")
    studied = {word: strength.p for word, strength in words.strengths.items() if word not in beyond}
    assert studied == pytest.approx(MOSTELLER_YOUTZ, abs=0.06)
    assert words.strengths["almost_never"].p < min(MOSTELLER_YOUTZ.values())
    assert words.strengths["certainly"].p > max(MOSTELLER_YOUTZ.values())


def test_read_words__strengths_fall_from_word_to_word(words):
    means = [strength.p for strength in words.strengths.values()]
    assert means == sorted(means, reverse=True)


def test_read_words__frequencies_are_shares(words):
    # The table of knowledge/README.md, of 1,000 complaints.
    table = {"very_common": 40, "common": 20, "fairly_common": 10, "uncommon": 5, "rare": 2, "very_rare": 0.7}
    assert {word: strength.p * 1000 for word, strength in words.how_common.items()} == pytest.approx(table, abs=1e-9)


def test_read_words__a_frequency_word_is_as_sure_as_two_cases(words):
    assert all(strength.p * strength.weight == pytest.approx(2, abs=0.01) for strength in words.how_common.values())


def test_read_words__wear_doubt_and_totals(words):
    assert {"early": 0.7, "chance": 1.0, "slow_wear": 1.5, "wear_out": 2.2} == words.wear
    assert ({"think_so": 0.8}, 150_000, 1.15, 0.04) == (
        words.doubts, words.reference_km, words.complaint_total, words.nothing_found,
    )  # fmt: skip


def test_read_words__from_when_on_nobody_drives(words):
    assert (100, 1000, 0.2, 0.4) == (
        words.soon_lost_km, words.soon_unsafe_km, words.stop_driving, words.not_driven,
    )  # fmt: skip


def test_read_words__signs_and_cautions_of_what_is_not_driven_are_there():
    knowledge = shipped()
    words = knowledge.words
    said = (*words.says_itself, *words.not_run)
    signs = [one.removeprefix("not ").partition("=") for signs in said for one in signs.split(" and ")]
    assert words.not_run and {"park_does_not_hold", "no_drive_any"} <= {sign for sign, _, _ in signs} <= {
        *knowledge.findings
    }
    assert all(grade in ("", *knowledge.findings[sign].grades) for sign, _, grade in signs)
    assert words.set_first and {*words.set_first} <= {*knowledge.findings}
    assert words.driven and words.moved and {*words.driven, *words.moved} <= {*knowledge.cautions}
    at_once = [sign for told, says in words.do_now.values() if says for sign in told]
    assert words.not_run and len(words.do_now) > 4 and all(words.not_run.values())
    assert {one.removeprefix("not ").partition("=")[0] for said in at_once for one in said.split(" and ")} <= {
        *knowledge.findings, *knowledge.causes
    }  # fmt: skip


def test_read_words__a_mean_over_one_is_told():
    node, problems = read_yaml("strengths:\n  always: {mean: 98, weight: 5, source: x}\n", "w.yaml")
    read_words(node, problems)
    assert ("w.yaml:2:18", "K016") in [(str(problem.mark), problem.code) for problem in problems]
