"""How well one phrase is found again in a run of words."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from shiftlore.knowledge.search_index import Phrase, SearchIndex
from shiftlore.knowledge.wording import FINE, NO, Token

_GAP_COST, _DISORDER, _LIGHT_BONUS, _LOOSE = 0.06, 0.85, 0.02, 0.6
_WORST_GAP = 0.6
_COMPOUND_END, _COMPOUND_START = 5, 4
_SHIFTS = ("shift", "upshift", "downshift")
# A compound or a mended slip is less sure than the word itself.
_UNSURE = 0.85


@dataclass(frozen=True, slots=True)
class Match:
    """A phrase found in a run of words.

    Args:
        places: positions of the words that were found, ascending.
        stems: the phrase's stems that were found.
        coverage: share of the phrase's weight that was found, 0 to 1.
        tightness: 1 where the words stand together and in order, less where they are scattered.
    """

    places: tuple[int, ...]
    stems: frozenset[str]
    coverage: float
    tightness: float

    @property
    def quality(self) -> float:
        """Both together."""
        return self.coverage * self.tightness


Spots = Mapping[str, Sequence[int]]


def find_spots(words: Sequence[Token]) -> Spots:
    """List for each stem the places where it is said, itself or inside a compound: an upshift is a shift, and so is 2-3."""
    spots: dict[str, list[int]] = {}
    for place, token in enumerate(words):
        for stem in _said_by(token.stem):
            spots.setdefault(stem, []).append(place)
    return spots


def match_phrase(
    phrase: Phrase, words: Sequence[Token], index: SearchIndex, spots: Spots | None = None
) -> Match | None:
    """Find a phrase in the words, or None where nothing of it is there.

    Args:
        phrase: the phrase; words: the words; index: how telling each stem is.
        spots: `find_spots` of the words, where many phrases are tried.
    """
    spots = find_spots(words) if spots is None else spots
    found = {stem: spots[stem] for stem in phrase.stems if stem in spots}
    if not found:
        return None
    chosen = _closest(found)
    total = sum(index.telling(stem) for stem in phrase.stems)
    coverage = sum(index.telling(stem) for stem in found) / total if total else 0.0
    return Match(tuple(sorted(chosen.values())), frozenset(found), coverage, _tightness(phrase, chosen, words))


def _said_by(stem: str) -> Iterator[str]:
    """Give the stems that a word says: itself, and what it ends in."""
    yield stem
    if stem[0] == "#":
        yield from (wanted for wanted in _SHIFTS if is_shift_of(stem, wanted))
    else:
        for cut in range(2, _COMPOUND_START + 1):
            if len(stem) - cut >= _COMPOUND_END:
                yield stem[cut:]


def is_shift_of(said: str, wanted: str) -> bool:
    """Tell whether a named shift (``#3>2``) is what is wanted: a shift, an upshift or a downshift."""
    one, _, other = said[1:].partition(">")
    if not other:
        return False
    return wanted == "shift" or (wanted == "downshift") == (int(other) < int(one))


def _closest(found: Mapping[str, Sequence[int]]) -> dict[str, int]:
    """Choose one place for each stem, so that all stand close to one another."""
    best: dict[str, int] = {}
    best_spread = 0
    for anchor in min(found.values(), key=len):
        chosen = {stem: min(places, key=lambda place: (abs(place - anchor), place)) for stem, places in found.items()}
        spread = max(chosen.values()) - min(chosen.values())
        if not best or spread < best_spread:
            best, best_spread = chosen, spread
    return best


def _tightness(phrase: Phrase, chosen: dict[str, int], words: Sequence[Token]) -> float:
    """Take off for words in between and for disorder; add a little for light words that agree."""
    places = [chosen[stem] for stem in phrase.stems if stem in chosen]
    inside = set(range(min(places), max(places) + 1)) - set(places)
    gaps = sum(not words[place].is_light for place in inside)
    tight = max(_WORST_GAP, 1 - _GAP_COST * gaps)
    if places != sorted(places):
        tight *= _DISORDER
    if NO in chosen and len(places) > 1 and _is_loose(chosen[NO], places, words):
        tight *= _LOOSE
    if FINE in chosen and len(places) > 1 and _stands_apart(chosen[FINE], places, words):
        tight *= _LOOSE
    tight *= _UNSURE ** sum(_is_unsure(words[place], stem) for stem, place in chosen.items())
    light = {token.stem for token in phrase.tokens if token.is_light}
    near = range(max(0, min(places) - 1), min(len(words), max(places) + 2))
    agreeing = sum(words[place].is_light and words[place].stem in light for place in near)
    return min(1.0, tight - _LIGHT_BONUS * max(0, len(light) - agreeing))


def _is_unsure(word: Token, stem: str) -> bool:
    return word.is_mended or (word.stem != stem and word.stem[0] != "#")


def _is_loose(no_place: int, places: list[int], words: Sequence[Token]) -> bool:
    """Tell whether something else stands between a negation and what the phrase negates."""
    after = [place for place in places if place > no_place]
    if not after:
        return True
    return any(not words[place].is_light for place in range(no_place + 1, min(after)))


def _stands_apart(fine_place: int, places: list[int], words: Sequence[Token]) -> bool:
    """Tell whether something else stands between "fine" and the nearest word of its phrase."""
    nearest = min((place for place in places if place != fine_place), key=lambda place: abs(place - fine_place))
    low, high = sorted((fine_place, nearest))
    return any(not words[place].is_light for place in range(low + 1, high))
