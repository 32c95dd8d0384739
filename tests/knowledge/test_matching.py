"""A phrase fits best where its words stand together and in order."""

import pytest

from shiftlore.knowledge import build_index, collect_knowledge
from shiftlore.knowledge.matching import match_phrase
from shiftlore.knowledge.search_index import Phrase
from shiftlore.knowledge.wording import split_words


@pytest.fixture
def match(folder):
    index = build_index(collect_knowledge(folder())[0])

    def find(phrase, text):
        tokens = tuple(split_words(phrase))
        stems = tuple(token.stem for token in tokens if not token.is_light)
        return match_phrase(Phrase(tokens, stems, 1.0), split_words(text), index)

    return find


def test_match_phrase__whole_and_in_order_is_perfect(match):
    found = match("low line pressure", "it has low line pressure")
    assert (1.0, 1.0, (2, 3, 4)) == (found.coverage, found.tightness, found.places)


def test_match_phrase__scattered_is_less_and_disorder_less_still(match):
    together = match("line pressure", "line pressure low").quality
    scattered = match("line pressure", "line idle fluid pressure").quality
    turned = match("line pressure", "pressure line").quality
    assert together > scattered > 0
    assert together > turned > 0


def test_match_phrase__nothing_found_is_none(match):
    assert match("line pressure", "the colour is dark") is None


def test_match_phrase__a_part_covers_a_part(match):
    assert 0 < match("line pressure", "pressure").coverage < 1


def test_match_phrase__a_negation_must_stand_before_what_it_denies(match):
    assert match("no pressure", "no pressure").tightness > match("no pressure", "no dark fluid pressure").tightness


def test_match_phrase__an_upshift_is_a_shift(match):
    assert match("shift late", "upshift late").stems == {"shift", "lat"}
