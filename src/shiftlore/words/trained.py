"""The learned reader: which runs of words say what, from plain arrays; reading needs numpy alone.

Features of words are numbers (CRC-32 of their text, ISO 3309), so no list of texts is kept. Each belongs to the token where it
ends, and the models are linear, fitted by `learning`: so what a run of words scores is a sum over its tokens, and the best
cut of a sentence into runs that say one thing each is found exactly, by dynamic programming.
"""

import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache
from itertools import pairwise, product
from typing import Any
from zlib import crc32

import numpy as np
import numpy.typing as npt

from shiftlore.words.vocabulary import NO, Token, Vocabulary

# Kind of feature -> how much it counts beside a word itself (judgement; tried on sentences_build.yaml).
COUNTS = {
    "word": 1.0,
    "denied": 0.8,
    "group": 0.7,
    "letters": 0.25,
    "pair": 0.7,
    "triple": 0.5,
    "like": 0.4,
    "apart": 0.3,
}
Feature = tuple[int, float]
_LETTERS = (3, 4, 5)
_NAMES = frozenset({"gear", "shift", "count", "lever", "amount"})
_SHORTEST = 3
_LOWEST = "1"  # to set off in it is right


class Features:
    """Gives the features of tokens; once a vocabulary.

    Args:
        vocabulary: the language.
    """

    def __init__(self, vocabulary: Vocabulary):
        self.vocabulary = vocabulary
        self._letters = lru_cache(8192)(_letter_features)

    def is_bare(self, token: Token) -> bool:
        """Tell whether a word names a gear, a place, a part or an amount alone, of which it says nothing."""
        return token.kind in _NAMES or token.written.lower() in self.vocabulary.words("bare")

    def of_token(self, token: Token) -> list[Feature]:
        """Give what one token says by itself."""
        groups = self.vocabulary.groups(token.stem)
        found = [feature("word", token.stem), *(feature("group", group) for group in groups)]
        if token.denied:
            found += [feature("denied", name) for name in (token.stem, *(f"{group}+" for group in groups))]
        return [*found, *self._letters(token.written.lower())] if token.kind == "word" else found

    def of_pair(self, first: Token, second: Token) -> list[Feature]:
        """Give what two neighbours say together."""
        likes = product(self._senses(first), self._senses(second))
        return [feature("pair", f"{first.stem} {second.stem}"), *(feature("like", " ".join(both)) for both in likes)]

    def of_triple(self, first: Token, second: Token, third: Token) -> list[Feature]:
        """Give what three in a row say together, and the outer two alone."""
        apart = product(self._senses(first), self._senses(third))
        whole = feature("triple", f"{first.stem} {second.stem} {third.stem}")
        return [whole, *(feature("apart", " ".join(both)) for both in apart)]

    def of_all(self, tokens: Sequence[Token]) -> list[Feature]:
        """Give all that a run of telling tokens says."""
        found = []
        for place, token in enumerate(tokens):
            found += self.of_token(token)
            if place > 0:
                found += self.of_pair(tokens[place - 1], token)
            if place > 1:
                found += self.of_triple(tokens[place - 2], tokens[place - 1], token)
        return found

    def of_answer(self, tokens: Sequence[Token], finding: str) -> list[int]:
        """Give what tells yes from no for a finding: denials, words of soundness, and the finding's own words."""
        sound, unsound = self.vocabulary.stems("sound"), self.vocabulary.stems("unsound")
        state = (
            f"{any(token.stem == NO or token.denied for token in tokens):d}"
            f"{any(token.stem in sound and not token.denied for token in tokens):d}"
            f"{any(token.stem in sound and token.denied for token in tokens):d}"
            f"{any(token.stem in unsound for token in tokens):d}"
        )
        texts = [f"state {state}", f"{finding} {state}", *(f"{place} {flag}" for place, flag in enumerate(state))]
        texts += [f"{finding} {place} {flag}" for place, flag in enumerate(state[:2])]
        texts += [f"first {tokens[0].stem}", f"last {tokens[-1].stem}"]
        for place, token in enumerate(tokens):
            flag = f"{token.denied:d}"
            groups = self.vocabulary.groups(token.stem)
            texts += [f"word {token.stem}", f"word {token.stem} {flag}", f"{finding} word {token.stem} {flag}"]
            texts += [text for group in groups for text in (f"group {group} {flag}", f"{finding} group {group} {flag}")]
            if token.kind == "gear":
                lowest = f"{_LOWEST in token.values:d}"
                texts += [f"lowest {lowest}", f"{finding} lowest {lowest}", f"{finding} lowest {lowest} {state}"]
            if place:
                before = tokens[place - 1]
                texts += [f"pair {before.stem} {token.stem}", f"pair {before.stem} {token.stem} {flag}"]
                senses = product(self._senses(before), self._senses(token))
                texts += [f"like {' '.join(both)} {flag}" for both in senses]
        return sorted({crc32(text.encode()) for text in texts})

    def _senses(self, token: Token) -> tuple[str, ...]:
        return self.vocabulary.groups(token.stem) or (token.stem,)


