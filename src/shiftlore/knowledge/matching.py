"""How well one phrase is found again in a run of words."""

from collections.abc import Sequence
from dataclasses import dataclass

from shiftlore.knowledge.search_index import Phrase, SearchIndex
from shiftlore.knowledge.wording import FINE, NO, Token

_GAP_COST, _DISORDER, _LIGHT_BONUS, _LOOSE = 0.06, 0.85, 0.02, 0.6
_WORST_GAP = 0.6
_COMPOUND_END, _COMPOUND_START = 5, 4
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


def match_phrase(phrase: Phrase, words: Sequence[Token], index: SearchIndex) -> Match | None:
    """Find a phrase in the words, or None where nothing of it is there."""
    spots = {stem: [place for place, token in enumerate(words) if _says(token.stem, stem)] for stem in phrase.stems}
    found = {stem: places for stem, places in spots.items() if places}
    if not found:
        return None
    chosen = _closest(found)
    total = sum(index.telling(stem) for stem in phrase.stems)
    coverage = sum(index.telling(stem) for stem in found) / total if total else 0.0
    return Match(tuple(sorted(chosen.values())), frozenset(found), coverage, _tightness(phrase, chosen, words))


def _says(said: str, wanted: str) -> bool:
    """Tell whether a word says a stem, itself or as the end of a compound: an upshift is a shift."""
    if said == wanted:
        return True
    longer = len(said) - len(wanted)
    return len(wanted) >= _COMPOUND_END and 2 <= longer <= _COMPOUND_START and said.endswith(wanted)


def _closest(found: dict[str, list[int]]) -> dict[str, int]:
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
    tight *= _UNSURE ** sum(words[place].is_mended or words[place].stem != stem for stem, place in chosen.items())
    light = {token.stem for token in phrase.tokens if token.is_light}
    near = range(max(0, min(places) - 1), min(len(words), max(places) + 2))
    agreeing = sum(words[place].is_light and words[place].stem in light for place in near)
    return min(1.0, tight - _LIGHT_BONUS * max(0, len(light) - agreeing))


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
