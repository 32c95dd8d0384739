"""Words and counts become Betas."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shiftlore.knowledge.records import Strength
from shiftlore.knowledge.strengths import (
    counted_strength,
    how_common_of,
    mean_of,
    ratio_of,
    strength_of,
    strengths_by_grade,
)
from shiftlore.reading import read_yaml


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