@lru_cache(65536)
def feature(kind: str, text: str) -> Feature:
    """Make a feature of its text."""
    return crc32(f"{kind} {text}".encode()), COUNTS[kind]


def _letter_features(word: str) -> list[Feature]:
    """Give the runs of letters inside a word, its ends marked."""
    if len(word) < _SHORTEST:
        return []
    marked = f"<{word}>"
    return [
        feature("letters", marked[start : start + length])
        for length in _LETTERS
        for start in range(len(marked) - length + 1)
    ]


NONE = "none"
_Array = npt.NDArray
# A run of few words that are common is no statement: this share of the square of the most telling word is added to its
# square length (tried on sentences_build.yaml).
SHORTNESS = 0.27
LONGEST = 14


@dataclass(frozen=True)
class Trained:
    """What was learned.

    Args:
        sources: hash of what it was learned from.
        classes: finding or background (yes and no together), ``id:grade`` where there are other answers; `NONE`.
        keys: features, ascending; tellings: how telling each is.
        starts, labels, values: per feature its classes and weights, as compressed sparse rows.
        scales, biases: per class.
        answer_keys, answer_weights, answer_bias: the same for yes and no.
    """

    sources: str
    classes: tuple[str, ...]
    keys: _Array
    tellings: _Array
    starts: _Array
    labels: _Array
    values: _Array
    scales: _Array
    biases: _Array
    answer_keys: _Array
    answer_weights: _Array
    answer_bias: float

    @cached_property
    def place_of(self) -> dict[str, int]:
        """Class -> its place among the classes."""
        return {name: place for place, name in enumerate(self.classes)}

    def runs(self, tokens: Sequence[Token], features: Features) -> Iterator[_Array]:
        """Score every run of up to `LONGEST` telling tokens: for each start a row for each end, with a column per class."""
        kinds = (
            [features.of_token(token) for token in tokens],
            [[], *(features.of_pair(*both) for both in pairwise(tokens))],
            [[], [], *(features.of_triple(*three) for three in zip(tokens, tokens[1:], tokens[2:], strict=False))],
        )
        sums = [self._sums(listed[: len(tokens)]) for listed in kinds]
        for start in range(len(tokens)):
            end = min(len(tokens), start + LONGEST) + 1
            total = np.zeros((end - start - 1, len(self.classes) + 1))
            for reach, one in enumerate(sums):
                total[reach:] += one[start + 1 + reach : end] - one[min(start + reach, len(tokens))]
            yield total[:, :-1] / np.sqrt(total[:, -1:] + SHORTNESS * self._unknown**2) + self.biases

    def whole(self, tokens: Sequence[Token], features: Features) -> _Array:
        """Score all telling tokens as one run, as `runs` does: shape (n_classes,)."""
        keys = np.array([key for key, _ in features.of_all(tokens)], dtype=np.uint32)
        places = np.minimum(np.searchsorted(self.keys, keys), len(self.keys) - 1)
        places = places[self.keys[places] == keys]
        members = self._members(places)
        scores = np.bincount(self.labels[members], self.values[members], len(self.classes)) * self.scales
        strange = sum(not self.knows(token) for token in tokens) * self._unknown**2 / 2
        length = float((self.tellings[places].astype(float) ** 2).sum()) + strange + SHORTNESS * self._unknown**2
        row: _Array = scores / np.sqrt(length) + self.biases
        return row

    def telling(self, token: Token) -> float:
        """Say how telling a word is: about 1 for a common one of the trade."""
        known = self._known_telling(token.stem)
        return (self._unknown if known is None else known) / _COMMON

    def knows(self, token: Token) -> bool:
        """Tell whether a word was met in learning."""
        return self._known_telling(token.stem) is not None

    def _known_telling(self, stem: str) -> float | None:
        if stem not in self._tellings:
            key, _ = feature("word", stem)
            place = int(np.searchsorted(self.keys, key))
            is_known = place < len(self.keys) and self.keys[place] == key
            self._tellings[stem] = float(self.tellings[place]) if is_known else None
        return self._tellings[stem]

    @cached_property
    def _tellings(self) -> dict[str, float | None]:
        return {}

    def _members(self, places: _Array) -> _Array:
        """List where the weights of features stand, one feature after the other."""
        counts = (self.starts[places + 1] - self.starts[places]).astype(np.intp)
        offsets = np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        members: _Array = np.repeat(self.starts[places].astype(np.intp), counts) + offsets
        return members

    def yes(self, tokens: Sequence[Token], finding: str, features: Features) -> float:
        """Give the probability that these tokens, which speak of a finding, say yes."""
        keys = np.array(features.of_answer(tokens, finding), dtype=np.uint32)
        places = np.minimum(np.searchsorted(self.answer_keys, keys), len(self.answer_keys) - 1)
        known = places[self.answer_keys[places] == keys]
        odds = self.answer_bias + float(self.answer_weights[known].sum())
        return float(1 / (1 + np.exp(-odds)))

    @cached_property
    def _unknown(self) -> float:
        return float(self.tellings.max(initial=1.0))

    def _sums(self, listed: Sequence[Sequence[Feature]]) -> _Array:
        """Sum the weights of the features of the first tokens, none to all; the last column sums squares of tellings.

        An unknown word counts in length alone.
        """
        width = len(self.classes)
        keys = np.array([key for one in listed for key, _ in one], dtype=np.uint32)
        owners = np.repeat(np.arange(len(listed)), [len(one) for one in listed])
        places = np.minimum(np.searchsorted(self.keys, keys), len(self.keys) - 1)
        known = self.keys[places] == keys
        places, found = places[known], owners[known]
        members = self._members(places)
        counts = (self.starts[places + 1] - self.starts[places]).astype(np.intp)
        spots = np.repeat(found, counts) * width + self.labels[members]
        scores = np.bincount(spots, self.values[members], len(listed) * width).reshape(len(listed), width) * self.scales
        lengths = np.bincount(found, self.tellings[places].astype(float) ** 2, len(listed)).astype(float)
        firsts = np.flatnonzero(np.diff(owners, prepend=-1))
        strange = [owners[place] for place in firsts if not known[place] and listed[owners[place]][0][1] == 1.0]
        lengths[strange] += self._unknown**2 / 2
        return np.cumsum(np.vstack([np.zeros(width + 1), np.column_stack([scores, lengths])]), axis=0)

    def to_bytes(self) -> bytes:
        """Write the arrays as one compressed file (.npz)."""
        stream = io.BytesIO()
        arrays: dict[str, Any] = {one.name: np.asarray(getattr(self, one.name)) for one in fields(self)}
        np.savez_compressed(stream, **arrays)
        return stream.getvalue()


