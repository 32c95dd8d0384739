"""Everything that can be found by plain words, as phrases of stems with their weights."""

import math
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from shiftlore.knowledge.records import Knowledge
from shiftlore.words.tokens import FINE, NO, Token, is_near, split_words

KINDS = ("finding", "check", "cause", "job", "background", "code")
# What people say and what a thing is called count in full; longer explanations tell less.
_NAMED, _ASKED, _EXPLAINED = 1.0, 0.8, 0.45


@dataclass(frozen=True, slots=True)
class KnownPhrase:
    """One text about a record.

    Args:
        tokens: all of its tokens; stems: the stems that tell something.
        weight: how much the text counts, 0 to 1.
    """

    tokens: tuple[Token, ...]
    stems: tuple[str, ...]
    weight: float


@dataclass(frozen=True, slots=True)
class Entry:
    """One record that can be found, with its phrases."""

    kind: str
    id: str
    label: str
    each: str | None
    phrases: tuple[KnownPhrase, ...]


@dataclass(frozen=True, slots=True)
class SearchIndex:
    """All entries, and how telling each stem is.

    Args:
        entries: in the order of the knowledge files.
        by_stem: stem -> indexes of the entries that have it.
        tellings: stem -> weight; rare stems tell more.
        joined: pairs of words that are also written as one (lock up, lockup) -> its stem.
        spellings: telling words as written -> their stems.
    """

    entries: tuple[Entry, ...]
    by_stem: Mapping[str, tuple[int, ...]]
    tellings: Mapping[str, float]
    joined: Mapping[tuple[str, str], str] = field(default_factory=dict)
    spellings: Mapping[str, str] = field(default_factory=dict)

    def telling(self, stem: str) -> float:
        """Say how much a stem tells; unknown ones tell nothing."""
        return self.tellings.get(stem, 0.0)

    def read(self, text: str) -> list[Token]:
        """Take a text apart, join words that are known as one, and mend slips of the fingers."""
        return [self._mend(token) for token in join_known(split_words(text), self.joined)]

    def _mend(self, token: Token) -> Token:
        if token.is_light or token.stem in self.tellings:
            return token
        near = [word for word in self.spellings if is_near(token.written, word)]
        if not near:
            return token
        best = min(near, key=lambda word: (abs(len(word) - len(token.written)), -self._count(word), word))
        return Token(self.spellings[best], token.written, is_mended=True)

    def _count(self, word: str) -> int:
        return len(self.by_stem.get(self.spellings[word], ()))


def build_index(knowledge: Knowledge, kinds: Collection[str] = KINDS) -> SearchIndex:
    """Make the index of these kinds; once a session is enough."""
    drafts = [draft for draft in _records(knowledge) if draft[0] in kinds]
    read = [[(split_words(text), weight) for text, weight in texts] for *_, texts in drafts]
    joined = _known_joins(read)
    entries = []
    for (kind, record_id, label, each, _), texts in zip(drafts, read, strict=True):
        phrases = [_phrase(join_known(tokens, joined), weight) for tokens, weight in texts]
        entries.append(Entry(kind, record_id, label, each, tuple(phrase for phrase in phrases if phrase.stems)))
    by_stem: dict[str, list[int]] = {}
    for index, entry in enumerate(entries):
        for stem in dict.fromkeys(stem for phrase in entry.phrases for stem in phrase.stems):
            by_stem.setdefault(stem, []).append(index)
    tellings = {stem: math.log(1 + len(entries) / len(found)) for stem, found in by_stem.items()}
    spellings = {
        token.written: token.stem for texts in read for tokens, _ in texts for token in tokens if not token.is_light
    }
    return SearchIndex(
        tuple(entries), {stem: tuple(found) for stem, found in by_stem.items()}, tellings, joined, spellings
    )


def join_known(tokens: list[Token], joined: Mapping[tuple[str, str], str]) -> list[Token]:
    """Write two words as one where they are known as one: lock up, lockup."""
    found: list[Token] = []
    for token in tokens:
        stem = joined.get((found[-1].written, token.written)) if found else None
        if stem is None:
            found.append(token)
        else:
            found[-1] = Token(stem, f"{found[-1].written} {token.written}")
    return found


