"""Find findings, checks, causes, jobs, backgrounds and codes by plain words."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from shiftlore.knowledge.records import Knowledge
from shiftlore.words.phrase_index import KINDS, Entry, PhraseFit, SearchIndex, build_index, match_phrase
from shiftlore.words.tokens import Token

# A phrase found whole and in order is worth as much again as all words found anywhere.
_SCATTERED, _TOGETHER = 0.5, 0.5
_LEAST_COVERED = 0.34
_PARTIAL_PHRASE = 0.5
# A template over gears or shifts stands for each of them, so a gear that is named is covered.
_NUMBERED, _INSTANCE = ("gear", "shift"), 0.9


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
    tokens = index.read(words if isinstance(words, str) else " ".join(words))
    asked = dict.fromkeys(token.stem for token in tokens if not token.is_light)
    stems = asked or dict.fromkeys(token.stem for token in tokens)
    candidates = {number for stem in stems for number in index.by_stem.get(stem, ())}
    hits = []
    for number in candidates:
        entry = index.entries[number]
        if kinds is None or entry.kind in kinds:
            hit = _score(entry, tokens, list(stems), index)
            if hit is not None:
                hits.append(hit)
    return sorted(hits, key=lambda hit: (-hit.score, KINDS.index(hit.kind), hit.id))[:most]


def _score(entry: Entry, tokens: list[Token], stems: list[str], index: SearchIndex) -> Hit | None:
    """Weigh how much of the question the record covers, and how well one of its phrases fits."""
    unknown = max(index.tellings.values(), default=0.0) / 2
    weights = {stem: index.telling(stem) or unknown for stem in stems}
    total = sum(weights.values())
    covered = dict.fromkeys(stems, 0.0)
    for phrase in entry.phrases:
        for stem in phrase.stems:
            if stem in covered:
                covered[stem] = max(covered[stem], phrase.weight)
    named = [stem for stem in stems if stem.startswith("#") and entry.each in _NUMBERED]
    covered.update(dict.fromkeys(named, _INSTANCE))
    scattered = sum(weights[stem] * share for stem, share in covered.items()) / total
    if scattered < _LEAST_COVERED:
        return None
    together = max(
        _together(match_phrase(phrase, tokens, index), phrase.weight, tokens, weights, total, named)
        for phrase in entry.phrases
    )
    matched = tuple(dict.fromkeys(token.written for token in tokens if covered.get(token.stem)))
    return Hit(entry.kind, entry.id, entry.label, round(_SCATTERED * scattered + _TOGETHER * together, 4), matched)


def _together(
    match: PhraseFit | None,
    weight: float,
    tokens: list[Token],
    weights: dict[str, float],
    total: float,
    named: list[str],
) -> float:
    """Say how much of the question one phrase holds, in order, and how much of the phrase that is."""
    if match is None:
        return 0.0
    held = sum(weights.get(stem, 0.0) for stem in {*named, *(tokens[place].stem for place in match.places)}) / total
    return weight * held * match.tightness * (_PARTIAL_PHRASE + (1 - _PARTIAL_PHRASE) * match.coverage)