_COMMON = 5.0


def from_bytes(content: bytes) -> Trained:
    """Read what `to_bytes` wrote.

    Raises: ValueError, KeyError, OSError where it is something else.
    """
    with np.load(io.BytesIO(content), allow_pickle=False) as stored:
        parts = {one.name: stored[one.name] for one in fields(Trained)}
    parts |= {"sources": str(parts["sources"]), "classes": tuple(map(str, parts["classes"]))}
    return Trained(**{**parts, "answer_bias": float(parts["answer_bias"])})


# A score becomes a share among the scores of all classes (softmax with this slope), beside one that always counts; a share
# below the least is not worth reading. Tried on sentences_build.yaml.
SLOPE, ELSE = 14.0, 0.0001
LEAST_SURE = 0.55
_PLAIN = 0.9
_GAP, _SURE_KIND = 1, 0.7  # tokens between runs that are joined; score from which a run says a kind of its beginning
# What speaks for a reading: its score and its lead (both at most 1), the logarithm of how telling its words are, and that it
# begins, and ends, at a joint of the sentence (logistic regression over sentences_build and two thirds of sentences_fresh).
_TRUST, _TRUST_BIAS = (0.92, 2.36, 0.85, 0.87, 0.62), -3.51
_JOINT, _ENOUGH = 0.3, 1.2
# Words that name parts alone say something where they score so much: "brake switch code".
_LEAST_BARE = 0.7
# What is said beside what was read, by the same words, scores more than this.
_LEAST_BESIDE, _LEAST_PART = -0.3, 0.1
# How much words that surely say nothing count beside what they might say.
_EMPTY = 0.5


