"""How far a "no" reaches, and what a "fine" speaks of."""

from collections.abc import Sequence
from itertools import pairwise

from shiftlore.words.tokens import FINE, NO, Token

JOINTS = frozenset({"and", "then", "so", "yet"})
# A negation reaches up to one of these words; the joints also begin a statement of their own.
BARRIERS = JOINTS | {"until", "till", "only", "just", "now", "after", "since", "because", "unless", "if"}
_WHEN = frozenset({"when", "whenever", "while"})
# Words that may stand between a thing and "ok": "fuses all ok", "wiring checked good".
_PASSED_BEFORE_FINE = frozenset(
    {"all", "both", "everyth", "check", "test", "inspect", "measur", "found", "look", "work"}
)
_CLOSING = frozenset(
    [
        "found",
        "seen",
        "see",
        "present",
        "lit",
        "visible",
        "there",
        "on",
        "any",
        "more",
        "anymore",
        "yet",
        "now",
        "been",
        "is",
        "it",
        "be",
        "come",
    ]
)
# A condition that a "no" reaches through these is denied: "not worse when hot".
_PASSED_TO_CONDITION = frozenset({"wors", "better", "happen", "occur", "differ", "differenc", FINE})
# "Will not go over 40 mph" denies the going, not the speed.
_CANNOT = frozenset({"wont", "cant", "cannot", "couldnt", "wouldnt"})
_HAPPENS = frozenset({"happen", "occur", "do"})
_MOST_BETWEEN = 3
_PLACES = frozenset(
    [
        "in",
        "on",
        "at",
        "when",
        "while",
        "with",
        "from",
        "to",
        "for",
        "during",
        "under",
        "after",
        "if",
        "because",
        "until",
        "as",
    ]
)
_LIMITS = frozenset({"in", "at", "when", "while", "on", "with", "under", "during", "from"})
_MANNERS = frozenset(
    ["right", "proper", "well", "hard", "harsh", "rough", "late", "early", "soft", "quick", "easi", "clean"]
) | {FINE}


def find_denial(places: Sequence[int], words: Sequence[Token], is_condition: bool) -> int | None:
    """Find the "no" that denies the words at these places, or None.

    Args:
        places: where the words stand; words: the clause; is_condition: they tell when or how often, not what.
    """
    first, last = min(places), max(places)
    for place in range(first, last):
        if words[place].stem == NO and place not in places:
            return place
    between = 0
    for place in range(first - 1, -1, -1):
        word = words[place]
        if word.stem == NO:
            return place
        if word.written in BARRIERS or (word.written in _WHEN and not is_condition):
            break
        between += not word.is_light
        if between > _MOST_BETWEEN and not is_condition:
            break
    return None if is_condition else _denial_after(last, words)


def _denial_after(last: int, words: Sequence[Token]) -> int | None:
    """Find a "no" that closes the statement: "the light is not on"."""
    place = last + 1
    while place < len(words) and words[place].is_light and words[place].written not in BARRIERS:
        place += 1
    if place >= len(words) or words[place].stem != NO:
        return None
    if words[place].written in ("no", "without") and place + 1 < len(words):
        return None
    for word in words[place + 1 :]:
        if word.written in JOINTS or word.written in _WHEN:
            break
        if word.written not in _CLOSING:
            return None
    return place


def is_remote(denial: int, places: Sequence[int], words: Sequence[Token], is_condition: bool = False) -> bool:
    """Tell whether the "no" has something else to deny before it comes to these places."""
    between = [words[place] for place in range(denial + 1, min(places))]
    if is_condition and words[denial].written in _CANNOT and not any(word.stem in _HAPPENS for word in between):
        return True
    return any(not word.is_light and word.stem not in _PASSED_TO_CONDITION for word in between)


