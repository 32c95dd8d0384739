"""Everything that can be found by plain words, as phrases of stems with their weights."""

import math
from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise

from shiftlore.knowledge.records import Knowledge
from shiftlore.knowledge.wording import Token, is_near, split_words

KINDS = ("finding", "check", "cause", "job", "background", "code")
# What people say and what a thing is called count in full; longer explanations tell less.
_NAMED, _ASKED, _EXPLAINED = 1.0, 0.8, 0.45


@dataclass(frozen=True, slots=True)
class Phrase:
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
    phrases: tuple[Phrase, ...]


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


def _phrase(tokens: list[Token], weight: float) -> Phrase:
    stems = tuple(dict.fromkeys(token.stem for token in tokens if not token.is_light))
    return Phrase(tuple(tokens), stems, weight)


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