def weigh(rows: _Array, kin: _Array | None = None) -> tuple[_Array, _Array]:
    """Give the class of each row of scores, and how sure it is, from 0 to 1; what its kin say speaks for it too."""
    shares = np.exp(SLOPE * rows)
    labels = shares.argmax(axis=1)
    most = shares.max(axis=1) if kin is None else (shares * kin[labels]).sum(axis=1)
    return labels, most / (shares.sum(axis=1) + ELSE)


@dataclass(frozen=True, slots=True)
class Segment:
    """A run of tokens [start, end) of a sentence that says one thing.

    Args:
        label: one of the classes; sure: from 0 to 1, among all classes.
        trust: what speaks for it besides, in log odds: how far it leads, how telling its words are, and whether it begins and
            ends where a part of the sentence does.
    """

    start: int
    end: int
    label: str
    sure: float
    trust: float = 0.0


def cut(
    tokens: Sequence[Token],
    parts: Sequence[float],
    *,
    trained: Trained,
    features: Features,
    allowed: npt.NDArray,
    layers: npt.NDArray | None = None,
    beside: npt.NDArray | None = None,
    kin: npt.NDArray | None = None,
) -> list[Segment]:
    """Cut telling tokens of one sentence into segments, from left to right.

    Args:
        tokens: the telling tokens; parts: how strongly each parts what stands before it.
        allowed: per class 0, or less for a class that the vehicle cannot have.
        layers: per class its layer: one is cut without regard to another, as "judders when cold" says two things.
        beside: per class whether it may be said together with others of these by the same words: "whines in third".
        kin: per class which classes are no other answer: itself, general and special ones, and what is said beside it.
    """
    layers = np.zeros(len(trained.classes), dtype=int) if layers is None else layers
    full = np.cumsum([0, *(not features.is_bare(token) for token in tokens)])
    weights = np.cumsum([0.0, *(trained.telling(token) for token in tokens)])
    costs = np.cumsum([0.0, *parts])
    candidates: dict[int, dict[tuple[int, int], tuple[float, Segment]]] = {int(one): {} for one in set(layers)}
    scores, tops = [rows + allowed for rows in trained.runs(tokens, features)], []
    for start, rows in enumerate(scores):
        labels, sures = weigh(rows, kin)
        tops.append(labels)
        ends = np.arange(start + 1, start + 1 + len(rows))
        worths = (weights[ends] - weights[start]) * (sures - LEAST_SURE) - (costs[ends] - costs[start + 1])
        for end, label, sure, worth in zip(
            ends.tolist(), labels.tolist(), sures.tolist(), worths.tolist(), strict=True
        ):
            if worth > 0 and (full[end] > full[start] or rows[end - start - 1].max() > _LEAST_BARE):
                segment = Segment(start, end, trained.classes[label], sure)
                is_none = segment.label == NONE
                for layer in candidates if is_none else (int(layers[label]),):
                    candidates[layer][start, end] = worth * (_EMPTY if is_none else 1.0), segment
    found = list[Segment]()
    for runs in candidates.values():
        cuts = _joined(_best_cut(len(tokens), runs), runs, scores, trained.place_of, kin)
        telling = [segment for segment in cuts if segment.label != NONE]
        found += _joined(telling, runs, scores, trained.place_of, kin)
    found = [one for one in found if not any(_is_part(one, other) for other in found)]
    trust = _Trust(trained, scores, tops, weights=weights, parts=parts, kin=kin)
    found = [trust.judge(one, one) for one in found]
    if beside is not None:
        for one in [one for one in found if beside[trained.place_of[one.label]]]:
            said = {same.label for same in found}
            more = [
                other
                for other in _said_beside(one, scores, tops, beside, trained)
                if other.label not in said and full[other.end] > full[other.start]
            ]
            found += [trust.judge(other, one) for other in more]
    return sorted(found, key=lambda one: one.start)


