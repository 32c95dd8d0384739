"""Plain words: what a sentence says of a vehicle, which records words speak of, and the words of the owner's page.

Each part is imported when it is first asked for; what ranks causes needs none of it.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later

if TYPE_CHECKING:
    from shiftlore.words.page_phrases import Phrases, fill_slots, load_phrases
    from shiftlore.words.phrase_index import SearchIndex, build_index
    from shiftlore.words.search import Hit, find_words
    from shiftlore.words.sentences import SaidAnswer, read_free_text

__getattr__ = open_later(
    __name__,
    {
        "page_phrases": ("Phrases", "fill_slots", "load_phrases"),
        "phrase_index": ("SearchIndex", "build_index"),
        "search": ("Hit", "find_words"),
        "sentences": ("SaidAnswer", "read_free_text"),
    },
)

__all__ = [
    "Hit", "Phrases", "SaidAnswer", "SearchIndex", "build_index", "fill_slots", "find_words", "load_phrases",
    "read_free_text",
]  # fmt: skip
