"""Read what somebody says of a vehicle into candidate answers, which a person then confirms.

Real reports are partial, mix several things in one sentence, and say what does not happen as often as
what does: "bangs into second when hot, fine when cold, no codes".
"""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

from shiftlore.knowledge.matching import Match, match_phrase
from shiftlore.knowledge.records import Background, Finding, Knowledge
from shiftlore.knowledge.search_index import Entry, Phrase, SearchIndex, build_index
from shiftlore.knowledge.wording import FINE, NO, Token, count_slips, split_words

_KINDS = ("finding", "background")
_CLAUSE_END = re.compile(r"[;!?:\n]|[.](?!\d)|,(?!\d)|\b(?:but|however|although|though|except|plus)\b", re.IGNORECASE)
# A negation reaches up to one of these words; the first few also begin a statement of their own.
_JOINTS = frozenset({"and", "then", "so", "yet"})
_BARRIERS = _JOINTS | {"until", "till", "only", "just", "now", "after", "since", "because", "unless", "if"}
# Words that may stand between a thing and "ok": "fuses all ok".
_ALL = frozenset({"all", "both", "everyth"})
_WORKS = frozenset({FINE, "work"})
_LEAST_COVERED, _LEAST_SCORE = 0.64, 0.3
_BASE, _EXPLAINED = 0.55, 0.45
_INSIDE_ANOTHER = 0.75
_ONE_WORD = 0.55
_DENIED = 0.9
_SHIFT = re.compile(r"#(\d+)>(\d+)")
_GEAR = re.compile(r"#(\d+)")
# Gears and codes name an instance; alone they describe nothing.
_GEAR_OR_CODE = re.compile(r"#|[PBCU][0-3]")
_SLOWING = frozenset({"downshift", "slow", "coast", "down", "stop"})


@dataclass(frozen=True, slots=True)
class Candidate:
    """One answer that a sentence seems to give.

    Args:
        kind: ``finding`` or ``background``.
        id: the finding as written (a template before expansion), or the background.
        label: its label.
        instance: for a template the instance spoken of (``2_3``, ``3``, ``r``), or None if it was not said.
        answer: ``yes``, ``no``, a grade or an answer of the background; None where only the person can say which.
        score: 0 to 1, how well the words fit.
        matched: the words that led here, as written.
        code: the trouble code that was named, or None.
    """

    kind: str
    id: str
    label: str
    instance: str | None
    answer: str | None
    score: float
    matched: tuple[str, ...]
    code: str | None = None

    @property
    def expanded_id(self) -> str:
        """Give the id as it stands in a case; a template without an instance stays as it is."""
        return self.id if self.instance is None else f"{self.id}_{self.instance}"


@dataclass(frozen=True, slots=True)
class _Found:
    """A candidate with the places of its words, to weigh it against others of the same clause."""

    candidate: Candidate
    clause: int
    places: frozenset[int]
    negated: bool


def read_free_text(
    knowledge: Knowledge,
    sentence: str,
    index: SearchIndex | None = None,
    most: int = 12,
    among: Collection[str] | None = None,
) -> list[Candidate]:
    """Read a sentence into candidate answers.

    Args:
        knowledge: the knowledge; index: its index, where many sentences are read.
        sentence: what was said, in plain words.
        most: give at most so many.
        among: ids of the findings and backgrounds that the unit has; None means all.
    Returns: candidates, best first; each finding (with its instance) once.
    """
    index = build_index(knowledge, _KINDS) if index is None else index
    found: list[_Found] = []
    for number, clause in enumerate(_clauses(sentence)):
        words = index.read(clause)
        here = [*_codes(words, number, knowledge), *_entries(words, number, knowledge, index)]
        found += _weighed([one for one in here if among is None or one.candidate.id in among])
    return _merged(found)[:most]


