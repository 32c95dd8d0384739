"""One language, as people speak it of a vehicle: what its file may say, and the record that it becomes."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from shiftlore.basics.problems import Mark

FIRST_LANGUAGE = "en"
# Lists of words that count as written.
WRITTEN_LISTS = (
    "negations", "sound", "light", "clause_ends", "joints", "barriers", "when", "closing", "leading_negations",
    "place_negations", "places", "limits", "cannot", "until", "now", "past", "past_after", "sure", "still",
    "before_trouble", "going", "reaching", "leaving", "links", "pairing", "first_halves", "second_halves",
)  # fmt: skip
# Lists of words that count in any form.
STEM_LISTS = (
    "bad", "troubles", "verdicts", "renewed", "new_parts", "works", "faults", "passed_before_fine",
    "passed_to_condition", "happens", "manners", "guesses", "wants", "code", "code_words", "scans", "bare", "unit_nouns",
    "reverse", "shift", "upshift", "downshift", "slowing", "recent",
)  # fmt: skip
_NOWHERE = Mark()
# Weights that are shares from 0 to 1, and those that count letters or words; what each means stands in en.yaml.
SHARES = (
    "named", "asked", "explained", "gap_cost", "worst_gap", "disorder", "loose", "light_bonus", "unsure", "scattered",
    "together", "least_found", "partial_phrase", "instance", "least_covered", "least_score", "sure", "base", "share",
    "inside_another", "one_word", "denied", "grade_label", "near_label",
)  # fmt: skip
COUNTS = (
    "compound_start", "compound_end", "one_slip_from", "two_slips_from", "near", "most_between", "near_label_from",
    "near_label_slips", "recently",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Ending:
    """An ending that is cut off a word: `cut` goes if `leaves` letters are left, and `write` takes its place."""

    cut: str
    leaves: int = 0
    write: str = ""
    not_after: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Stemming:
    """How words are cut down to their stems; nothing said leaves every word whole.

    Args:
        whole_up_to: words of so few letters are not cut.
        double_stays: letters that stay double at the end of a stem; None leaves all of them.
        silent: a letter that is cut off the end last, or "".
        forms: a word -> what stands for it.
        numbers: a word -> its digits.
    """

    whole_up_to: int = 3
    endings: tuple[Ending, ...] = ()
    double_stays: str | None = None
    silent: str = ""
    forms: Mapping[str, str] = field(default_factory=dict)
    numbers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Rewriting:
    """A turn of speech and what is written for it.

    Args:
        find: a regular expression, its parts filled in.
        write: the new text, with groups as ``\\1``.
        words: what was found -> the new text, instead of `write`.
        needs: tried only where one of these texts stands; none means always.
        is_speed: the new text is the word for a speed; `find` has groups ``over``, ``number`` and ``unit``.
    """

    find: str
    write: str = " "
    words: Mapping[str, str] = field(default_factory=dict)
    needs: tuple[str, ...] = ()
    is_speed: bool = False


@dataclass(frozen=True, slots=True)
class Speeds:
    """The three words that stand for any speed, and their bounds in km/h; `units` in km/h each."""

    units: Mapping[str, float]
    over_by_kmh: float
    slow: str
    slow_below_kmh: float
    middle: str
    fast: str
    fast_above_kmh: float


@dataclass(frozen=True, slots=True)
class Language:
    """One language; whatever its file leaves out is empty.

    Args:
        id: such as ``en``.
        written: list of words that count as written -> its words.
        stems: list of words that count in any form -> its words.
        essential: light word that a phrase cannot do without -> what else says the same.
        as_written, turns, number_rules: rewritings, in order; the last where `numbers_where` is found.
        weights: weight -> its value.
        names: finding or background -> what people say for it in this language, where not in the record.
    """

    id: str
    written: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    stems: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    essential: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    stemming: Stemming = Stemming()
    as_written: tuple[Rewriting, ...] = ()
    turns: tuple[Rewriting, ...] = ()
    numbers_where: str = ""
    number_rules: tuple[Rewriting, ...] = ()
    speeds: Speeds | None = None
    weights: Mapping[str, float] = field(default_factory=dict)
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    mark: Mark = _NOWHERE
