"""What every record reader shares: the words and their numbers, the problems so far, and where each id stands."""

from collections.abc import Mapping
from typing import Any

from msgspec import Struct, field

from shiftlore.basics.problems import Mark, Problem
from shiftlore.knowledge.forms import SEVERITIES
from shiftlore.knowledge.records import Strength, Words
from shiftlore.reading import Fields, Node, answer_of, number_of, problem_at, text_of, word_of

# Jeffreys' prior for a share: half a hit and half a miss (Jeffreys 1946).
_JEFFREYS = 0.5
# A guessed frequency counts for two cases, like the frequency words (see words.yaml).
_GUESSED_CASES = 2.0
_LARGEST_RATIO = 100.0
_LARGEST_WEIGHT = 1_000_000.0
_PER_THOUSAND = 0.001, 999
NO_WORDS = Words(
    strengths={}, how_common={}, wear={}, doubts={}, reference_km=150_000.0, complaint_total=1.0, nothing_found=0.0,
    soon_lost_km=0.0, stop_driving=1.0,
)  # fmt: skip


class Intake(Struct):
    """Gathers while files are read, one for a whole knowledge folder.

    Args:
        words: the numbers behind the words.
        places: (kind, id, key, member) -> where that member stands.
        source: the source stated once for the file being read, or "".
        unopened: the state of disassembly of checks and jobs that name none: the one in which nothing is open.
    """

    words: Words
    problems: list[Problem] = field(default_factory=list)
    places: dict[tuple[str, ...], Mark] = field(default_factory=dict)
    source: str = ""
    unopened: str = ""

    def note(self, place: tuple[str, ...], mark: Mark) -> None:
        """Remember where something stands; the first place counts."""
        self.places.setdefault(place, mark)

    def ids(self, fields: Fields, key: str, owner: tuple[str, str]) -> tuple[str, ...]:
        """Read a list of ids and note where each stands."""
        found = fields.marked_list(key)
        for text, mark in found:
            self.note((*owner, key, text), mark)
        return tuple(text for text, _ in found)

    def strength(self, node: Node) -> Strength | None:
        """Read a strength, or None where it is wrong."""
        return strength_of(node, self.words, self.problems)

    def answer(self, node: Node) -> str | None:
        """Read an answer, or None where it is wrong."""
        return answer_of(node, self.problems)


class Opened(Struct):
    """A record that is being read.

    Args:
        fields: its keys.
        intake: where problems and places go.
        kind: what it is called in messages and places.
        values: field of the record -> what was read of it so far.
        owner: kind and id, once the id is read.
    """

    fields: Fields
    intake: Intake
    kind: str
    values: dict[str, Any] = field(default_factory=dict)
    owner: tuple[str, str] = ("", "")

    def name(self, record_id: str) -> None:
        """Say which record it is, for messages and places."""
        self.fields.named = record_id
        self.owner = (self.kind, record_id)


def read_words(node: Node, problems: list[Problem]) -> Words:
    """Read every word with its mean, spread and source."""
    fields = Fields(node, problems, "words file")
    words = Words(
        strengths={word: _word(one, word, one.number("mean", 0.0, 1.0)) for word, one in _entries(fields, "strengths")},
        how_common={
            word: _word(one, word, one.number("per_thousand", *_PER_THOUSAND) / 1000)
            for word, one in _entries(fields, "how_common")
        },
        wear={word: _number(one, "slope", 0.1, 10.0, word) for word, one in _entries(fields, "wear")},
        doubts={word: _number(one, "p_right", 0.5, 1.0, word) for word, one in _entries(fields, "doubts")},
        reference_km=fields.number("reference_km", low=1000, high=3_000_000),
        complaint_total=fields.number("complaint_total", low=0.5, high=2.0),
        nothing_found=fields.number("nothing_found", low=0.0, high=0.9),
        soon_lost_km=fields.number("soon_lost_km", low=0, high=3_000_000),
        soon_unsafe_km=fields.number("soon_unsafe_km", low=0, high=3_000_000, default=3_000_000),
        stop_driving=fields.number("stop_driving", low=0.0, high=1.0),
        says_itself={
            sign: severity
            for sign, _, one in fields.pairs("says_itself")
            if (severity := word_of(one, SEVERITIES, problems, "severity"))
        },
        milder={sign: told for sign, _, one in fields.pairs("milder") if (told := text_of(one, problems))},
        not_driven=fields.number("not_driven", low=0.0, high=1.0, default=1.0),
        driven=fields.words_list("driven"),
        moved=fields.words_list("moved"),
        set_first={sign: why for sign, _, one in fields.pairs("set_first") if (why := text_of(one, problems))},
        not_run={sign: why for sign, _, one in fields.pairs("not_run") if (why := text_of(one, problems))},
        do_now={word: _signs(one, word) for word, one in _entries(fields, "do_now", required=False)},
    )
    fields.text("source", "")
    fields.finish()
    return words


