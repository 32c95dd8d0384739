"""Read `words.yaml`: what the strength and frequency words mean in numbers."""

from shiftlore.basics.problems import Problem
from shiftlore.knowledge.reading import Fields, Node
from shiftlore.knowledge.records import Strength, Words

_LARGEST_WEIGHT = 1_000_000.0
NO_WORDS = Words({}, {}, {}, {}, 150_000.0, 1.0, 0.0)


def read_words(node: Node, problems: list[Problem]) -> Words:
    """Read every word with its mean, spread and source."""
    fields = Fields(node, problems, "words file")
    words = Words(
        strengths={word: _strength(entry, word) for word, entry in _entries(fields, "strengths")},
        how_common={word: _how_common(entry, word) for word, entry in _entries(fields, "how_common")},
        wear={word: _number(entry, word, "slope", 0.1, 10.0) for word, entry in _entries(fields, "wear")},
        doubts={word: _number(entry, word, "p_right", 0.5, 1.0) for word, entry in _entries(fields, "doubts")},
        reference_km=fields.number("reference_km", low=1000, high=3_000_000),
        complaint_total=fields.number("complaint_total", low=0.5, high=2.0),
        nothing_found=fields.number("nothing_found", low=0.0, high=0.9),
    )
    fields.text("source", "")
    fields.finish()
    return words


def _entries(fields: Fields, key: str) -> list[tuple[str, Fields]]:
    pairs = fields.pairs(key, required=True)
    return [(word, Fields(node, fields.problems, f"{key} word")) for word, _, node in pairs]


def _strength(entry: Fields, word: str) -> Strength:
    mean = entry.number("mean", low=0.0, high=1.0)
    return Strength(mean, _weight_and_source(entry), word)


def _how_common(entry: Fields, word: str) -> Strength:
    share = entry.number("per_thousand", low=0.001, high=999) / 1000
    return Strength(share, _weight_and_source(entry), word)


def _weight_and_source(entry: Fields) -> float:
    weight = entry.number("weight", low=1.0, high=_LARGEST_WEIGHT)
    entry.text("source")
    entry.finish()
    return weight


def _number(entry: Fields, word: str, key: str, low: float, high: float) -> float:
    entry.named = word
    value = entry.number(key, low=low, high=high)
    entry.text("source")
    entry.finish()
    return value
