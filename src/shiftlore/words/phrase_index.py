"""Everything that can be found by plain words, as phrases of stems, and how well one phrase is found again."""

import math
from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from shiftlore.knowledge import Cause, Check, Job, Knowledge
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.words.vocabulary import FINE, NO, Token, Vocabulary, choose_vocabulary, is_near

KINDS = ("finding", "check", "cause", "job", "background", "code")


@dataclass(frozen=True, slots=True)
class KnownPhrase:
    """One text about a record.

    Args:
        tokens: all of its tokens; telling: those that tell something; stems: theirs, each once.
        weight: how much the text counts, 0 to 1.
        light: stems of the tokens that tell nothing.
        roles: the word lists in which its telling tokens stand.
        essential: for each light word that it cannot do without, what else says the same.
    """

    tokens: tuple[Token, ...]
    telling: tuple[Token, ...]
    stems: tuple[str, ...]
    weight: float
    light: frozenset[str]
    roles: frozenset[str]
    essential: tuple[tuple[str, ...], ...]


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
        vocabulary: the language that it is in.
        entries: in the order of the knowledge files.
        by_stem: stem -> indexes of the entries that have it.
        tellings: stem -> weight; rare stems tell more.
        joined: pairs of words that are also written as one (lock up, lockup) -> its stem.
        spellings: telling words as written -> their stems.
    """

    vocabulary: Vocabulary
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
        return [self._mend(token) for token in _join_known(self.vocabulary.split(text), self.joined, self.vocabulary)]

    def _mend(self, token: Token) -> Token:
        if token.is_light or token.stem in self.tellings:
            return token
        weights = self.vocabulary.weights
        limits = int(weights["one_slip_from"]), int(weights["two_slips_from"])
        near = [word for word in self.spellings if is_near(token.written, word, *limits)]
        if not near:
            return token
        best = min(near, key=lambda word: (abs(len(word) - len(token.written)), -self._count(word), word))
        return self.vocabulary.token(self.spellings[best], token.written, is_mended=True)

    def _count(self, word: str) -> int:
        return len(self.by_stem.get(self.spellings[word], ()))


def build_index(knowledge: Knowledge, kinds: Collection[str] = KINDS, language: str = FIRST_LANGUAGE) -> SearchIndex:
    """Make the index of these kinds in a language; once a session is enough.

    Raises: UnknownId: there is no such language; names those there are.
    """
    vocabulary = choose_vocabulary(knowledge, language)
    drafts = [draft for draft in _records(knowledge, vocabulary) if draft[0] in kinds]
    read = [[(vocabulary.split(text), weight) for text, weight in texts] for *_, texts in drafts]
    joined = _known_joins(read, vocabulary)
    entries = []
    for (kind, record_id, label, each, _), texts in zip(drafts, read, strict=True):
        phrases = [make_phrase(_join_known(tokens, joined, vocabulary), weight, vocabulary) for tokens, weight in texts]
        entries.append(Entry(kind, record_id, label, each, tuple(phrase for phrase in phrases if phrase.stems)))
    by_stem: dict[str, list[int]] = {}
    for index, entry in enumerate(entries):
        for stem in dict.fromkeys(stem for phrase in entry.phrases for stem in phrase.stems):
            by_stem.setdefault(stem, []).append(index)
    spelled = [token for texts in read for tokens, _ in texts for token in tokens if not token.is_light]
    return SearchIndex(
        vocabulary=vocabulary,
        entries=tuple(entries),
        by_stem={stem: tuple(found) for stem, found in by_stem.items()},
        tellings={stem: math.log(1 + len(entries) / len(found)) for stem, found in by_stem.items()},
        joined=joined,
        spellings={token.written: token.stem for token in spelled},
    )


def _join_known(tokens: list[Token], joined: Mapping[tuple[str, str], str], vocabulary: Vocabulary) -> list[Token]:
    """Write two words as one where they are known as one: lock up, lockup."""
    found: list[Token] = []
    for token in tokens:
        stem = joined.get((found[-1].written, token.written)) if found else None
        found.append(token if stem is None else vocabulary.token(stem, f"{found.pop().written} {token.written}"))
    return found


def _known_joins(read: list[list[tuple[list[Token], float]]], vocabulary: Vocabulary) -> dict[tuple[str, str], str]:
    """Find pairs of neighbours that elsewhere stand as one word."""
    pairs: Counter[tuple[str, str]] = Counter()
    whole: dict[str, str] = {}
    for texts in read:
        for tokens, _ in texts:
            whole.update((token.written, token.stem) for token in tokens)
            pairs.update((one.written, two.written) for one, two in pairwise(tokens))
    candidates = {pair: whole[pair[0] + pair[1]] for pair in pairs if pair[0] + pair[1] in whole}
    firsts, seconds = set(vocabulary.words("first_halves")), set(vocabulary.words("second_halves"))
    for word, stem in whole.items():
        for cut in range(2, len(word) - 1):
            pair = (word[:cut], word[cut:])
            if pair[1] in seconds or pair[0] in firsts:
                candidates.setdefault(pair, stem)
    return candidates


def make_phrase(tokens: Sequence[Token], weight: float, vocabulary: Vocabulary) -> KnownPhrase:
    """Make a phrase ready to be found; a text of light words only has no stems and is never found."""
    essential = vocabulary.language.essential
    telling = tuple(token for token in tokens if not token.is_light)
    return KnownPhrase(
        tokens=tuple(tokens),
        telling=telling,
        stems=tuple(dict.fromkeys(token.stem for token in telling)),
        weight=weight,
        light=frozenset(token.stem for token in tokens if token.is_light),
        roles=frozenset().union(*(token.roles for token in telling)),
        essential=tuple(essential[token.written] for token in tokens if token.written in essential),
    )


_Texts = list[tuple[str, float]]


def _records(knowledge: Knowledge, vocabulary: Vocabulary) -> Iterator[tuple[str, str, str, str | None, _Texts]]:
    """Give kind, id, label, `each` and weighted texts of everything that can be found.

    What people say and what a thing is called count in full; longer explanations tell less.
    """
    weights, names = vocabulary.weights, vocabulary.language.names
    named, asked, explained = weights["named"], weights["asked"], weights["explained"]

    def texts(record_id: str, label: str, words: Sequence[str], others: _Texts) -> _Texts:
        own = [(text, named) for text in names.get(record_id, words)]
        called = (label.replace("{name}", " "), explained if "{name}" in label else named)
        return [called, *own, (record_id.replace("_", " "), asked), *others]

    codes_of: dict[str, _Texts] = {}
    for code in knowledge.codes.values():
        codes_of.setdefault(code.finding, []).append((code.code, asked))
    for finding in knowledge.findings.values():
        more = [(finding.ask, asked), *codes_of.get(finding.id, [])]
        found = texts(finding.id, finding.label, finding.words, more)
        yield "finding", finding.id, finding.label, finding.scope.each, found
    for item in knowledge.backgrounds.values():
        yield "background", item.id, item.label, None, texts(item.id, item.label, item.words, [(item.ask, asked)])
    others: list[tuple[str, Check | Cause | Job, str]] = [
        *(("check", check, check.how) for check in knowledge.checks.values()),
        *(("cause", cause, cause.says) for cause in knowledge.causes.values()),
        *(("job", job, job.says) for job in knowledge.jobs.values()),
    ]
    for kind, record, says in others:
        yield kind, record.id, record.label, record.scope.each, texts(record.id, record.label, (), [(says, explained)])
    for code in knowledge.codes.values():
        found = [(f"{code.code} {code.means}", named), (code.code, named)]
        yield "code", code.code, f"{code.code}: {code.means}", None, found


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


Spots = Mapping[str, Sequence[int]]


def find_spots(words: Sequence[Token], vocabulary: Vocabulary) -> Spots:
    """List for each stem the places where it is said, itself or inside a compound: an upshift is a shift, and so is 2-3."""
    spots: dict[str, list[int]] = {}
    for place, token in enumerate(words):
        for stem in _said_by(token, vocabulary):
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
    spots = find_spots(words, index.vocabulary) if spots is None else spots
    found = {stem: spots[stem] for stem in phrase.stems if stem in spots}
    if not found:
        return None
    chosen = _closest(found)
    total = sum(index.telling(stem) for stem in phrase.stems)
    coverage = sum(index.telling(stem) for stem in found) / total if total else 0.0
    tightness = _tightness(phrase, chosen, words, index.vocabulary.weights)
    return PhraseFit(tuple(sorted(chosen.values())), frozenset(found), coverage, tightness)


def _said_by(token: Token, vocabulary: Vocabulary) -> Iterator[str]:
    """Give the stems that a word says: itself, and what it ends in; a named shift is a shift."""
    stem, weights = token.stem, vocabulary.weights
    yield stem
    if stem[0] == "#":
        before, _, after = stem[1:].partition(">")
        if after:
            yield from vocabulary.stems("shift")
            yield from vocabulary.stems("downshift" if int(after) < int(before) else "upshift")
    elif stem[0] != "=":
        for cut in range(2, int(weights["compound_start"]) + 1):
            if len(stem) - cut >= weights["compound_end"]:
                yield stem[cut:]


def _closest(found: Mapping[str, Sequence[int]]) -> dict[str, int]:
    """Choose one place for each stem, so that all stand close to one another."""

    def around(anchor: int) -> dict[str, int]:
        return {stem: min(places, key=lambda place: (abs(place - anchor), place)) for stem, places in found.items()}

    fewest: Sequence[int] = min(found.values(), key=len)
    return min(map(around, fewest), key=lambda chosen: max(chosen.values()) - min(chosen.values()))


def _tightness(
    phrase: KnownPhrase, chosen: dict[str, int], words: Sequence[Token], weights: Mapping[str, float]
) -> float:
    """Take off for words in between and for disorder; add a little for light words that agree."""
    places = [chosen[stem] for stem in phrase.stems if stem in chosen]
    inside = set(range(min(places), max(places) + 1)) - set(places)
    gaps = sum(not words[place].is_light for place in inside)
    tight = max(weights["worst_gap"], 1 - weights["gap_cost"] * gaps)
    if places != sorted(places):
        tight *= weights["disorder"]
    for meaning, stands_loose in ((NO, _is_loose), (FINE, _stands_apart)):
        if meaning in chosen and len(places) > 1 and stands_loose(chosen[meaning], places, words):
            tight *= weights["loose"]
    tight *= weights["unsure"] ** sum(_is_unsure(words[place], stem) for stem, place in chosen.items())
    light = phrase.light
    near = range(max(0, min(places) - 1), min(len(words), max(places) + 2))
    agreeing = sum(words[place].is_light and words[place].stem in light for place in near)
    return min(1.0, tight - weights["light_bonus"] * max(0, len(light) - agreeing))


def _is_unsure(word: Token, stem: str) -> bool:
    return word.is_mended or (word.stem != stem and word.stem[0] != "#")


def _is_loose(no_place: int, places: list[int], words: Sequence[Token]) -> bool:
    """Tell whether something else stands between a negation and what the phrase negates."""
    after = [place for place in places if place > no_place]
    return not after or any(not words[place].is_light for place in range(no_place + 1, min(after)))


def _stands_apart(fine_place: int, places: list[int], words: Sequence[Token]) -> bool:
    """Tell whether something else stands between "fine" and the nearest word of its phrase."""
    nearest = min((place for place in places if place != fine_place), key=lambda place: abs(place - fine_place))
    low, high = sorted((fine_place, nearest))
    return any(not words[place].is_light for place in range(low + 1, high))
