"""Find findings, checks, causes, jobs, backgrounds and codes by plain words."""

import math
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rapidfuzz import process
from rapidfuzz.distance import OSA

from shiftlore.basics.problems import UnknownId
from shiftlore.knowledge import Cause, Check, Job, Knowledge, name_in_general
from shiftlore.knowledge.language import FIRST_LANGUAGE
from shiftlore.knowledge.rulebook import SHIPPED
from shiftlore.words.page_phrases import tell_not_done
from shiftlore.words.vocabulary import Token, Vocabulary, choose_vocabulary

if TYPE_CHECKING:
    from shiftlore.words.statements import SaidAnswer

KINDS = ("finding", "check", "cause", "job", "background", "code")
# A finding that shows only when something is opened comes after others that fit as well.
_OPENED, _AFTER_OTHERS = "open", 0.9
# Half the score for words found anywhere, half for one text that holds them; part of that for a text that says much else.
_SCATTERED, _WHOLE = 0.5, 0.5
# From this score on a record is named by the words, if it misses no more of them, unless more are named nearly as well.
NAMED, MAY_MISS, NEARLY_AS_GOOD, MOST_ALIKE, NEAREST_SHOWN = 0.55, 0.35, 0.9, 8, 3
# What is shown for words alone is the only one that fits so well; an id, or the beginning of a code, is no words.
AS_LIKELY, _ID = 0.95, re.compile(r"\S*_\S*|[PBCU]\d[0-9A-F]*", re.IGNORECASE)
# A template over these stands for each of them, so one that is named is covered.
_NUMBERED, _NAMED = ("gear", "shift", "downshift"), 0.9


@dataclass(frozen=True, slots=True)
class Hit:
    """One record found.

    Args:
        kind: one of ``finding``, ``check``, ``cause``, ``job``, ``background``, ``code``.
        score: 0 to 1; a hit with all words in one short text is near 1.
        matched: the words of the question that were found, as written.
    """

    kind: str
    id: str
    label: str
    score: float
    matched: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SearchEntry:
    """One record that can be found: stems of its texts, each text with its weight; `share` lowers its score."""

    kind: str
    id: str
    label: str
    each: str | None
    texts: tuple[tuple[frozenset[str], float], ...]
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class SearchIndex:
    """All entries, and how telling each stem is.

    Args:
        tellings: stem -> weight; rare stems tell more.
        spellings: words as written -> their stems.
    """

    vocabulary: Vocabulary
    entries: tuple[SearchEntry, ...]
    tellings: Mapping[str, float]
    spellings: Mapping[str, str]

    def stems(self, text: str) -> dict[str, str]:
        """Give the stems of a text with the words as written; slips of the fingers are mended."""
        tokens = [token for token in self.vocabulary.split(text) if token.kind not in ("stop", "no")]
        telling = [token for token in tokens if token.is_telling] or tokens
        return {stem: token.written for token in telling for stem in self._mend(token)}

    def _mend(self, token: Token) -> Sequence[str]:
        if token.values:
            return [token.stem, *token.values]
        letters = self.vocabulary.weights["least_slip_letters"]
        if token.stem in self.tellings or len(token.written) < letters or token.kind == "light":
            return [token.stem]
        slips = 1 if len(token.written) < 2 * letters else 2
        near = process.extractOne(token.written.lower(), list(self.spellings), scorer=OSA.distance, score_cutoff=slips)
        return [self.spellings[near[0]] if near else token.stem]


def build_index(knowledge: Knowledge, kinds: Collection[str] = KINDS, language: str = FIRST_LANGUAGE) -> SearchIndex:
    """Make the index of these kinds in a language; once a session is enough.

    Raises: UnknownId: there is no such language; names those there are.
    """
    vocabulary = choose_vocabulary(knowledge, language)
    entries: list[SearchEntry] = []
    spellings: dict[str, str] = {}
    counts: dict[str, int] = {}
    for kind, key, label, each, texts, share in _records(knowledge, vocabulary):
        if kind in kinds:
            split = [([t for t in vocabulary.split(text) if t.is_telling], weight) for text, weight in texts]
            spellings |= {t.written.lower(): t.stem for tokens, _ in split for t in tokens if t.kind == "word"}
            stems = [
                (frozenset(stem for t in tokens for stem in (t.stem, *t.values)), weight) for tokens, weight in split
            ]
            entries.append(
                SearchEntry(kind, key, label, each=each, texts=tuple(one for one in stems if one[0]), share=share)
            )
            for stem in frozenset().union(*(one for one, _ in stems)):
                counts[stem] = counts.get(stem, 0) + 1
    tellings = {stem: math.log(1 + len(entries) / count) for stem, count in counts.items()}
    return SearchIndex(vocabulary, tuple(entries), tellings, spellings)