def _clauses(sentence: str) -> list[str]:
    """Take the sentence apart; a clause that only says "all ok" belongs to the one before."""
    clauses: list[str] = []
    for clause in _CLAUSE_END.split(sentence):
        stems = {token.stem for token in split_words(clause) if not token.is_light}
        if clauses and FINE in stems and stems <= {FINE, *_ALL}:
            clauses[-1] += " " + clause
        elif stems:
            clauses.append(clause)
    return clauses


def _codes(words: Sequence[Token], number: int, knowledge: Knowledge) -> Iterator[_Found]:
    """Take trouble codes by their names."""
    for place, token in enumerate(words):
        code = knowledge.codes.get(token.stem)
        finding = knowledge.findings.get(code.finding) if code is not None else None
        if code is None or finding is None:
            continue
        negated = _is_negated((place,), words, frozenset())
        candidate = Candidate(
            "finding", finding.id, finding.label, code.instance, _NO_YES[not negated], 1.0, (token.written,), code.code
        )
        yield _Found(candidate, number, frozenset({place}), negated)


_NO_YES = ("no", "yes")


def _entries(words: Sequence[Token], number: int, knowledge: Knowledge, index: SearchIndex) -> Iterator[_Found]:
    """Try every finding and background that shares a telling word with the clause."""
    near = sorted({entry for token in words if not token.is_light for entry in index.by_stem.get(token.stem, ())})
    for position in near:
        entry = index.entries[position]
        if entry.kind in _KINDS:
            found = _best(entry, words, number, knowledge, index)
            if found is not None:
                yield found


def _best(entry: Entry, words: Sequence[Token], number: int, knowledge: Knowledge, index: SearchIndex) -> _Found | None:
    """Take the phrase that fits best."""
    best: tuple[float, Match, Phrase, bool] | None = None
    instance, instance_places = _instance(entry.each, words)
    for phrase in entry.phrases:
        match = match_phrase(phrase, words, index)
        negated = None if match is None else _polarity(phrase, match, words)
        if match is None or negated is None:
            continue
        if phrase.stems == (NO,):
            score = phrase.weight * _DENIED if _is_denied(match.places[0], instance_places, words) else None
        else:
            score = _score(phrase, match, words, instance_places, negated, index)
        if score is not None and (best is None or score > best[0]):
            best = score, match, phrase, negated
    if best is None or best[0] < _LEAST_SCORE:
        return None
    score, match, phrase, negated = best
    if negated and instance is None and entry.each is not None:
        return None
    places = frozenset({*match.places, *instance_places})
    answer = _answer(entry, phrase, match, words, negated, knowledge)
    matched = tuple(words[place].written for place in sorted(places))
    candidate = Candidate(entry.kind, entry.id, entry.label, instance, answer, round(score, 4), matched)
    return _Found(candidate, number, places, negated)


def _polarity(phrase: Phrase, match: Match, words: Sequence[Token]) -> bool | None:
    """Say whether the clause denies the phrase; None where the phrase's own "no" or "fine" is not said at all."""
    said = match.stems
    missing = {NO, FINE} & set(phrase.stems) - said
    if not missing:
        return _is_negated(match.places, words, said)
    return True if missing == {NO} and _is_beside(match.places, words, _WORKS) else None


def _is_negated(places: Sequence[int], words: Sequence[Token], said: frozenset[str]) -> bool:
    """Look for a "no" before or among the words, or a "fine" beside them, that the phrase does not itself contain."""
    if NO not in said:
        if any(words[place].stem == NO for place in range(min(places), max(places))):
            return True
        for place in range(min(places) - 1, -1, -1):
            if words[place].stem == NO:
                return True
            if words[place].written in _BARRIERS:
                break
    return FINE not in said and _is_beside(places, words, frozenset({FINE}))


def _is_beside(places: Sequence[int], words: Sequence[Token], wanted: frozenset[str]) -> bool:
    """Tell whether one of the wanted stems stands before or after the words, with only light words between."""
    after, before = max(places) + 1, min(places) - 1
    while after < len(words) and _is_passed(words[after]):
        after += 1
    while before >= 0 and _is_passed(words[before]):
        before -= 1
    is_after = after < len(words) and words[after].stem in wanted
    return is_after or (before >= 0 and words[before].stem in wanted)


