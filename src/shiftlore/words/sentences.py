"""Read what somebody says of a vehicle into candidate answers, which a person then confirms.

Real reports are partial, mix several things in one sentence, and say what does not happen as often as
what does: "bangs into second when hot, fine when cold, no codes".
"""

import re
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace

from shiftlore.knowledge.records import Knowledge
from shiftlore.words.negation import (
    JOINTS,
    find_denial,
    follows_another_fine,
    guessed_from,
    is_beside,
    is_lifted,
    is_limited,
    is_past,
    is_remote,
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
from shiftlore.words.tokens import BAD, FINE, NO, UNCURED, Token, split_words

_KINDS = ("finding", "background")
_CONDITIONS = "conditions"
_CLAUSE_END = re.compile(r"[;!?:\n]|[.](?!\d)|,(?!\d)|\b(?:but|however|although|though|except|plus)\b", re.IGNORECASE)
# A clause of nothing but these belongs to the one before: "all ok", "no help", "found none".
_VERDICTS = frozenset({FINE, BAD, UNCURED, "all", "both", "found"})
_RENEWED = frozenset({"replac", "chang", "new", "flush", "fit", "swap", "renew", "servic", "instal", "rebuilt"})
_WORKS = frozenset({FINE, "work"})
# A thing that is in order has no fault: "wiring good" denies "wiring fault".
_FAULTS = frozenset({"fault", BAD, "damag", "weak", "poor", "fail"})
# Light words that a phrase cannot do without, and what else says the same.
_ESSENTIAL = {"after": {"after", "since", "following"}, "since": {"after", "since", "following"}}
_ESSENTIAL |= {
    "than": {"than"},
    "shortly": {"shortly", "just", "recently", "before"},
    "only": {"only", "just"},
    "until": {"until", "till"},
}
_UNIT_NOUNS = frozenset({"transmission", "trans", "gearbox", "unit", "tranny", "gone", "go"})
_CODE = "cod"
_ON_THE_BENCH = frozenset({"scan", "measure", "open"})
_CODES = frozenset({"codes_circuit", "codes_module"})
_SURE = 0.55
# What has stopped is said with a "no" too: "does not shudder when unplugged".
_GOING = frozenset({"gone", "goes", "stops", "stopped", "disappears", "away", "cures"})
_NEAR = 3
_BARE = frozenset({"wors", "all", "cold", "bang", _CODE})
_LEAST_COVERED, _LEAST_SCORE = 0.64, 0.3
_BASE, _EXPLAINED = 0.55, 0.45
_INSIDE_ANOTHER = 0.75
_ONE_WORD = 0.55
_DENIED = 0.9
# Gears and codes name an instance; alone they describe nothing.
_GEAR_OR_CODE = re.compile(r"#|[PBCU][0-3]")


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
    """A candidate with the places of its words, to weigh it against others of the same clause."""

    candidate: SaidAnswer
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
        here = _settled([one for one in here if _is_stated(one, words, knowledge)], words, knowledge)
        found += _weighed([one for one in here if among is None or one.candidate.id in among])
    return _merged(found)[:most]


def _clauses(sentence: str) -> list[str]:
    """Take the sentence apart; a clause that only says "all ok" or "no help" belongs to the one before."""
    clauses: list[str] = []
    before: set[str] = set()
    for clause in _CLAUSE_END.split(sentence):
        tokens = split_words(clause)
        stems = {token.stem for token in tokens if not token.is_light}
        is_verdict = (stems & {FINE, UNCURED} and stems <= _VERDICTS) or stems == {NO}
        if (clauses and is_verdict) or (
            clauses and NO in stems and _CODE in stems and "scan" in before and "scan" not in stems
        ):
            clauses[-1] += " " + clause
        elif stems:
            if clauses and tokens[0].written == "still" and before & _RENEWED and UNCURED not in before:
                clauses[-1] += " " + UNCURED
            clauses.append(clause)
            before = stems
    return clauses


def _codes(words: Sequence[Token], number: int, knowledge: Knowledge) -> Iterator[_Found]:
    """Take trouble codes by their names."""
    for place, token in enumerate(words):
        code = knowledge.codes.get(token.stem)
        finding = knowledge.findings.get(code.finding) if code is not None else None
        if code is None or finding is None:
            continue
        negated = find_denial((place,), words, is_condition=False) is not None
        candidate = SaidAnswer(
            "finding", finding.id, finding.label, code.instance, NO_YES[not negated], 1.0, (token.written,), code.code
        )
        yield _Found(candidate, number, frozenset({place}), negated)


def _entries(words: Sequence[Token], number: int, knowledge: Knowledge, index: SearchIndex) -> Iterator[_Found]:
    """Try every finding and background that shares a telling word with the clause."""
    stems = {token.stem for token in words if not token.is_light}
    if any(">" in stem for stem in stems):
        stems.add("shift")
    near = sorted({entry for stem in stems for entry in index.by_stem.get(stem, ())})
    spots = find_spots(words)
    named = {each: find_named(each, words) for each in ("gear", "shift")}
    for position in near:
        entry = index.entries[position]
        if entry.kind in _KINDS:
            yield from _best(entry, words, number, knowledge, index, spots, named.get(entry.each or "", []))


@dataclass(frozen=True, slots=True)
class _Reading:
    """One phrase found in the clause, with the gears or shifts that it speaks of."""

    score: float
    match: PhraseFit
    phrase: KnownPhrase
    denial: "_Denial"
    named: Named


@dataclass(frozen=True, slots=True)
class _Denial:
    """Whether a phrase is denied, and by which word (None: by a "fine")."""

    negated: bool
    place: int | None = None


def _best(
    entry: Entry,
    words: Sequence[Token],
    number: int,
    knowledge: Knowledge,
    index: SearchIndex,
    spots: Spots,
    named: Named,
) -> Iterator[_Found]:
    """Take the phrase that fits best, once for each gear or shift that it speaks of."""
    best: _Reading | None = None
    is_condition = entry.kind == "finding" and knowledge.findings[entry.id].group == _CONDITIONS
    for phrase in entry.phrases:
        match = match_phrase(phrase, words, index, spots)
        if match is None or _lacks_essential(phrase, words, entry.kind):
            continue
        reading = _weigh_reading(phrase, match, words, named, is_condition, index)
        if reading is not None and (best is None or _is_better(reading, best)):
            best = reading
    if best is None or best.score < _LEAST_SCORE:
        return
    if best.denial.negated and not best.named and entry.each is not None:
        return
    instances: list[tuple[str | None, int | None]] = [*best.named] or [(None, None)]
    answer = give_answer(
        entry, best.phrase, [words[place] for place in best.match.places], words, best.denial.negated, knowledge
    )
    own_no = _own_no(best.match, words)
    for instance, place in instances:
        places = frozenset(best.match.places if place is None else {*best.match.places, place})
        matched = tuple(words[spot].written for spot in sorted(places))
        candidate = SaidAnswer(entry.kind, entry.id, entry.label, instance, answer, round(best.score, 4), matched)
        yield _Found(candidate, number, places, best.denial.negated, best.denial.place, own_no, is_condition)


def _is_better(one: _Reading, best: _Reading) -> bool:
    """Prefer the higher score, but a denial of more words to a part of them: "fuse not blown"."""
    for wider, part, is_better in ((one, best, True), (best, one, False)):
        if wider.denial.negated and not part.denial.negated and set(part.match.places) < set(wider.match.places):
            return is_better
    return one.score > best.score


def _weigh_reading(
    phrase: KnownPhrase,
    match: PhraseFit,
    words: Sequence[Token],
    named: Named,
    is_condition: bool,
    index: SearchIndex,
) -> _Reading | None:
    """Weigh one phrase; None where it does not say this."""
    denial = _polarity(phrase, match, words, is_condition, named)
    if denial is None:
        return None
    chain = choose_named(match.places, named, words)
    if phrase.stems == (NO,):
        extra = tuple(place for _, place in chain)
        score = phrase.weight * _DENIED if _is_denied(match.places[0], extra, words) else None
    else:
        score = _score(phrase, match, words, [place for _, place in chain], denial, index)
    return None if score is None else _Reading(score, match, phrase, denial, chain)


def _own_no(match: PhraseFit, words: Sequence[Token]) -> int | None:
    """Give the place of the "no" that belongs to the phrase itself."""
    return next((place for place in match.places if words[place].stem == NO), None)


def _lacks_essential(phrase: KnownPhrase, words: Sequence[Token], kind: str) -> bool:
    """Tell whether a light word is missing that the phrase cannot do without, such as "after" or "only"."""
    needed = [_ESSENTIAL[token.written] for token in phrase.tokens if token.written in _ESSENTIAL]
    if needed and not all(others & {word.written for word in words} for others in needed):
        return True
    if kind == "background" and _RENEWED & set(phrase.stems) and not _RENEWED & {word.stem for word in words}:
        return True
    return _CODE in phrase.stems and len(phrase.stems) > 1 and not names_code(words)


def _polarity(
    phrase: KnownPhrase, match: PhraseFit, words: Sequence[Token], is_condition: bool, named: Named
) -> _Denial | None:
    """Say whether the clause denies the phrase; None where the phrase's own "no" or "fine" is not said at all."""
    said = match.stems
    missing = {NO, FINE} & set(phrase.stems) - said
    if missing:
        is_sound = missing == {NO} and is_beside(match.places, words, _WORKS)
        return _Denial(True) if is_sound else None
    own_no = _own_no(match, words)
    if own_no is not None:
        if speaks_of_where(own_no, words, phrase.tokens) or speaks_of_how(match.places, words):
            return None
        denial = None
    else:
        denial = find_denial(match.places, words, is_condition)
    if denial is not None:
        here = {word.stem for word in words}
        if any(token.written in _GOING and token.stem not in here for token in phrase.tokens):
            return None
        is_bound = not is_condition and is_limited(match.places, words) and not named
        return None if is_bound or is_lifted(match.places, words) else _Denial(True, denial)
    if FINE in said or BAD in said:
        return _Denial(False)
    if follows_another_fine(match.places, words):
        return None
    return _Denial(is_beside(match.places, words, frozenset({FINE})))


def _score(
    phrase: KnownPhrase,
    match: PhraseFit,
    words: Sequence[Token],
    extra: Sequence[int],
    denial: _Denial,
    index: SearchIndex,
) -> float | None:
    """Weigh how whole the phrase is found, and how much of the clause it explains."""
    if any(stem not in match.stems for stem in phrase.stems if stem == UNCURED or stem[0] == "#"):
        return None
    content = [stem for stem in phrase.stems if stem not in (NO, FINE, UNCURED)]
    places = [place for place in match.places if words[place].stem not in (NO, FINE)]
    if all(_GEAR_OR_CODE.match(words[place].stem) for place in places):
        return None
    said = match.stems
    here = [stem for stem in content if stem in said]
    coverage = match.coverage
    is_sound = denial.negated and denial.place is None and (set(phrase.stems) - said) & {NO, *_FAULTS}
    if is_sound:
        content = [stem for stem in content if stem in said or stem not in _FAULTS]
    if is_sound or UNCURED in phrase.stems:
        whole = sum(index.telling(stem) for stem in content)
        coverage = sum(index.telling(stem) for stem in here) / whole if whole else 0.0
    if coverage < _LEAST_COVERED or (len(content) > 1 and len(here) < 2) or not here:
        return None
    start, end = _segment(match.places, words)
    total = sum(index.telling(token.stem) for token in words[start:end] if not token.is_light)
    explained = sum(index.telling(words[place].stem) or 1.0 for place in {*match.places, *extra})
    share = min(1.0, explained / total) if total else 0.0
    return (
        phrase.weight
        * coverage
        * match.tightness
        * _agreement(phrase, match, words, extra)
        * (_BASE + _EXPLAINED * share)
    )


def _is_denied(no_place: int, instance_places: Sequence[int], words: Sequence[Token]) -> bool:
    """Tell whether a "no" speaks of the gear or shift that is named: "no fourth gear"."""
    if not instance_places or instance_places[0] < no_place:
        return False
    return all(words[place].is_light for place in range(no_place + 1, instance_places[0]))


def _segment(places: Sequence[int], words: Sequence[Token]) -> tuple[int, int]:
    """Find the part of the clause, from one "and" or "then" to the next, that the words stand in."""
    start, end = min(places), max(places) + 1
    while start > 0 and words[start - 1].written not in JOINTS:
        start -= 1
    while end < len(words) and words[end].written not in JOINTS:
        end += 1
    return start, end


def _agreement(phrase: KnownPhrase, match: PhraseFit, words: Sequence[Token], extra: Sequence[int]) -> float:
    """Doubt a phrase of which only one word tells something, unless its light words or a gear stand there too."""
    light = {token.stem for token in phrase.tokens if token.is_light}
    if sum(stem != UNCURED for stem in phrase.stems) > 1 or not light:
        return 1.0
    if any(abs(place - spot) <= _NEAR for place in extra for spot in match.places):
        return 1.0
    near = range(max(0, match.places[0] - 2), min(len(words), match.places[0] + 3))
    agreeing = len(light & {words[place].stem for place in near})
    if not agreeing and (light & _UNIT_NOUNS or phrase.stems[0] in _BARE):
        return 0.0
    return _ONE_WORD + (1 - _ONE_WORD) * agreeing / len(light)


def _is_stated(found: _Found, words: Sequence[Token], knowledge: Knowledge) -> bool:
    """Leave out what is only guessed, what is still to be done, what used to be, and parts that were only renewed."""
    first = min(found.places)
    if found.candidate.code is not None:
        return True
    if first > guessed_from(words):
        return False
    if found.candidate.kind == "background":
        if found.denial is not None and "yes" not in knowledge.backgrounds[found.candidate.id].shares:
            return False
        return first <= wanted_from(words)
    finding = knowledge.findings[found.candidate.id]
    if finding.got_by in _ON_THE_BENCH and first > wanted_from(words):
        return False
    if is_past(tuple(found.places), words):
        return False
    return finding.got_by not in _ON_THE_BENCH or not names_new_part(words) or finding.group == "codes_read"


def _settled(found: list[_Found], words: Sequence[Token], knowledge: Knowledge) -> list[_Found]:
    """Give each "no" to one statement: "will not crank sometimes" says no word against sometimes."""
    used = {one.own_no for one in found if one.own_no is not None and one.candidate.score >= _SURE}
    denying = {
        one.denial: one.candidate.score
        for one in sorted(found, key=lambda one: one.candidate.score)
        if one.denial is not None and not is_remote(one.denial, tuple(one.places), words)
    }
    kept = []
    for one in found:
        if one.own_no in denying and one.candidate.score < min(_SURE, denying[one.own_no]):
            continue
        denial = one.denial
        if denial is None or not is_remote(denial, tuple(one.places), words, one.is_condition):
            kept.append(one)
        elif one.is_condition and denial in used:
            kept.append(_affirmed(one))
        elif not one.is_condition and one.candidate.kind == "finding" and denial not in used:
            kept.append(one)
    return _ask_which_code(kept, knowledge)


def _affirmed(found: _Found) -> _Found:
    candidate = replace(found.candidate, answer="yes" if found.candidate.answer in NO_YES else None)
    return replace(found, candidate=candidate, negated=False)


def _ask_which_code(found: list[_Found], knowledge: Knowledge) -> list[_Found]:
    """Give no answer where the same words name several codes."""
    codes = [
        one
        for one in found
        if one.candidate.kind == "finding"
        and one.candidate.code is None
        and one.candidate.score >= _SURE
        and knowledge.findings[one.candidate.id].group in _CODES
    ]
    doubtful = {
        one.candidate.id
        for one in codes
        for other in codes
        if one.candidate.id != other.candidate.id and one.places == other.places and not one.negated
    }
    return [
        replace(one, candidate=replace(one.candidate, answer=None)) if one.candidate.id in doubtful else one
        for one in found
    ]


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
    score = round(found.candidate.score * _INSIDE_ANOTHER, 4)
    return replace(found, candidate=replace(found.candidate, score=score))


def _merged(found: list[_Found]) -> list[SaidAnswer]:
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
