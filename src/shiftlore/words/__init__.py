"""Plain words: what somebody says of a vehicle, which records words speak of, and the words of the owner's page.

Each part is imported when it is first asked for; what ranks causes needs none of it.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later

if TYPE_CHECKING:
    from shiftlore.words.corrections import write_corrections
    from shiftlore.words.page_phrases import Phrases, fill_slots, load_phrases
    from shiftlore.words.report import read_report
    from shiftlore.words.search import Hit, find_by_words, find_named, find_words, index_of, pick_meant
    from shiftlore.words.statements import Report, SaidAnswer, make_case
    from shiftlore.words.vocabulary import Vocabulary, choose_vocabulary

__getattr__ = open_later(
    __name__,
    {
        "corrections": ("write_corrections",),
        "page_phrases": ("Phrases", "fill_slots", "load_phrases"),
        "report": ("read_report",),
        "search": ("Hit", "find_by_words", "find_named", "find_words", "index_of", "pick_meant"),
        "statements": ("Report", "SaidAnswer", "make_case"),
        "vocabulary": ("Vocabulary", "choose_vocabulary"),
    },
)