def strength_of(node: Node, words: Words, problems: list[Problem]) -> Strength | None:
    """Read how often a parent shows in a child: a word, or a count.

    Args:
        node: ``often`` or ``{counted: {hits: 7, of: 9}}``.
    Returns: the strength; a count gives Beta(hits + 0.5, of - hits + 0.5).
    """
    if node.kind == "mapping":
        return _counted(Fields(node, problems, "strength"))
    if node.kind == "scalar" and _is_number(node):
        advice = "Write a strength word, or what was counted: {counted: {hits: 7, of: 9}}."
        problems.append(problem_at(node, "019", f"A bare number ({node.text}) is no strength", advice))
        return None
    word = word_of(node, words.strengths, problems, "strength")
    return None if word is None else words.strengths[word]


def strengths_by_grade(node: Node, words: Words, problems: list[Problem]) -> dict[str, Strength]:
    """Read one strength for a yes/no target, or one for each grade of a graded target."""
    if node.kind != "mapping" or node.get("counted") is not None:
        strength = strength_of(node, words, problems)
        return {} if strength is None else {"yes": strength}
    pairs = Fields(node, problems, "strengths by grade").own_pairs()
    found = {grade: strength_of(value, words, problems) for grade, _, value in pairs}
    return {grade: strength for grade, strength in found.items() if strength is not None}


def how_common_of(node: Node, words: Words, problems: list[Problem]) -> Strength | None:
    """Read a base rate: a frequency word, or ``{per_thousand: 12}``, as a share from 0 to 1."""
    if node.kind != "mapping":
        if _is_number(node):
            what = f"A bare number ({node.text}) does not say of how many"
            problems.append(problem_at(node, "019", what, f"Write a word, or {{per_thousand: {node.text}}}."))
            return None
        word = word_of(node, words.how_common, problems, "how_common")
        return None if word is None else words.how_common[word]
    if node.get("counted") is not None:
        return _counted(Fields(node, problems, "how_common"))
    fields = Fields(node, problems, "how_common")
    share = fields.number("per_thousand", *_PER_THOUSAND) / 1000
    fields.finish()
    return Strength(share, _GUESSED_CASES / share) if share > 0 else None


def ratio_of(node: Node, problems: list[Problem]) -> float | None:
    """Read a hazard ratio: 1 changes nothing, 2 makes it twice as likely."""
    return number_of(node, problems, 0.01, _LARGEST_RATIO, "a ratio")


def counted_strength(hits: float, of: float) -> Strength:
    """Give the Beta of a count.

    Source: Jeffreys 1946, the reference prior of a binomial share.
    Example:
        >>> counted_strength(7, 9).p
        0.75
    """
    total = of + 2 * _JEFFREYS
    return Strength((hits + _JEFFREYS) / total, total)


def _counted(fields: Fields) -> Strength | None:
    counts = fields.mapping("counted", "count", required=True)
    fields.finish()
    if counts is None:
        return None
    before = len(counts.problems)
    of = counts.whole("of", low=1, high=10_000_000)
    hits = counts.whole("hits", low=0, high=10_000_000)
    counts.finish()
    is_sound = len(counts.problems) == before
    if is_sound and hits > of:
        counts.add(counts.value_mark("hits"), "016", f"{hits} hits of {of} cannot be", "Write hits no larger than of.")
    return counted_strength(hits, of) if is_sound and hits <= of else None


def _is_number(node: Node) -> bool:
    return node.kind == "scalar" and node.text.replace(".", "", 1).lstrip("-+").isdigit()


def mean_of(strengths: Mapping[str, Strength]) -> float:
    """Add up the means over the grades: how often the target shows at all."""
    return sum(strength.p for strength in strengths.values())


def _entries(fields: Fields, key: str, required: bool = True) -> list[tuple[str, Fields]]:
    pairs = fields.pairs(key, required=required)
    return [(word, Fields(node, fields.problems, f"{key} word")) for word, _, node in pairs]


def _word(entry: Fields, word: str, mean: float) -> Strength:
    return Strength(mean, _number(entry, "weight", 1.0, _LARGEST_WEIGHT), word)


def _signs(entry: Fields, word: str) -> tuple[tuple[str, ...], str]:
    """Read signs, and what is done at once with any of them."""
    entry.named = word
    told = entry.words_list("signs"), entry.text("says")
    entry.text("source", "")
    entry.finish()
    return told


def _number(entry: Fields, key: str, low: float, high: float, word: str = "") -> float:
    """Read the last number of a word, and its source."""
    entry.named = word
    value = entry.number(key, low=low, high=high)
    entry.text("source")
    entry.finish()
    return value


def keep_once(record: Any, mark: Mark, kept: dict[str, Any], problems: list[Problem]) -> None:
    """Keep a record under its id; of two with one id the first stays, and a problem names both places."""
    key = getattr(record, "code", None) or getattr(record, "id", "")
    if key in kept:
        first = kept[key].mark
        advice = f"Choose another id; the first stands in {first.file}, line {first.line}."
        problems.append(Problem(mark, "K101", f'The id "{key}" is used a second time', advice))
    elif key:
        kept[key] = record
