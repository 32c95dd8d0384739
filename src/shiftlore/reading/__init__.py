"""The one YAML reader: text to marked nodes, nodes to typed values, every problem gathered with its place.

It stands below `knowledge` and `cases`, which both need it and are blind to each other.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.reading.fields import REQUIRED, Fields
from shiftlore.reading.nodes import CASE_BYTES, FORBIDDEN, KNOWLEDGE_BYTES, Node, read_yaml
from shiftlore.reading.scalars import (
    CODE_FORM,
    answer_of,
    bare_meaning,
    id_of,
    known_words,
    number_of,
    problem_at,
    quoted,
    text_of,
    word_of,
)

if TYPE_CHECKING:
    from shiftlore.reading.editing import carry_over, render_as_json, set_value
    from shiftlore.reading.json_lines import read_json_line

__getattr__ = open_later(
    __name__, {"editing": ("carry_over", "render_as_json", "set_value"), "json_lines": ("read_json_line",)}
)