def is_beside(places: Sequence[int], words: Sequence[Token], wanted: frozenset[str]) -> bool:
    """Tell whether one of the wanted stems stands before or after the words, with only light words between."""
    after, before = max(places) + 1, min(places) - 1
    while after < len(words) and words[after].stem not in wanted and _is_passed(words[after]):
        after += 1
    while before >= 0 and words[before].stem not in wanted and _is_passed(words[before]):
        before -= 1
    is_after = after < len(words) and words[after].stem in wanted
    return is_after or (before >= 0 and words[before].stem in wanted and _opens(before, words))


def follows_another_fine(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether the words only say where something else is fine: "pressure ok in all ranges"."""
    before = min(places) - 1
    while before >= 0 and words[before].stem != FINE and _is_passed(words[before]):
        before -= 1
    is_apart = 0 <= before < min(places) - 1
    return (
        is_apart and words[before].stem == FINE and words[before + 1].written in _LIMITS and not _opens(before, words)
    )


def _opens(place: int, words: Sequence[Token]) -> bool:
    """Tell whether a word opens its statement, so that it does not belong to the thing before: "1-2 ok 2-3 flares"."""
    for word in reversed(words[:place]):
        if word.written in BARRIERS:
            return True
        if not word.is_light:
            return False
    return True


def _is_passed(word: Token) -> bool:
    return (word.is_light or word.stem in _PASSED_BEFORE_FINE) and word.written not in BARRIERS


def speaks_of_where(no_place: int, words: Sequence[Token], phrase: Sequence[Token]) -> bool:
    """Tell whether a "not" denies only a place or a time, unlike the phrase: "but not in neutral"."""
    after = no_place + 1
    if words[no_place].written not in ("not", "never") or after >= len(words) or words[after].written not in _PLACES:
        return False
    return not any(one.stem == NO and two.written == words[after].written for one, two in pairwise(phrase))


def speaks_of_how(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether only the manner is denied: "does not shift right" does shift."""
    after = max(places) + 1
    while after < len(words) and words[after].is_light and words[after].written not in BARRIERS:
        after += 1
    return after < len(words) and words[after].stem in _MANNERS


def is_limited(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether the statement is bound to a place or time that follows: "no noise in neutral"."""
    after = max(places) + 1
    return after + 1 < len(words) and words[after].written in _LIMITS


def is_lifted(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether the statement holds only up to something: "never slipped until last week"."""
    return any(word.written in ("until", "till") for word in words[max(places) + 1 :])


_GUESSES = frozenset({"suspect", "whether", "wonder", "recommend", "advis", "quot", "suggest", "unsure"})
_WANTS = frozenset({"need", "want", "plan", "think", "reckon", "believ"})
_NEW_PARTS = frozenset({"replac", "chang", "new", "fit", "swap", "instal", "renew"})
_CODE_WORDS = frozenset({"cod", "dtc", "fault", "error", "stor", "flag"})


def guessed_from(words: Sequence[Token]) -> int:
    """Give the place after which the clause only guesses; the end of the clause where it does not."""
    for place, word in enumerate(words):
        is_unsure = word.written == "sure" and any(before.stem == NO for before in words[max(0, place - 2) : place])
        if word.stem in _GUESSES or is_unsure:
            return place
    return len(words)


def wanted_from(words: Sequence[Token]) -> int:
    """Give the place after which the clause speaks of work still to be done: "needs a rebuild"."""
    return next((place for place, word in enumerate(words) if word.stem in _WANTS), len(words))


def is_past(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether these words tell what used to be, before a "now"."""
    for place in range(min(places) - 1, 0, -1):
        if words[place].written == "now":
            return False
        if words[place].written == "to" and words[place - 1].written == "used":
            return True
    return False


def names_new_part(words: Sequence[Token]) -> bool:
    """Tell whether the clause speaks of a part that was renewed, and of no code."""
    stems = {word.stem for word in words}
    return bool(stems & _NEW_PARTS) and not names_code(words)


def names_code(words: Sequence[Token]) -> bool:
    """Tell whether the clause speaks of a trouble code."""
    return any(word.stem in _CODE_WORDS or word.stem[:2] in ("P0", "P1", "P2", "U0", "U1") for word in words)
