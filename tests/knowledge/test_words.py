"""The words file gives each word its number, and the numbers agree with the studies."""

import pytest

from shiftlore.knowledge.words import read_words
from shiftlore.reading import read_yaml

# Mosteller & Youtz 1990, Statistical Science 5, pooled means of 20 studies; from memory, so to within 0.06.
MOSTELLER_YOUTZ = {
    "always": 0.98, "nearly_always": 0.91, "usually": 0.77, "often": 0.65, "sometimes": 0.30, "seldom": 0.15,
    "rarely": 0.07, "hardly_ever": 0.03,
}  # fmt: skip


def test_read_words__strengths_lie_near_the_published_ones(words):
    # almost_never stands below every word that was studied: for measured signs, judgement.
    studied = {word: strength.p for word, strength in words.strengths.items() if word != "almost_never"}
    assert studied == pytest.approx(MOSTELLER_YOUTZ, abs=0.06)
    assert words.strengths["almost_never"].p < min(MOSTELLER_YOUTZ.values())


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


def test_read_words__a_mean_over_one_is_told():
    node, problems = read_yaml("strengths:\n  always: {mean: 98, weight: 5, source: x}\n", "w.yaml")
    read_words(node, problems)
    assert ("w.yaml:2:18", "K016") in [(str(problem.mark), problem.code) for problem in problems]
