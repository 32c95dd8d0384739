"""What a language may say is what the shipped English says, and what the program asks for."""

from msgspec import structs
from support.trade import shipped

from shiftlore.knowledge.files import decode_knowledge, encode_knowledge
from shiftlore.knowledge.language import FIRST_LANGUAGE, LISTS, SIGNS, TURNS, WEIGHTS, Language


def english() -> Language:
    return shipped().languages[FIRST_LANGUAGE]


def test_lists__english_has_every_list_and_sign_and_weight() -> None:
    assert set(LISTS) == set(english().lists)
    assert set(TURNS) == set(english().turns)
    assert set(SIGNS) == {sign.kind for sign in english().signs}
    assert set(WEIGHTS) == set(english().weights)


def test_language__what_a_file_leaves_out_is_empty() -> None:
    empty = Language("xx")
    assert not any(getattr(empty, one.name) for one in structs.fields(Language) if one.name not in ("id", "mark"))


def test_language__is_the_same_from_the_cache() -> None:
    again = decode_knowledge(encode_knowledge(shipped()))
    assert (shipped().languages, shipped().sayings) == (again.languages, again.sayings)


def test_alike__a_group_has_several_words() -> None:
    assert all(len(words) > 2 for words in english().alike.values())
