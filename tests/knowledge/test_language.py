"""What a language may say is what the shipped English says, and what the program asks for."""

import dataclasses

import pytest
from support.trade import shipped

from shiftlore.knowledge.files import decode_knowledge, encode_knowledge
from shiftlore.knowledge.language import COUNTS, FIRST_LANGUAGE, SHARES, STEM_LISTS, WRITTEN_LISTS, Language


def english() -> Language:
    return shipped().languages[FIRST_LANGUAGE]


def test_lists__english_has_every_list_and_each_name_once() -> None:
    assert set(WRITTEN_LISTS) == set(english().written)
    assert set(STEM_LISTS) == set(english().stems)
    assert len({*WRITTEN_LISTS, *STEM_LISTS}) == len(WRITTEN_LISTS) + len(STEM_LISTS)


def test_weights__english_gives_all_and_counts_are_whole() -> None:
    weights = english().weights
    assert {*SHARES, *COUNTS} == set(weights)
    assert all(0 <= weights[name] <= 1 for name in SHARES)
    assert all(weights[name] == int(weights[name]) >= 2 for name in COUNTS)


def test_language__what_a_file_leaves_out_is_empty() -> None:
    empty = Language("xx")
    values = [
        getattr(empty, one.name) for one in dataclasses.fields(Language) if one.name not in ("id", "stemming", "mark")
    ]
    assert not any(values)
    assert ((), {}, None) == (empty.stemming.endings, empty.stemming.forms, empty.stemming.double_stays)


def test_language__is_the_same_from_the_cache() -> None:
    assert shipped().languages == decode_knowledge(encode_knowledge(shipped())).languages


@pytest.mark.parametrize("role", sorted({"joints", "when", "until"}))
def test_barriers__hold_whatever_opens_a_statement(role: str) -> None:
    listed = english().written
    assert role == "when" or set(listed[role]) <= set(listed["barriers"])


def test_light__every_word_that_is_essential_in_a_phrase_is_light_or_tells() -> None:
    listed = english()
    assert set(listed.essential) <= {word for words in listed.essential.values() for word in words}