def _joined(
    cuts: Sequence[Segment],
    candidates: Mapping[tuple[int, int], tuple[float, Segment]],
    scores: Sequence[_Array],
    place_of: Mapping[str, int],
    kin: _Array | None,
) -> list[Segment]:
    """Join neighbours that together say something else, and more surely than each: "slips | when it pulls away".

    As surely is enough where it is a kind of what the first says, and the rest makes it surer of that kind.
    """
    most = {one: float(scores[one.start][one.end - one.start - 1].max()) for one in cuts}
    joined: list[Segment] = []
    for one in cuts:
        last = joined[-1] if joined else one
        is_near = 0 <= one.start - last.end <= _GAP
        _, both = candidates.get((last.start, one.end), (0.0, one)) if is_near else (0.0, one)
        place = place_of[both.label]
        score = float(scores[both.start][both.end - both.start - 1].max())
        before = float(scores[last.start][last.end - last.start - 1][place])
        is_kind = kin is not None and bool(kin[place, place_of[last.label]]) and score > max(_SURE_KIND, before)
        if (
            both.sure > _PLAIN
            and both.label not in (last.label, one.label, NONE)
            and (is_kind or score > max(most[last], most[one]))
        ):
            joined[-1], most[both] = both, score
        else:
            joined.append(one)
    return joined


@dataclass(frozen=True, slots=True, eq=False)
class _Trust:
    """Says what speaks for a reading, from what all runs of a sentence score."""

    trained: Trained
    scores: Sequence[_Array]
    tops: Sequence[_Array]
    weights: _Array
    parts: Sequence[float]
    kin: _Array | None

    def judge(self, one: Segment, whole: Segment) -> Segment:
        """Give a segment with its trust: that of its surest part which says the same.

        Args:
            whole: the segment of which it is said beside; its words and joints count.
        """
        if one != whole:
            return replace(one, trust=self._odds(one, whole))
        own, place = self._odds(one, one), self.trained.place_of[one.label]
        if own > _ENOUGH:
            return replace(one, trust=own)
        parts = [
            replace(one, start=start, end=start + 1 + length)
            for start in range(one.start, one.end)
            for length in np.flatnonzero(self.tops[start][: one.end - start] == place).tolist()
        ]
        return replace(one, trust=max((own, *(self._odds(part, part) for part in parts))))

    def _odds(self, one: Segment, whole: Segment) -> float:
        row, place = self.scores[one.start][one.end - one.start - 1], self.trained.place_of[one.label]
        others = np.delete(row, place) if self.kin is None else row[~self.kin[place]]
        signs = (
            min(float(row[place]), 1.0),
            min(float(row[place] - others.max(initial=-1.0)), 1.0),
            float(np.log(self.weights[whole.end] - self.weights[whole.start] + 0.1)),
            whole.start == 0 or self.parts[whole.start] >= _JOINT,
            whole.end == len(self.parts) or self.parts[whole.end] >= _JOINT,
        )
        return _TRUST_BIAS + sum(weight * sign for weight, sign in zip(_TRUST, signs, strict=True))


def _said_beside(
    one: Segment, scores: Sequence[_Array], tops: Sequence[_Array], beside: _Array, trained: Trained
) -> Iterator[Segment]:
    """Give what the same words say besides, and what a part of them says first of all: "weeps" in "a pipe weeps"."""
    best: dict[int, tuple[float, int, int]] = {}
    for start in range(one.start, one.end):
        labels = tops[start][: one.end - start]
        for length in np.flatnonzero(beside[labels]).tolist():
            place, score = int(labels[length]), float(scores[start][length, labels[length]])
            if score > max(_LEAST_PART, best.get(place, (-np.inf,))[0]):
                best[place] = score, start, start + length + 1
    whole = scores[one.start][one.end - one.start - 1]
    for place in np.flatnonzero(beside & (whole > _LEAST_BESIDE)).tolist():
        best[place] = float(whole[place]), one.start, one.end
    for place, (_, start, end) in best.items():
        yield Segment(start, end, trained.classes[place], one.sure)


def _is_part(one: Segment, other: Segment) -> bool:
    """Tell whether a surer segment says more with the same words: "clutch overheated" is not "overheated before"."""
    within = other.start <= one.start and one.end <= other.end
    return within and 2 * (one.end - one.start) <= other.end - other.start and one.sure < _PLAIN * other.sure


def _best_cut(count: int, candidates: dict[tuple[int, int], tuple[float, Segment]]) -> list[Segment]:
    worths = [0.0] * (count + 1)
    lasts: list[Segment | None] = [None] * (count + 1)
    for end in range(1, count + 1):
        worths[end] = worths[end - 1]
        for start in range(max(0, end - LONGEST), end):
            worth, segment = candidates.get((start, end), (0.0, None))
            if segment is not None and worths[start] + worth > worths[end]:
                worths[end], lasts[end] = worths[start] + worth, segment
    segments: list[Segment] = []
    end = count
    while end > 0:
        last = lasts[end]
        if last is None:
            end -= 1
        else:
            segments.append(last)
            end = last.start
    return segments[::-1]