def _known_joins(read: list[list[tuple[list[Token], float]]]) -> dict[tuple[str, str], str]:
    """Find pairs of neighbours that elsewhere stand as one word."""
    pairs: Counter[tuple[str, str]] = Counter()
    whole: dict[str, str] = {}
    for texts in read:
        for tokens, _ in texts:
            whole.update((token.written, token.stem) for token in tokens)
            pairs.update((one.written, two.written) for one, two in pairwise(tokens))
    candidates = {pair: whole[pair[0] + pair[1]] for pair in pairs if pair[0] + pair[1] in whole}
    for word, stem in whole.items():
        for cut in range(2, len(word) - 1):
            pair = (word[:cut], word[cut:])
            if pair[1] in ("up", "off", "down", "out", "in", "on", "over") or pair[0] in ("up", "down", "over", "kick"):
                candidates.setdefault(pair, stem)
    return candidates


def _phrase(tokens: list[Token], weight: float) -> KnownPhrase:
    stems = tuple(dict.fromkeys(token.stem for token in tokens if not token.is_light))
    return KnownPhrase(tuple(tokens), stems, weight)


_Texts = list[tuple[str, float]]


def _records(knowledge: Knowledge) -> Iterator[tuple[str, str, str, str | None, _Texts]]:
    """Give kind, id, label, `each` and weighted texts of everything that can be found."""
    codes_of: dict[str, _Texts] = {}
    for code in knowledge.codes.values():
        codes_of.setdefault(code.finding, []).append((code.code, _ASKED))
    for finding in knowledge.findings.values():
        more = [(finding.ask, _ASKED), *codes_of.get(finding.id, [])]
        texts = _texts(finding.id, finding.label, finding.words, more)
        yield "finding", finding.id, finding.label, finding.scope.each, texts
    for item in knowledge.backgrounds.values():
        yield "background", item.id, item.label, None, _texts(item.id, item.label, item.words, [(item.ask, _ASKED)])
    for check in knowledge.checks.values():
        yield "check", check.id, check.label, check.scope.each, _explained(check.id, check.label, check.how)
    for cause in knowledge.causes.values():
        yield "cause", cause.id, cause.label, cause.scope.each, _explained(cause.id, cause.label, cause.says)
    for job in knowledge.jobs.values():
        yield "job", job.id, job.label, job.scope.each, _explained(job.id, job.label, job.says)
    for code in knowledge.codes.values():
        yield (
            "code",
            code.code,
            f"{code.code}: {code.means}",
            None,
            [(f"{code.code} {code.means}", _NAMED), (code.code, _NAMED)],
        )


def _texts(record_id: str, label: str, words: tuple[str, ...], others: _Texts) -> _Texts:
    own = [(text, _NAMED) for text in words]
    own.insert(0, (label.replace("{name}", " "), _EXPLAINED if "{name}" in label else _NAMED))
    return [*own, (record_id.replace("_", " "), _ASKED), *others]


def _explained(record_id: str, label: str, says: str) -> _Texts:
    return _texts(record_id, label, (), [(says, _EXPLAINED)])


_GAP_COST, _DISORDER, _LIGHT_BONUS, _LOOSE = 0.06, 0.85, 0.02, 0.6
_WORST_GAP = 0.6
_COMPOUND_END, _COMPOUND_START = 5, 4
_SHIFTS = ("shift", "upshift", "downshift")
# A compound or a mended slip is less sure than the word itself.
_UNSURE = 0.85


@dataclass(frozen=True, slots=True)
class PhraseFit:
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
    phrase: KnownPhrase, words: Sequence[Token], index: SearchIndex, spots: Spots | None = None
) -> PhraseFit | None:
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
    return PhraseFit(tuple(sorted(chosen.values())), frozenset(found), coverage, _tightness(phrase, chosen, words))


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


def _tightness(phrase: KnownPhrase, chosen: dict[str, int], words: Sequence[Token]) -> float:
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
