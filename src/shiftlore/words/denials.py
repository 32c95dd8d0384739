"""Several denials in a row: one after the other, one made stronger, or that takes back another; one that stands beside."""

from collections.abc import Callable, Container, Sequence
from dataclasses import replace

from shiftlore.words.statements import number_clauses, rate_parts
from shiftlore.words.trained import Features
from shiftlore.words.vocabulary import STOPS, Token, Vocabulary

_PLACES = ("gear", "shift", "lever")


def join_denials(sentence: Sequence[Token], words: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """Give the denials up to the end of words, with nothing between them that would part them."""
    joints = vocabulary.words("joining") | vocabulary.words("barriers")
    found: list[Token] = []
    for token in sentence:
        if token.start >= words[-1].end:
            break
        if token.kind == "stop" or token.written.lower() in joints:
            found = []
        elif token.kind == "no":
            found.append(token)
    return found


def is_one_denial(denials: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether denials go on one after the other, "no break no short", or one is made stronger: "don't come never"."""
    again, stronger = vocabulary.words_of("denied_again"), vocabulary.words_of("denied_stronger")
    texts = [token.written.lower() for token in denials]
    return all(text in again for text in texts) or (texts[0] not in again and set(texts[1:]) <= stronger)


def undenied(words: Sequence[Token]) -> list[Token]:
    """Give words as they would be read without the denial that reaches them."""
    return [replace(token, denied=False) for token in words]


def is_not_sound(words: Sequence[Token], sentence: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether words cannot say that a thing is as it should be: "wrong" stands in them, or a number that cannot be
    compared with what it should be.
    """
    unsound = vocabulary.stems("unsound")
    return any(one.kind == "stated" for one in sentence) or any(one.stem in unsound and not one.denied for one in words)


def denies_what_follows(words: Sequence[Token], sentence: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether words end in a denial of what comes next: "in R no" of "in R no knock" says nothing of R."""
    joints = vocabulary.words("joining") | vocabulary.words("barriers")
    after = next((token for token in sentence if token.start >= words[-1].end and token.kind != "light"), None)
    is_next = after is not None and after.kind != "stop" and after.written.lower() not in joints
    return words[-1].kind == "no" and len(words) > 1 and is_next


def denies_another(
    words: Sequence[Token], sentence: Sequence[Token], says_else: Callable[[Sequence[Token]], bool]
) -> bool:
    """Tell whether a denial behind a stop says something of its own, so that it denies nothing before: "bang, no drive".

    Args:
        says_else: whether words say another thing than all of them were read as.
    """
    place = next((place for place, token in enumerate(words) if token.kind == "no"), 0)
    between = (words[place - 1].end, words[place].end) if place else (0, 0)
    is_parted = any(one.parts >= STOPS and between[0] <= one.start < between[1] for one in sentence)
    return is_parted and says_else(words[place:])


def find_meant(
    words: Sequence[Token],
    sentence: Sequence[Token],
    vocabulary: Vocabulary,
    says: Callable[[Sequence[Token]], bool],
) -> Sequence[Token]:
    """Give words without a place that is only set off, "slips in third not second", or that has what another one lacks, "has 1
    and 3 and no reverse"; none where places are all that is said: "third not second".

    Args:
        says: whether words say what all of them were read as.
    """
    clauses = number_clauses(sentence)
    here = [one for one in sentence if one.is_telling and one.start < words[-1].end]
    here = [one for one in here if clauses[one.start] == clauses[words[-1].start]]
    place = next((place for place, one in enumerate(here) if one.kind == "no"), 0)
    left, right = here[:place], here[place:]
    if not place or not any(one.kind in _PLACES and one.denied and one in words for one in right):
        return words
    if left[-1].kind in _PLACES:
        said = [one for one in words if one.start < left[-1].end]
        return said if says(said) else []
    said = [one for one in words if one in right]
    is_joined = left[-1].written.lower() in vocabulary.words("joining") | vocabulary.words("barriers")
    is_of_two = is_joined and len(left) > 1 and left[-2].kind in _PLACES and len(said) < len(words)
    return said if is_of_two and says(said) else words


def is_all_of_clause(
    words: Sequence[Token], sentence: Sequence[Token], vocabulary: Vocabulary, features: Features
) -> bool:
    """Tell whether nothing more is said beside words than that all is well: "all works except reverse" lacks it, but "all
    good except reverse bangs" does not.
    """
    stops = [one.start for one in sentence if one.kind == "stop"]
    first = max((one for one in stops if one < words[0].start), default=-1)
    end = min((one for one in stops if one > words[0].start), default=sentence[-1].end)
    empty = vocabulary.words("joining") | vocabulary.words("barriers")
    well = vocabulary.stems("sound") | vocabulary.stems("works")
    inside = range(words[0].start, words[-1].end)
    beside = [one for one in sentence if one.is_telling and first < one.start < end]
    left = [one for one in beside if one.start not in inside and one.stem not in well]
    return all(features.is_bare(one) or one.written.lower() in empty for one in left)


def is_turned_beside(
    words: Sequence[Token], sentence: Sequence[Token], free: Container[Token], vocabulary: Vocabulary
) -> bool:
    """Tell whether a denial, or a word for soundness of no other statement, stands right beside the words of this one."""
    sound = vocabulary.stems("sound")
    telling = [token for token in sentence if token.is_telling]
    first, last = telling.index(words[0]), telling.index(words[-1])
    parts = [*rate_parts(sentence), 0.0]
    if first and telling[first - 1].kind == "no" and parts[first] < STOPS:
        return True
    near = [(place, joint) for place, joint in ((first - 1, first), (last + 1, last + 1)) if 0 <= place < len(telling)]
    return any(
        telling[place].stem in sound and telling[place] in free and parts[joint] < STOPS for place, joint in near
    )


def find_denial_before(words: Sequence[Token], sentence: Sequence[Token]) -> list[Token]:
    """Give the denial right before words, or none: "not" of "bangs 2-3, not 1-2"."""
    return [one for one in sentence if one.end <= words[0].start and one.is_telling and one.kind == "no"][-1:]
