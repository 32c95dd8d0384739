"""Find findings, checks, causes, jobs, backgrounds and codes by plain words."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from shiftlore.knowledge import Knowledge
from shiftlore.words.phrase_index import (
    KINDS,
    Entry,
    KnownPhrase,
    SearchIndex,
    Spots,
    build_index,
    find_spots,
    match_phrase,
)
from shiftlore.words.vocabulary import Token

# A template over these stands for each of them, so one that is named is covered.
_NUMBERED = ("gear", "shift")


@dataclass(frozen=True, slots=True)
class Hit:
    """One record found.

    Args:
        kind: one of ``finding``, ``check``, ``cause``, ``job``, ``background``, ``code``.
        score: 0 to 1; a hit with all words together in order is near 1.
        matched: the words of the question that were found, as written.
    """

    kind: str
    id: str
    label: str
    score: float
    matched: tuple[str, ...]


def find_words(
    knowledge: Knowledge | SearchIndex, words: str | Sequence[str], kinds: Collection[str] | None = None, most: int = 20
) -> list[Hit]:
    """Find what plain words speak of.

    Args:
        knowledge: the knowledge, or an index of it (`build_index`) where many questions are asked.
        words: one text, or words; plurals and endings, order and small slips do not matter.
        kinds: only these kinds; None means all.
        most: give at most so many.
    Returns: hits, best first; ties in the order of kinds and then of ids.
    """
    index = knowledge if isinstance(knowledge, SearchIndex) else build_index(knowledge)
    asked = _ask(index, words if isinstance(words, str) else " ".join(words))
    near = (index.entries[number] for number in {one for stem in asked.weights for one in index.by_stem.get(stem, ())})
    found = (_score(entry, asked, index) for entry in near if kinds is None or entry.kind in kinds)
    hits = [hit for hit in found if hit is not None]
    return sorted(hits, key=lambda hit: (-hit.score, KINDS.index(hit.kind), hit.id))[:most]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked for: its words, and each telling stem with its weight."""

    tokens: list[Token]
    spots: Spots
    weights: dict[str, float]
    total: float


def _ask(index: SearchIndex, text: str) -> _Asked:
    """Weigh the words of a question; of light words only, all count."""
    tokens = index.read(text)
    unknown = max(index.tellings.values(), default=0.0) / 2
    telling = [token for token in tokens if not token.is_light] or tokens
    weights = {token.stem: index.telling(token.stem) or unknown for token in telling}
    return _Asked(tokens, find_spots(tokens, index.vocabulary), weights, sum(weights.values()))


def _score(entry: Entry, asked: _Asked, index: SearchIndex) -> Hit | None:
    """Weigh how much of the question the record covers, and how well one of its phrases fits."""
    marks = index.vocabulary.weights
    covered = dict.fromkeys(asked.weights, 0.0)
    for phrase in entry.phrases:
        for stem in phrase.stems:
            if stem in covered:
                covered[stem] = max(covered[stem], phrase.weight)
    named = [stem for stem in covered if stem[0] == "#" and entry.each in _NUMBERED]
    covered.update(dict.fromkeys(named, marks["instance"]))
    scattered = sum(asked.weights[stem] * share for stem, share in covered.items()) / asked.total
    if scattered < marks["least_found"]:
        return None
    together = max(_together(phrase, asked, named, index) for phrase in entry.phrases)
    matched = tuple(dict.fromkeys(token.written for token in asked.tokens if covered.get(token.stem)))
    score = marks["scattered"] * scattered + marks["together"] * together
    return Hit(entry.kind, entry.id, entry.label, round(score, 4), matched)


def _together(phrase: KnownPhrase, asked: _Asked, named: list[str], index: SearchIndex) -> float:
    """Say how much of the question one phrase holds, in order, and how much of the phrase that is."""
    fit = match_phrase(phrase, asked.tokens, index, asked.spots)
    if fit is None:
        return 0.0
    stems = {*named, *(asked.tokens[place].stem for place in fit.places)}
    held = sum(asked.weights.get(stem, 0.0) for stem in stems) / asked.total
    partial = index.vocabulary.weights["partial_phrase"]
    return phrase.weight * held * fit.tightness * (partial + (1 - partial) * fit.coverage)