def _is_passed(word: Token) -> bool:
    return (word.is_light or word.stem in _ALL) and word.written not in _BARRIERS


def _score(
    phrase: Phrase, match: Match, words: Sequence[Token], extra: Sequence[int], negated: bool, index: SearchIndex
) -> float | None:
    """Weigh how whole the phrase is found, and how much of the clause it explains."""
    content = [stem for stem in phrase.stems if stem not in (NO, FINE)]
    if all(_GEAR_OR_CODE.match(stem) for stem in content):
        return None
    said = match.stems
    here = [stem for stem in content if stem in said]
    coverage = match.coverage
    if negated and NO in phrase.stems and NO not in said:
        whole = sum(index.telling(stem) for stem in content)
        coverage = sum(index.telling(stem) for stem in here) / whole if whole else 0.0
    if coverage < _LEAST_COVERED or (len(content) > 1 and len(here) < 2) or not here:
        return None
    start, end = _segment(match.places, words)
    total = sum(index.telling(token.stem) for token in words[start:end] if not token.is_light)
    explained = sum(index.telling(words[place].stem) or 1.0 for place in {*match.places, *extra})
    share = min(1.0, explained / total) if total else 0.0
    return phrase.weight * coverage * match.tightness * _agreement(phrase, match, words) * (_BASE + _EXPLAINED * share)