def index_of(knowledge: Knowledge, kinds: tuple[str, ...] = KINDS) -> SearchIndex:
    """Give the index of some kinds of records, made once for a knowledge."""
    if kinds not in knowledge.worked_out:
        knowledge.worked_out[kinds] = build_index(knowledge, kinds)
    return knowledge.worked_out[kinds]


_Record = tuple[str, str, str, str | None, list[tuple[str, float]], float]


def _records(knowledge: Knowledge, vocabulary: Vocabulary) -> Iterator[_Record]:
    """Give kind, id, label, `each`, weighted texts and share of everything that can be found.

    What people say and what a thing is called count in full; longer explanations tell less.
    """
    named, asked, explained = (vocabulary.weights[name] for name in ("named", "asked", "explained"))
    said = knowledge.sayings.get(vocabulary.language.id, {}) if vocabulary.language.id != FIRST_LANGUAGE else {}

    def texts(key: str, label: str, words: Sequence[str], *others: tuple[str, float]) -> list[tuple[str, float]]:
        own = [text for answers in said[key].values() for text in answers] if key in said else words
        return [(label, named), *((text, named) for text in own), (key.replace("_", " "), asked), *others]

    codes_of: dict[str, list[tuple[str, float]]] = {}
    for code in knowledge.codes.values():
        codes_of.setdefault(code.finding, []).append((code.code, asked))
        yield "code", code.code, f"{code.code}: {code.means}", None, [(f"{code.code} {code.means}", named)], 1.0
    for finding in knowledge.findings.values():
        found = texts(finding.id, finding.label, finding.words, (finding.ask, asked), *codes_of.get(finding.id, ()))
        share = _AFTER_OTHERS if finding.got_by == _OPENED else 1.0
        yield "finding", finding.id, name_in_general(finding), finding.scope.each, found, share
    for item in knowledge.backgrounds.values():
        yield "background", item.id, item.label, None, texts(item.id, item.label, item.words, (item.ask, asked)), 1.0
    others: list[tuple[str, Check | Cause | Job, str]] = [
        *(("check", check, check.how) for check in knowledge.checks.values()),
        *(("cause", cause, cause.says) for cause in knowledge.causes.values()),
        *(("job", job, job.says) for job in knowledge.jobs.values()),
    ]
    for kind, record, says in others:
        yield (
            kind,
            record.id,
            record.label if isinstance(record, Check) else name_in_general(record),
            record.scope.each,
            texts(record.id, record.label, getattr(record, "words", ()), (says, explained)),
            1.0,
        )


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
    asked = index.stems(words if isinstance(words, str) else " ".join(words))
    unknown = max(index.tellings.values(), default=0.0) / 2
    weights = {stem: index.tellings.get(stem, unknown) for stem in asked}
    found = (_score(entry, asked, weights, index) for entry in index.entries if kinds is None or entry.kind in kinds)
    hits = [hit for hit in found if hit is not None]
    return sorted(hits, key=lambda hit: (-hit.score, KINDS.index(hit.kind), hit.id))[:most]


def _score(
    entry: SearchEntry, asked: Mapping[str, str], weights: Mapping[str, float], index: SearchIndex
) -> Hit | None:
    """Weigh how much of the question the record covers, and how well one of its texts holds it."""
    total = sum(weights.values())
    covered = {stem: max((weight for stems, weight in entry.texts if stem in stems), default=0.0) for stem in weights}
    named = {stem for stem in covered if entry.each in _NUMBERED and stem[0] in "#0123456789"}
    covered |= dict.fromkeys(named, _NAMED)
    scattered = sum(weights[stem] * share for stem, share in covered.items()) / total if total else 0.0
    if scattered < index.vocabulary.weights["least_found"]:
        return None
    together = 0.0
    for stems, weight in entry.texts:
        held = sum(weights[stem] for stem in weights if stem in stems or stem in named) / total
        whole = sum(index.tellings[stem] for stem in stems)
        coverage = sum(index.tellings[stem] for stem in stems if stem in weights) / whole
        together = max(together, weight * held * (_WHOLE + (1 - _WHOLE) * coverage))
    score = entry.share * (_SCATTERED * scattered + (1 - _SCATTERED) * together)
    matched = tuple(dict.fromkeys(asked[stem] for stem, share in covered.items() if share))
    return Hit(entry.kind, entry.id, entry.label, round(score, 4), matched)


