"""Read what somebody says of a vehicle into answers, which a person then confirms.

Real reports are partial, mix several things in one sentence, and say what does not happen as often as
what does: "bangs into second when hot, fine when cold, no codes".
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from shiftlore.knowledge import Knowledge
from shiftlore.words.negation import (
    find_denial,
    follows_another_fine,
    guessed_from,
    is_beside,
    is_fine,
    is_lifted,
    is_limited,
    is_past,
    is_remote,
    is_working,
    names_code,
    names_new_part,
    speaks_of_how,
    speaks_of_where,
    wanted_from,
)
from shiftlore.words.phrase_index import (
    Entry,
    KnownPhrase,
    PhraseFit,
    SearchIndex,
    Spots,
    build_index,
    find_spots,
    match_phrase,
)
from shiftlore.words.said_answers import NO_YES, Named, choose_named, find_named, give_answer
from shiftlore.words.vocabulary import BAD, FINE, NO, UNCURED, Token, Vocabulary

KINDS_SAID = ("finding", "background")
# Ways to get a finding that nobody tries in passing.
_ON_THE_BENCH = frozenset({"scan", "measure", "open"})


@dataclass(frozen=True, slots=True)
class SaidAnswer:
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
    """An answer with the places of its words, to weigh it against others of the same clause."""

    said: SaidAnswer
    clause: int
    places: frozenset[int]
    negated: bool
    denial: int | None = None
    own_no: int | None = None
    is_condition: bool = False


def read_free_text(
    knowledge: Knowledge,
    sentence: str,
    index: SearchIndex | None = None,
    most: int = 12,
    among: Collection[str] | None = None,
) -> list[SaidAnswer]:
    """Read a sentence into the answers that it seems to give.

    Args:
        knowledge: the knowledge; index: its index, where many sentences are read.
        sentence: what was said, in plain words.
        most: give at most so many.
        among: ids of the findings and backgrounds that the unit has; None means all.
    Returns: answers, best first; each finding (with its instance) once.
    """
    index = build_index(knowledge, KINDS_SAID) if index is None else index
    found: list[_Found] = []
    for number, text in enumerate(_clauses(sentence, index.vocabulary)):
        words = index.read(text)
        named = {each: find_named(each, words) for each in ("gear", "shift")}
        clause = _Clause(number, words, find_spots(words, index.vocabulary), named, knowledge, index)
        here = _settled([one for one in (*_codes(clause), *_entries(clause)) if _is_stated(one, clause)], clause)
        known = [one for one in here if among is None or one.said.id in among]
        found += _weighed(known, clause.weight("inside_another"))
    return _merged(found, index.vocabulary.weights["least_score"])[:most]


@dataclass(frozen=True, slots=True)
class _Clause:
    """One clause of the sentence: its words, where each stem stands, and the gears and shifts that it names."""

    number: int
    words: Sequence[Token]
    spots: Spots
    named: dict[str, Named]
    knowledge: Knowledge
    index: SearchIndex

    def weight(self, name: str) -> float:
        """Give a weight of the language."""
        return self.index.vocabulary.weights[name]


def _clauses(sentence: str, vocabulary: Vocabulary) -> list[str]:
    """Take the sentence apart; a clause that only says "all ok" or "no help" belongs to the one before."""
    clauses: list[str] = []
    before: list[Token] = []
    for clause in vocabulary.split_clauses(sentence):
        tokens = vocabulary.split(clause)
        telling = [token for token in tokens if not token.is_light]
        if clauses and (_is_verdict(telling) or _denies_codes(before, telling)):
            clauses[-1] += f" {clause}"
        elif telling:
            is_renewed = any(token.has("renewed") for token in before)
            if clauses and tokens[0].has("still") and is_renewed and UNCURED not in _stems(before):
                clauses[-1] += f" {UNCURED}"
            clauses.append(clause)
            before = telling
    return clauses


def _stems(tokens: Collection[Token]) -> set[str]:
    return {token.stem for token in tokens}


def _is_verdict(telling: list[Token]) -> bool:
    """Tell whether a clause only says how the one before came out."""
    stems = _stems(telling)
    if not stems & {FINE, UNCURED}:
        return stems == {NO}
    return all(token.has("verdicts") or token.stem in (FINE, BAD, UNCURED) for token in telling)


def _denies_codes(before: list[Token], telling: list[Token]) -> bool:
    """Tell whether a clause denies the codes of a scan that the one before speaks of."""
    if NO not in _stems(telling) or not any(token.has("code") for token in telling):
        return False
    return any(token.has("scans") for token in before) and not any(token.has("scans") for token in telling)


def _codes(clause: _Clause) -> Iterator[_Found]:
    """Take trouble codes by their names."""
    for place, token in enumerate(clause.words):
        code = clause.knowledge.codes.get(token.stem)
        finding = clause.knowledge.findings.get(code.finding) if code is not None else None
        if code is None or finding is None:
            continue
        negated = find_denial((place,), clause.words, False, clause.weight("most_between")) is not None
        about = KINDS_SAID[0], finding.id, finding.label, code.instance
        said = SaidAnswer(*about, NO_YES[not negated], score=1.0, matched=(token.written,), code=code.code)
        yield _Found(said, clause.number, frozenset({place}), negated)


def _entries(clause: _Clause) -> Iterator[_Found]:
    """Try every finding and background that shares a telling word with the clause."""
    stems = _stems([token for token in clause.words if not token.is_light])
    if any(">" in stem for stem in stems):
        stems |= clause.index.vocabulary.stems("shift")
    for position in sorted({entry for stem in stems for entry in clause.index.by_stem.get(stem, ())}):
        if clause.index.entries[position].kind in KINDS_SAID:
            yield from _best(clause.index.entries[position], clause)


@dataclass(frozen=True, slots=True)
class _Denial:
    """Whether a phrase is denied, and by which word (None: by a "fine")."""

    negated: bool
    place: int | None = None


@dataclass(frozen=True, slots=True)
class _Reading:
    """One phrase found in the clause, with the gears or shifts that it speaks of."""

    score: float
    fit: PhraseFit
    phrase: KnownPhrase
    denial: _Denial
    named: Named


def _best(entry: Entry, clause: _Clause) -> Iterator[_Found]:
    """Take the phrase that fits best, once for each gear or shift that it speaks of."""
    best: _Reading | None = None
    words, knowledge = clause.words, clause.knowledge
    is_condition = entry.kind == KINDS_SAID[0] and knowledge.findings[entry.id].speaks_of == "when"
    for phrase in entry.phrases:
        fit = match_phrase(phrase, words, clause.index, clause.spots)
        if fit is None or _lacks_essential(phrase, clause, entry.kind):
            continue
        reading = _weigh_reading(phrase, fit, clause, clause.named.get(entry.each or "", []), is_condition)
        if reading is not None and (best is None or _is_better(reading, best)):
            best = reading
    if best is None or best.score < clause.weight("least_score"):
        return
    if best.denial.negated and not best.named and entry.each is not None:
        return
    instances: list[tuple[str | None, int | None]] = [*best.named] or [(None, None)]
    answer = give_answer(
        entry,
        best.phrase,
        said=[words[place] for place in best.fit.places],
        words=words,
        negated=best.denial.negated,
        knowledge=knowledge,
        vocabulary=clause.index.vocabulary,
    )
    own_no = _own_no(best.fit, words)
    for instance, place in instances:
        places = frozenset(best.fit.places if place is None else {*best.fit.places, place})
        matched = tuple(words[spot].written for spot in sorted(places))
        said = SaidAnswer(entry.kind, entry.id, entry.label, instance, answer, round(best.score, 4), matched)
        yield _Found(said, clause.number, places, best.denial.negated, best.denial.place, own_no, is_condition)


def _is_better(one: _Reading, best: _Reading) -> bool:
    """Prefer the higher score, but a denial of more words to a part of them: "fuse not blown"."""
    for wider, part, is_better in ((one, best, True), (best, one, False)):
        if wider.denial.negated and not part.denial.negated and set(part.fit.places) < set(wider.fit.places):
            return is_better
    return one.score > best.score


def _weigh_reading(
    phrase: KnownPhrase, fit: PhraseFit, clause: _Clause, named: Named, is_condition: bool
) -> _Reading | None:
    """Weigh one phrase; None where it does not say this."""
    denial = _polarity(phrase, fit, clause, is_condition, bool(named))
    if denial is None:
        return None
    chain = choose_named(fit.places, named, clause.words)
    extra = [place for _, place in chain]
    score = None
    if phrase.stems != (NO,):
        score = _score(phrase, fit, clause, extra, denial)
    elif _is_denied(fit.places[0], extra, clause.words):
        score = phrase.weight * clause.weight("denied")
    return None if score is None else _Reading(score, fit, phrase, denial, chain)


def _own_no(fit: PhraseFit, words: Sequence[Token]) -> int | None:
    """Give the place of the "no" that belongs to the phrase itself."""
    return next((place for place in fit.places if words[place].stem == NO), None)


def _lacks_essential(phrase: KnownPhrase, clause: _Clause, kind: str) -> bool:
    """Tell whether a light word is missing that the phrase cannot do without, such as "after" or "only"."""
    words = clause.words
    if phrase.essential and any({word.written for word in words}.isdisjoint(others) for others in phrase.essential):
        return True
    is_work = kind != KINDS_SAID[0] and "renewed" in phrase.roles
    if is_work and not any(word.has("renewed") for word in words):
        return True
    return len(phrase.stems) > 1 and "code" in phrase.roles and not names_code(words)


def _polarity(
    phrase: KnownPhrase, fit: PhraseFit, clause: _Clause, is_condition: bool, has_named: bool
) -> _Denial | None:
    """Say whether the clause denies the phrase; None where the phrase's own "no" or "fine" is not said at all."""
    words, said = clause.words, fit.stems
    missing = {NO, FINE} & set(phrase.stems) - said
    if missing:
        is_sound = missing == {NO} and is_beside(fit.places, words, is_working)
        return _Denial(True) if is_sound else None
    own_no, denial = _own_no(fit, words), None
    if own_no is None:
        denial = find_denial(fit.places, words, is_condition, clause.weight("most_between"))
    elif speaks_of_where(own_no, words, phrase.tokens) or speaks_of_how(fit.places, words):
        return None
    if denial is not None:
        here = _stems(words)
        if any(token.has("going") and token.stem not in here for token in phrase.tokens):
            return None
        is_bound = not is_condition and is_limited(fit.places, words) and not has_named
        return None if is_bound or is_lifted(fit.places, words) else _Denial(True, denial)
    if FINE in said or BAD in said:
        return _Denial(False)
    if follows_another_fine(fit.places, words):
        return None
    return _Denial(is_beside(fit.places, words, is_fine))


