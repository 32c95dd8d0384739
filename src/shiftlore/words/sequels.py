"""What a later sentence makes of an earlier one: trouble that is over, a cure that did not last; and what tells nothing of the
vehicle, as it is said of another thing, or only guessed or heard.
"""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from shiftlore.knowledge import Background, Finding, Knowledge
from shiftlore.words.doubts import LOOKED_AT
from shiftlore.words.own_turns import NO, YES
from shiftlore.words.statements import SaidAnswer, Statement
from shiftlore.words.turns import TurnPhrase, Turns
from shiftlore.words.vocabulary import Token, Vocabulary

# What nobody tells without having looked, and what is had only with something taken apart.
_TAKEN_APART = "open"
_RANGE, _MOSTLY = 2, 0.5


def follow_up(
    knowledge: Knowledge, read: Sequence[tuple[Turns, list[Statement]]]
) -> Iterator[tuple[Sequence[Token], list[Statement]]]:
    """Leave out what a later sentence says to be over: "Clunk on taking up drive. Fitted a mount, clunk gone."; and say of
    what was tried that it helped for a time, where the trouble came back.

    Args:
        read: the turns of speech of each sentence, and its statements.
    """
    for place, (turns, found) in enumerate(read):
        gone = {stem for later, _ in read[place + 1 :] for stem in later.gone()}
        after = [one for later, _ in read[place + 1 : place + 2] for one in later.of("returned")]
        kept = [
            now for one in found if gone.isdisjoint(token.stem for token in one.words) for now in as_now(turns, one)
        ]
        yield turns.sentence, [came_back(knowledge, one, [*turns.of("returned"), *after]) for one in kept]


def as_now(turns: Turns, one: Statement) -> list[Statement]:
    """Give a statement as it is now: of what was, "was black, changed it, now red" tells no more than what was looked at."""
    key, _, grade = one.segment.label.partition(":")
    was = any(one.start <= phrase.start < one.end for phrase in turns.of("was"))
    now = next((phrase for phrase in turns.of("now") if phrase.start >= one.end), None)
    if not grade or not was or now is None:
        return [one]
    clauses = turns.clauses
    words = [token for token in turns.sentence if token.is_telling and clauses[token.start] == clauses[now.start]]
    for count in range(len(one.words) - 1, 0, -1):
        said = [*one.words[:count], *(token for token in words if not now.start <= token.start < now.end)]
        label = turns.again.label(said)
        if label.partition(":")[0] == key and turns.again.says_grade(said, label):
            answer, matched = label.partition(":")[2], tuple(token.written for token in said)
            answers = tuple(replace(same, answer=answer, matched=matched) for same in one.answers)
            return [replace(one, segment=replace(one.segment, label=label), answers=answers, words=tuple(said))]
    return []


def came_back(knowledge: Knowledge, one: Statement, returns: Sequence[TurnPhrase]) -> Statement:
    """Turn "replaced without cure" into "helped for a time" where the trouble is said to have come back after it.

    Args:
        returns: phrases that say so, in its sentence and in the next.
    """
    record = knowledge.backgrounds.get(one.segment.label.partition(":")[0])
    if (
        record is None
        or not (record.replaced or record.done)
        or not any(phrase.start > one.start for phrase in returns)
    ):
        return one
    _, *early = (answer for answer in record.shares if answer not in record.recent)  # in vain, and for a time
    instead = dict(zip(early[:1], early[1:2], strict=False))
    answers = [replace(answer, answer=instead.get(answer.answer, answer.answer)) for answer in one.answers]
    return replace(one, answers=tuple(answers))


def without_general(knowledge: Knowledge, answers: Sequence[SaidAnswer]) -> list[SaidAnswer]:
    """Leave out that there is none of a kind where one is said to be there: "no noise at all; whines in third"."""
    there = {one.template for one in answers if one.kind == "finding" and one.answer != NO}
    general = {key for key, finding in knowledge.findings.items() if not there.isdisjoint(finding.general_of)}
    while more := {key for key, one in knowledge.findings.items() if not general.isdisjoint(one.general_of)} - general:
        general |= more
    return [one for one in answers if one.answer != NO or one.template not in general]


