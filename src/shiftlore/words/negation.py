"""How far a negation reaches, what a "fine" speaks of, and what is mentioned without being so now."""

from collections.abc import Callable, Sequence
from itertools import pairwise

from shiftlore.words.vocabulary import FINE, NO, Token

IsWanted = Callable[[Token], bool]


def find_denial(places: Sequence[int], words: Sequence[Token], is_condition: bool, reach: float) -> int | None:
    """Find the "no" that denies the words at these places, or None.

    Args:
        places: where the words stand; words: the clause; is_condition: they tell when or how often, not what.
        reach: over how many telling words a "no" reaches.
    """
    first, last = min(places), max(places)
    inside = [place for place in range(first, last) if words[place].stem == NO and place not in places]
    if inside:
        return inside[0]
    between = 0
    for place in range(first - 1, -1, -1):
        word = words[place]
        if word.stem == NO:
            return place
        if word.has("barriers") or (word.has("when") and not is_condition):
            break
        between += not word.is_light
        if between > reach and not is_condition:
            break
    return None if is_condition else _denial_after(last, words)


def _denial_after(last: int, words: Sequence[Token]) -> int | None:
    """Find a "no" that closes the statement: "the light is not on"."""
    place = _past_light(last + 1, words)
    if place >= len(words) or words[place].stem != NO:
        return None
    if words[place].has("leading_negations") and place + 1 < len(words):
        return None
    for word in words[place + 1 :]:
        if word.has("joints") or word.has("when"):
            break
        if not word.has("closing"):
            return None
    return place


def is_remote(denial: int, places: Sequence[int], words: Sequence[Token], is_condition: bool = False) -> bool:
    """Tell whether the "no" has something else to deny before it comes to these places."""
    between = [words[place] for place in range(denial + 1, min(places))]
    if is_condition and words[denial].has("cannot") and not any(word.has("happens") for word in between):
        return True
    return any(not word.is_light and not word.has("passed_to_condition") for word in between)


def is_beside(places: Sequence[int], words: Sequence[Token], is_wanted: IsWanted) -> bool:
    """Tell whether a wanted word stands before or after the words, with only light words between."""
    after, before = max(places) + 1, min(places) - 1
    while after < len(words) and not is_wanted(words[after]) and _is_passed(words[after]):
        after += 1
    while before >= 0 and not is_wanted(words[before]) and _is_passed(words[before]):
        before -= 1
    is_after = after < len(words) and is_wanted(words[after])
    return is_after or (before >= 0 and is_wanted(words[before]) and _opens(before, words))


def follows_another_fine(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether the words only say where something else is fine: "pressure ok in all ranges"."""
    before = min(places) - 1
    while before >= 0 and words[before].stem != FINE and _is_passed(words[before]):
        before -= 1
    is_apart = 0 <= before < min(places) - 1
    return is_apart and words[before].stem == FINE and words[before + 1].has("limits") and not _opens(before, words)


def _opens(place: int, words: Sequence[Token]) -> bool:
    """Tell whether a word opens its statement, so that it does not belong to the thing before: "1-2 ok 2-3 flares"."""
    for word in reversed(words[:place]):
        if word.has("barriers"):
            return True
        if not word.is_light:
            return False
    return True


def _is_passed(word: Token) -> bool:
    return (word.is_light or word.has("passed_before_fine")) and not word.has("barriers")


def speaks_of_where(no_place: int, words: Sequence[Token], phrase: Sequence[Token]) -> bool:
    """Tell whether a "not" denies only a place or a time, unlike the phrase: "but not in neutral"."""
    after = no_place + 1
    if not words[no_place].has("place_negations") or after >= len(words) or not words[after].has("places"):
        return False
    return not any(one.stem == NO and two.written == words[after].written for one, two in pairwise(phrase))


def speaks_of_how(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether only the manner is denied: "does not shift right" does shift."""
    after = _past_light(max(places) + 1, words)
    return after < len(words) and words[after].has("manners")


def _past_light(place: int, words: Sequence[Token]) -> int:
    """Go on over light words, up to a word that tells something or bars the way."""
    while place < len(words) and words[place].is_light and not words[place].has("barriers"):
        place += 1
    return place


def is_limited(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether the statement is bound to a place or time that follows: "no noise in neutral"."""
    after = max(places) + 1
    return after + 1 < len(words) and words[after].has("limits")


def is_lifted(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether the statement holds only up to something: "never slipped until last week"."""
    return any(word.has("until") for word in words[max(places) + 1 :])


def guessed_from(words: Sequence[Token]) -> int:
    """Give the place after which the clause only guesses; the end of the clause where it does not."""
    for place, word in enumerate(words):
        is_unsure = word.has("sure") and any(before.stem == NO for before in words[max(0, place - 2) : place])
        if word.has("guesses") or is_unsure:
            return place
    return len(words)


def wanted_from(words: Sequence[Token]) -> int:
    """Give the place after which the clause speaks of work still to be done: "needs a rebuild"."""
    return next((place for place, word in enumerate(words) if word.has("wants")), len(words))


def is_past(places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether these words tell what used to be, before a "now"."""
    for place in range(min(places) - 1, 0, -1):
        if words[place].has("now"):
            return False
        if words[place].has("past_after") and words[place - 1].has("past"):
            return True
    return False


def names_new_part(words: Sequence[Token]) -> bool:
    """Tell whether the clause speaks of a part that was renewed, and of no code."""
    return any(word.has("new_parts") for word in words) and not names_code(words)


def names_code(words: Sequence[Token]) -> bool:
    """Tell whether the clause speaks of a trouble code."""
    return any(word.has("code_words") or word.is_code for word in words)


def is_fine(word: Token) -> bool:
    """Tell whether a word says that something is in order."""
    return word.stem == FINE


def is_working(word: Token) -> bool:
    """Tell whether a word says that something is in order or works."""
    return word.has("works")