def _score(phrase: KnownPhrase, fit: PhraseFit, clause: _Clause, extra: Sequence[int], denial: _Denial) -> float | None:
    """Weigh how whole the phrase is found, and how much of the clause it explains."""
    words, said, telling = clause.words, fit.stems, clause.index.telling
    if any(stem not in said for stem in phrase.stems if stem == UNCURED or stem[0] == "#"):
        return None
    content = [stem for stem in phrase.stems if stem not in (NO, FINE, UNCURED)]
    places = [place for place in fit.places if words[place].stem not in (NO, FINE)]
    if all(words[place].is_instance for place in places):
        return None
    here = [stem for stem in content if stem in said]
    coverage = fit.coverage
    is_sound = False
    if denial.negated and denial.place is None:
        faults = _stems([token for token in phrase.telling if token.has("faults")])
        is_sound = not said >= {NO, *faults} & set(phrase.stems)
        content = [stem for stem in content if stem in said or not is_sound or stem not in faults]
    if is_sound or UNCURED in phrase.stems:
        whole = sum(telling(stem) for stem in content)
        coverage = sum(telling(stem) for stem in here) / whole if whole else 0.0
    if coverage < clause.weight("least_covered") or (len(content) > 1 and len(here) < 2) or not here:
        return None
    start, end = _segment(fit.places, words)
    total = sum(telling(token.stem) for token in words[start:end] if not token.is_light)
    explained = sum(telling(words[place].stem) or 1.0 for place in {*fit.places, *extra})
    share = min(1.0, explained / total) if total else 0.0
    worth = clause.weight("base") + clause.weight("share") * share
    return phrase.weight * coverage * fit.tightness * _agreement(phrase, fit, clause, extra) * worth