def _is_denied(no_place: int, instance_places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether a "no" speaks of the gear or shift that is named: "no fourth gear"."""
    if not instance_places or instance_places[0] < no_place:
        return False
    return all(words[place].is_light for place in range(no_place + 1, instance_places[0]))


def _segment(places: Sequence[int], words: Sequence[Token]) -> tuple[int, int]:
    """Find the part of the clause, from one "and" or "then" to the next, that the words stand in."""
    start, end = min(places), max(places) + 1
    while start > 0 and words[start - 1].written not in _JOINTS:
        start -= 1
    while end < len(words) and words[end].written not in _JOINTS:
        end += 1
    return start, end


def _agreement(phrase: Phrase, match: Match, words: Sequence[Token]) -> float:
    """Doubt a phrase of which only one word tells something, unless its light words stand there too."""
    light = {token.stem for token in phrase.tokens if token.is_light}
    if len(phrase.stems) > 1 or not light:
        return 1.0
    near = range(max(0, match.places[0] - 2), min(len(words), match.places[0] + 3))
    agreeing = len(light & {words[place].stem for place in near})
    return _ONE_WORD + (1 - _ONE_WORD) * agreeing / len(light)


def _instance(each: str | None, words: Sequence[Token]) -> tuple[str | None, tuple[int, ...]]:
    """Find the gear or shift that the clause speaks of."""
    if each not in ("gear", "shift"):
        return None, ()
    for place, token in enumerate(words):
        shift = _SHIFT.fullmatch(token.stem)
        if shift and each == "shift":
            return f"{shift[1]}_{shift[2]}", (place,)
        gear = _GEAR.fullmatch(token.stem)
        if gear and each == "gear":
            return gear[1], (place,)
        if gear and each == "shift":
            instance = _shift_into(int(gear[1]), place, words)
            if instance is not None:
                return instance, (place,)
        if token.stem == "revers" and each == "gear":
            return "r", (place,)
    return None, ()


def _shift_into(gear: int, place: int, words: Sequence[Token]) -> str | None:
    """Make the shift of "into second": from the gear below, or from above where the vehicle slows."""
    if any(token.stem in _SLOWING for token in words):
        return f"{gear + 1}_{gear}"
    before = words[place - 1].written if place else ""
    if before == "in":
        return None
    if before in ("from", "of"):
        return f"{gear}_{gear + 1}"
    return f"{gear - 1}_{gear}" if gear > 1 else None


def _answer(
    entry: Entry, phrase: Phrase, match: Match, words: Sequence[Token], negated: bool, knowledge: Knowledge
) -> str | None:
    said = [words[place] for place in match.places]
    if entry.kind == "background":
        return _background_answer(knowledge.backgrounds[entry.id], phrase, words, negated)
    finding = knowledge.findings[entry.id]
    if "yes" in finding.grades:
        return _NO_YES[not negated]
    if negated or FINE in {token.stem for token in said}:
        return finding.grades[0]
    return _grade(finding, said, words)


def _grade(finding: Finding, said: Sequence[Token], words: Sequence[Token]) -> str | None:
    """Choose the grade whose name or label the words speak of.

    Words of the finding's own label tell grades apart only if nothing else does; then those of the phrase count first.
    """
    own = {token.stem for token in split_words(finding.label)}
    for pool in ([token for token in words if token.stem not in own], said, words):
        marks = {grade: _likeness(grade, finding.grade_labels.get(grade, ""), pool) for grade in finding.grades}
        best = max(marks.values())
        if best > 0 and list(marks.values()).count(best) == 1:
            return next(grade for grade, mark in marks.items() if mark == best)
    return finding.grades[1] if len(finding.grades) == 2 else None


def _likeness(grade: str, label: str, pool: Sequence[Token]) -> float:
    """Count the words of a grade's name among those said; its label counts half."""
    said = {token.stem for token in pool if not token.is_light}
    names = split_words(grade.replace("_", " "))
    count = sum(token.stem in said for token in names) / len(names) if names else 0.0
    labels = [token.stem for token in split_words(label) if not token.is_light]
    count += sum(stem in said for stem in labels) / len(labels) / 2 if labels else 0.0
    whole = "".join(labels)
    near = any(len(stem) > 5 and count_slips(stem, whole, 2) <= 2 for stem in said)
    return count + (0.5 if near else 0.0)


def _background_answer(background: Background, phrase: Phrase, words: Sequence[Token], negated: bool) -> str | None:
    if "yes" in background.shares:
        return _NO_YES[not negated]
    pool = [*phrase.tokens, *words]
    said = {token.stem for token in pool if not token.is_light}
    marks = {}
    for answer in background.shares:
        labels = split_words(f"{answer.replace('_', ' ')} {background.grade_labels.get(answer, '')}")
        marks[answer] = sum(token.stem in said for token in labels if not token.is_light)
    best = max(marks.values(), default=0)
    chosen = [answer for answer, mark in marks.items() if mark == best]
    return chosen[0] if best and len(chosen) == 1 else None


def _weighed(found: list[_Found]) -> list[_Found]:
    """Lower what only repeats part of a better reading, and drop what contradicts one."""
    kept = []
    for one in found:
        covers = [other for other in found if one.places < other.places and other.candidate.score > one.candidate.score]
        if any(other.negated and not one.negated for other in covers):
            continue
        kept.append(_lowered(one) if covers else one)
    return kept


def _lowered(found: _Found) -> _Found:
    old = found.candidate
    score = round(old.score * _INSIDE_ANOTHER, 4)
    candidate = Candidate(old.kind, old.id, old.label, old.instance, old.answer, score, old.matched, old.code)
    return _Found(candidate, found.clause, found.places, found.negated)


def _merged(found: list[_Found]) -> list[Candidate]:
    """Keep the best reading of each finding, best first, then in the order said."""
    best: dict[tuple[str, str, str | None], _Found] = {}
    for one in found:
        key = one.candidate.kind, one.candidate.id, one.candidate.instance
        if key not in best or one.candidate.score > best[key].candidate.score:
            best[key] = one
    ranked = sorted(best.values(), key=_rank)
    return [one.candidate for one in ranked if one.candidate.score >= _LEAST_SCORE]


def _rank(found: _Found) -> tuple[float, int, int, str]:
    return -found.candidate.score, found.clause, min(found.places), found.candidate.id
