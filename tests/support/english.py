"""The English that came with the program, made ready once."""

from functools import cache

from shiftlore.knowledge import load_knowledge
from shiftlore.words.vocabulary import Token, Vocabulary, choose_vocabulary


@cache
def english() -> Vocabulary:
    """Give the vocabulary of English."""
    return choose_vocabulary(load_knowledge())


def split_words(text: str) -> list[Token]:
    """Take an English text apart."""
    return english().split(text)


def weight(name: str) -> float:
    """Give a weight of the free text."""
    return english().weights[name]
