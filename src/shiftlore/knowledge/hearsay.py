"""What a clause mentions without saying that it is so now: guesses, advice, and what used to be."""

from collections.abc import Sequence

from shiftlore.knowledge.wording import NO, Token

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