def _is_denied(no_place: int, instance_places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether a "no" speaks of the gear or shift that is named: "no fourth gear"."""
    if not instance_places or instance_places[0] < no_place:
        return False
    return all(words[place].is_light for place in range(no_place + 1, instance_places[0]))


def _segment(places: Sequence[int], words: Sequence[Token]) -> tuple[int, int]:
    """Find the part of the clause, from one "and" or "then" to the next, that the words stand in."""
    start, end = min(places), max(places) + 1
    while start > 0 and not words[start - 1].has("joints"):
        start -= 1
    while end < len(words) and not words[end].has("joints"):
        end += 1
    return start, end


def _agreement(phrase: KnownPhrase, fit: PhraseFit, clause: _Clause, extra: Sequence[int]) -> float:
    """Doubt a phrase of which only one word tells something, unless its light words or a gear stand there too."""
    words, one_word = clause.words, clause.weight("one_word")
    light = phrase.light
    if not light or sum(stem != UNCURED for stem in phrase.stems) > 1:
        return 1.0
    if any(abs(place - spot) <= clause.weight("near") for place in extra for spot in fit.places):
        return 1.0
    near = range(max(0, fit.places[0] - 2), min(len(words), fit.places[0] + 3))
    agreeing = len(light & {words[place].stem for place in near})
    is_general = bool(light & clause.index.vocabulary.stems("unit_nouns")) or phrase.telling[0].has("bare")
    return 0.0 if not agreeing and is_general else one_word + (1 - one_word) * agreeing / len(light)


def _is_stated(found: _Found, clause: _Clause) -> bool:
    """Leave out what is only guessed, what is still to be done, what used to be, and parts that were only renewed."""
    words, first = clause.words, min(found.places)
    if found.said.code is not None:
        return True
    if first > guessed_from(words):
        return False
    if found.said.kind != KINDS_SAID[0]:
        if found.denial is not None and "yes" not in clause.knowledge.backgrounds[found.said.id].shares:
            return False
        return first <= wanted_from(words)
    finding = clause.knowledge.findings[found.said.id]
    if finding.got_by in _ON_THE_BENCH and first > wanted_from(words):
        return False
    if is_past(tuple(found.places), words):
        return False
    return finding.got_by not in _ON_THE_BENCH or not names_new_part(words) or finding.none_by is not None


def _settled(found: list[_Found], clause: _Clause) -> list[_Found]:
    """Give each "no" to one statement: "will not crank sometimes" says no word against sometimes."""
    words, sure = clause.words, clause.weight("sure")
    used = {one.own_no for one in found if one.own_no is not None and one.said.score >= sure}
    denying = {
        one.denial: one.said.score
        for one in sorted(found, key=lambda one: one.said.score)
        if one.denial is not None and not is_remote(one.denial, tuple(one.places), words)
    }
    kept = []
    for one in found:
        if one.own_no in denying and one.said.score < min(sure, denying[one.own_no]):
            continue
        denial = one.denial
        if denial is None or not is_remote(denial, tuple(one.places), words, one.is_condition):
            kept.append(one)
        elif one.is_condition and denial in used:
            said = replace(one.said, answer="yes" if one.said.answer in NO_YES else None)
            kept.append(replace(one, said=said, negated=False))
        elif not one.is_condition and one.said.kind == KINDS_SAID[0] and denial not in used:
            kept.append(one)
    return _ask_which_code(kept, clause)


def _ask_which_code(found: list[_Found], clause: _Clause) -> list[_Found]:
    """Give no answer where the same words name several codes."""
    findings, sure = clause.knowledge.findings, clause.weight("sure")
    heard = [
        one for one in found if one.said.kind == KINDS_SAID[0] and one.said.code is None and one.said.score >= sure
    ]
    codes = [one for one in heard if findings[one.said.id].speaks_of == "one_code"]
    named = {(one.said.id, one.places) for one in codes}
    doubtful = {
        one.said.id
        for one in codes
        if not one.negated and any(places == one.places and name != one.said.id for name, places in named)
    }
    return [replace(one, said=replace(one.said, answer=None)) if one.said.id in doubtful else one for one in found]


def _weighed(found: list[_Found], inside: float) -> list[_Found]:
    """Lower what only repeats part of a better reading, and drop what contradicts one."""
    kept = []
    for one in found:
        covers = [other for other in found if one.places < other.places and other.said.score > one.said.score]
        if not any(other.negated and not one.negated for other in covers):
            lower = replace(one.said, score=round(one.said.score * inside, 4))
            kept.append(replace(one, said=lower) if covers else one)
    return kept


def _merged(found: list[_Found], least: float) -> list[SaidAnswer]:
    """Keep the best reading of each finding, best first, then in the order said."""
    best: dict[tuple[str, str, str | None], _Found] = {}
    for one in found:
        key = one.said.kind, one.said.id, one.said.instance
        if key not in best or one.said.score > best[key].said.score:
            best[key] = one
    ranked = sorted(best.values(), key=lambda one: (-one.said.score, one.clause, min(one.places), one.said.id))
    return [one.said for one in ranked if one.said.score >= least]
