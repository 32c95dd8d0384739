"""The reader that every knowledge file and unit sheet goes through.

It lives in `shiftlore.reading`, below this room, because case files go through it too and the two
rooms are blind to each other.
"""

from shiftlore.reading import (
    KNOWLEDGE_BYTES,
    MAX_DEPTH,
    REQUIRED,
    Fields,
    Node,
    answer_of,
    id_of,
    known_words,
    number_of,
    problem_at,
    quoted,
    read_yaml,
    text_of,
    whole_of,
    word_of,
    yes_no_of,
)

__all__ = [
    "KNOWLEDGE_BYTES",
    "MAX_DEPTH",
    "REQUIRED",
    "Fields",
    "Node",
    "answer_of",
    "id_of",
    "known_words",
    "number_of",
    "problem_at",
    "quoted",
    "read_yaml",
    "text_of",
    "whole_of",
    "word_of",
    "yes_no_of",
]
