"""Plain words: what a sentence says of a vehicle, which records words speak of, and the words of the owner's page.

Each part is imported when it is first asked for; what ranks causes needs none of it.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shiftlore.words.page_phrases import Phrases, fill_slots, load_phrases
    from shiftlore.words.phrase_index import SearchIndex, build_index
    from shiftlore.words.search import Hit, find_words
    from shiftlore.words.sentences import SaidAnswer, read_free_text

_HOMES = {
    "Hit": "search",
    "Phrases": "page_phrases",
    "SaidAnswer": "sentences",
    "SearchIndex": "phrase_index",
    "build_index": "phrase_index",
    "fill_slots": "page_phrases",
    "find_words": "search",
    "load_phrases": "page_phrases",
    "read_free_text": "sentences",
}

__all__ = [
    "Hit", "Phrases", "SaidAnswer", "SearchIndex", "build_index", "fill_slots", "find_words", "load_phrases",
    "read_free_text",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """Import a part when it is asked for."""
    if name in _HOMES:
        return getattr(import_module(f"shiftlore.words.{_HOMES[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