def narrow(knowledge: Knowledge, answers: Sequence[SaidAnswer]) -> list[SaidAnswer]:
    """Take what says several at once for those of them that nobody denies: "no drive, reverse ok" lacks forward drive."""
    denied, said = {one.id for one in answers if one.answer == NO}, {one.id for one in answers}
    found = []
    for one in answers:
        record = knowledge.findings.get(one.template)
        parts = record.includes if record is not None and one.answer == YES else ()
        if denied.isdisjoint(parts):
            found.append(one)
            continue
        left = [knowledge.findings[key] for key in parts if key not in said]
        found += [replace(one, id=part.id, label=part.label, template=part.id) for part in left]
    return found


def is_untold(record: Finding | Background, label: str, answer: str, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words tell nothing of the vehicle: what could be so, what is another thing's, what is only guessed.

    Args:
        record: a finding, or what is asked of the life of the vehicle; label: the class that was read; answer: its answer.
    """
    if _says(turns, "may_cause", words):
        return True
    if isinstance(record, Background):
        broken = (*turns.of("broke", label), *turns.of("undergone", label))
        is_broken = any(words[0].start < one.end and one.start < words[-1].end for one in broken)
        said = [token for token in words if not turns.again.features.is_bare(token)]
        knows, renewed = turns.own.knows if turns.own else None, turns.vocabulary.words_of("renewed")
        is_named = knows is not None and not any(knows(record.id, one) for one in said)
        is_idle = not any(token.written.lower() in renewed for token in words)
        is_heard = (bool(record.replaced) and (is_named or is_idle)) and any(
            _says(turns, role, words) for role in ("supposes", "could_be", "told_by")
        )
        is_denied = any(token.kind == "no" for token in words) and bool(turns.of("does_so"))
        is_less = _is_too_short(record, words, turns.vocabulary) or _is_only_dated(words, turns)
        return is_broken or is_heard or is_denied or is_less or _is_work_elsewhere(label, words, turns)
    own = turns.own
    is_turned = answer == YES and own is not None and own.is_turned(record.id, words, turns.sentence)
    is_other = is_turned or (own is not None and own.is_of_other_gear(record.id, words))
    is_other = is_other or (not record.condition and _is_of_another(label, words, turns))
    is_other = is_other or _is_only_where_or_when(words, turns) or _is_past(label, words, turns)
    is_other = is_other or (record.condition is not None and _is_when_done(words, turns))
    is_other = is_other or (answer != NO and _is_refuted(words, turns))
    is_other = is_other or _is_out_of_range(record, words, turns.vocabulary) or _is_habit(record, words, turns)
    return (
        is_other
        or _is_only_heard(record, answer, words, turns)
        or (answer == YES and (_is_of_work(record, label, words, turns) or _is_part_renewed(words, turns)))
    )


def _is_only_dated(words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words say no more than since when there is trouble: "started two weeks ago"; or of a code."""
    dated, of_code = turns.vocabulary.words_of("dated"), turns.vocabulary.words("beside_signs")
    is_code = any(token.kind == "code" for token in turns.sentence)
    said = [one.written.lower() for one in words if one.kind != "amount"]
    return any(one in dated for one in said) and all(one in dated or (is_code and one in of_code) for one in said)


def _is_when_done(words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words say when somebody did something: "checked it cold"."""
    return any(token.written.lower() in turns.vocabulary.words_of("done_then") for token in words)


def _is_out_of_range(finding: Finding, words: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether a range without a unit lies mostly outside that in a name, in whatever unit: "from 20 to 30"."""
    named = [token for token in vocabulary.split(finding.label) if token.kind == "amount" or token.written.isdigit()]
    said = [float(token.written) for token in words if token.kind == "word" and token.written.isdigit()]
    amount = next((vocabulary.language.amounts.get(one.values[0]) for one in named if one.kind == "amount"), None)
    if len(named) != len(said) or len(said) != _RANGE or amount is None or said[0] >= said[1]:
        return False
    low, high = (one.number or float(one.written) for one in named)
    width = said[1] - said[0]
    return all(
        min(high, said[1] * one) - max(low, said[0] * one) < _MOSTLY * width * one for one in amount.units.values()
    )


def _is_habit(finding: Finding, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether a number is of how far somebody drives, and tells of no trouble: "two miles a day"."""
    clauses, numbers = turns.clauses, turns.vocabulary.language.numbers
    distance = turns.vocabulary.language.amounts.get("distance")
    units = {word for unit in (distance.units if distance else ()) for word in unit.split()}
    for one in turns.of("habit"):
        before = [token for token in turns.sentence if token.end <= one.start and token.is_telling][-1:]
        is_far = [
            token
            for token in before
            if "distance" in token.values or token.written.lower() in units | {*numbers} or token.written.isdigit()
        ]
        if is_far and (is_far[0] in words or (finding.condition and clauses[words[0].start] == clauses[one.start])):
            return True
    return False


def _is_of_work(finding: Finding, label: str, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words say what somebody has done, and not what is found: "they already did an update"."""
    done = [one for one in turns.of("done_already", label) if one.start < words[-1].end and words[0].start < one.scope]
    return bool(done) and not finding.complaint and not finding.condition


def _is_work_elsewhere(label: str, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words name, or come right after, another part that was worked on: "turbo rebuilt"."""
    if any(words[0].start <= one.start < words[-1].end for one in turns.of("unit_work")):
        return False
    before = [token.start for token in turns.sentence if token.start < words[0].start][-1:]
    parts = turns.of("other_work", label)
    return any(one.start <= start < one.end for one in parts for start in (*before, words[0].start))


def _is_part_renewed(words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words are no more than the name of another part and that it was renewed: "air filter replaced"."""
    renewed = turns.vocabulary.words_of("renewed")
    clauses = turns.clauses
    is_done = any(
        token.written.lower() in renewed and clauses[token.start] == clauses[words[0].start] for token in turns.sentence
    )
    named = [token for token in words if any(one.start <= token.start < one.end for one in turns.of("other_work"))]
    rest = [token for token in words if token not in named and not turns.again.features.is_bare(token)]
    dated = turns.vocabulary.words_of("dated")
    return is_done and bool(named) and all(token.written.lower() in renewed | dated for token in rest)


def _is_too_short(record: Background, words: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether it lasted less than one of what its name counts in: two weeks of what "stood for months"."""
    name = [token.written.lower() for token in vocabulary.split(record.label)]
    for kind, amount in vocabulary.language.amounts.items():
        least = [amount.units[word] for word in name if word in amount.units]
        said = [token.number for token in words if token.kind == "amount" and token.values[0] == kind]
        if least and said and max(said) < min(least):
            return True
    return False


def _is_of_another(label: str, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words follow what was poured in, or the name of another lamp: "engine light flashing"."""
    if any(one.end <= words[0].start < one.scope for one in turns.of("poured", label)):
        return True
    lamps = [one for one in turns.of("other_lamp", label) if one.start < words[-1].end]
    between = [token for token in turns.sentence if token.is_telling or token.kind == "stop"]
    return any(not any(one.end <= token.start < words[0].start for token in between) for one in lamps)


def _is_only_where_or_when(words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words say no more than where it is and where it is not, "in 2nd, never in 1st", or when it is worse."""
    bare, places = turns.again.features.is_bare, [token.start for token in words if token.values]
    is_where = all(token.kind == "no" or bare(token) for token in words)
    if is_where and any(places[0] < one.end <= places[-1] for one in turns.of("contrasted") if places):
        return True
    if is_where and _is_set_off_first(words, turns):
        return True
    vocabulary = turns.vocabulary
    filling = vocabulary.words_of("opens_when") | vocabulary.words_of("within_when")
    if any(token.written.lower() not in filling for token in words):
        return False
    clauses = turns.clauses
    here = [token for token in turns.sentence if clauses[token.start] == clauses[words[0].start]]
    return any(vocabulary.says_when(here[place:]) for place, token in enumerate(here) if token not in words)


def _is_set_off_first(words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words name one place that is not meant, and the next clause another one: "it's not third, it's fourth"."""
    kinds, clauses = {token.kind for token in words if token.values}, turns.clauses
    behind = [token for token in turns.sentence if clauses[token.start] == clauses[words[-1].start] + 1]
    is_other = any(token.kind in kinds and not token.denied for token in behind)
    return is_other and any(one.start < words[-1].start and one.end >= words[0].start for one in turns.of("set_off"))


def _is_past(label: str, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether words say something of what was so once, before they say how it is now: "used to slip, now it is dead"."""
    earlier, clauses = turns.of("was_before"), turns.clauses
    if any(one.start <= words[0].start and clauses[one.start] == clauses[words[0].start] for one in earlier):
        return any(one.start >= words[-1].end for one in turns.of("now"))
    used = [one.start for one in turns.of("used_to") if one.start < words[-1].end]
    now = next((one for one in turns.of("now") if used and words[0].start < one.start), None)
    if now is None or ":" in label or now.start > words[-1].start:
        return False
    before, after = ([token for token in words if (token.start < now.start) == is_first] for is_first in (True, False))
    return turns.again.says(before, label) and not turns.again.says(after, label)


def _is_refuted(words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether somebody only says or thought so, and the next clause takes it back: "he says it slips, it doesn't"."""
    clauses, held = turns.clauses, [one for one in turns.of("held") if one.start < words[-1].end]
    if not any(clauses[one.start] == clauses[words[0].start] for one in held):
        return False
    stems = {token.stem for token in words}
    for one in turns.of("refuted"):
        clause = [
            token for token in turns.telling if clauses[token.start] == clauses[one.start] and token.kind != "stop"
        ]
        is_whole = all(token.start >= one.start or turns.again.features.is_bare(token) for token in clause)
        last = next((token for token in clause if token.end == one.end), None)
        after = [token.stem for token in clause if token.start >= one.end and last is not None and last.kind == "no"]
        is_of_it = not after or after[0] in stems
        if one.start >= words[0].end and is_whole and is_of_it:
            return True
    return False


def _says(turns: Turns, role: str, words: Sequence[Token]) -> bool:
    """Tell whether a turn of speech stands in a clause of words."""
    clauses = turns.clauses
    here = {clauses[token.start] for token in words}
    return any(clauses[one.start] in here for one in turns.of(role))


def _is_only_heard(finding: Finding, answer: str, words: Sequence[Token], turns: Turns) -> bool:
    """Tell whether somebody supposes it who has not looked: "the neighbour says it is the pump". Of what must be looked at,
    taken apart or measured, that tells nothing; of what anybody notices it tells.
    """
    if finding.complaint or finding.got_by not in LOOKED_AT:
        return False
    if answer == YES and turns.own is not None and turns.own.is_only_named(finding.id, words):
        return True
    if turns.of("seen"):
        return False
    clauses, unsure = turns.clauses, turns.vocabulary.words("unsure")
    here = {clauses[token.start] for token in words}
    is_doubted = any(token.written.lower() in unsure and clauses[token.start] in here for token in turns.sentence)
    is_heard = is_doubted or _says(turns, "could_be", words) or _says(turns, "told_by", words)
    return _says(turns, "supposes", words) or (finding.got_by == _TAKEN_APART and is_heard)