def add_said(
    knowledge: Knowledge, hits: Sequence[Hit], said: "Iterable[SaidAnswer]", kinds: Collection[str] | None = None
) -> list[Hit]:
    """Add what the words say, as the learned reader understands it, to what was found by the words themselves.

    Args:
        hits: by `find_words`; said: answers by `read_report`; kinds: only these kinds; None means all.
    Returns: hits, best first, each record once.
    """
    best = {(hit.kind, hit.id): hit for hit in hits}
    for answer in said:
        record = knowledge.findings.get(answer.template) or knowledge.backgrounds.get(answer.template)
        if record is not None and not answer.code and (kinds is None or answer.kind in kinds):
            hit = best.get((answer.kind, record.id))
            score = max(answer.score, hit.score if hit else 0.0)
            best[answer.kind, record.id] = Hit(answer.kind, record.id, record.label, score, answer.matched)
    return sorted(best.values(), key=lambda hit: (-hit.score, KINDS.index(hit.kind), hit.id))


def find_by_words(knowledge: Knowledge, words: str, most: int, kinds: Collection[str] | None) -> list[Hit]:
    """Find what plain words speak of, best first: by the words themselves, and by what was learned of how people say it.

    Args:
        kinds: only these kinds; None takes all.
    """
    from shiftlore.words.report import read_report

    hits = find_words(index_of(knowledge), words, kinds, most)
    # What is learned need not be at hand for other knowledge, and a search shall not wait for it.
    said = read_report(knowledge, None, words).answers if knowledge.worked_out.get(SHIPPED) else ()
    return add_said(knowledge, hits, said, kinds)[:most]


def pick_meant(knowledge: Knowledge, words: str, hits: Sequence[Hit]) -> Sequence[Hit]:
    """Put the record first that words surely mean: one that is called so, or the only one that fits as well.

    Args:
        hits: what words speak of, best first.
    Returns: the hits; none where the words are an id or a code, which is no other one.
    Raises: UnknownId: several are meant as likely; names them.
    """
    if not hits or _ID.fullmatch(words):
        return ()
    stems = index_of(knowledge).stems
    asked = set(stems(words))
    called = [hit for hit in hits if hit.label.casefold() == words.casefold()] or [
        hit for hit in hits if asked == set(stems(hit.label))
    ]
    best = hits[0].score
    alike = [hit for hit in hits if hit.score >= (1.0 if best == 1.0 else AS_LIKELY * best)]
    if len(called) != 1 and len(alike) > 1:
        named = "; ".join(f"{hit.id} ({hit.kind}: {hit.label})" for hit in (*called, *alike)[:MOST_ALIKE])
        raise UnknownId(f'"{words}" may mean several things. Write one of: {named}.')
    first = called if len(called) == 1 else hits[:1]
    return [*first, *(hit for hit in hits if hit not in first)]


def find_named(
    knowledge: Knowledge, words: str, kind: str, among: Collection[str]
) -> tuple[list[tuple[str, str]], list[str], str]:
    """Find the records of a kind that words name, as whoever orders one must, not only what has some word in common.

    Args:
        among: ids of those that there are.
    Returns: ids and labels of those named, best first, none where too much of the order is in none or very many are meant
        alike; the labels that come nearest; and why nobody does it, or "".
    """
    index = index_of(knowledge)
    hits = [hit for hit in find_by_words(knowledge, words, MOST_ALIKE**2, (kind,)) if hit.id in among]
    best = hits[0] if hits else None
    alike = [hit for hit in hits if best is not None and hit.score >= NEARLY_AS_GOOD * best.score]
    weights = {written: index.tellings.get(stem, 0.0) for stem, written in index.stems(words).items()}
    missed = sum(weight for written, weight in weights.items() if best is not None and written not in best.matched)
    is_told = missed <= MAY_MISS * sum(weights.values()) and len(alike) <= MOST_ALIKE
    named = best is not None and best.score >= NAMED and is_told
    nearest = [hit.label for hit in hits[:NEAREST_SHOWN]]
    return [(hit.id, hit.label) for hit in alike if named], nearest, tell_not_done(words)
