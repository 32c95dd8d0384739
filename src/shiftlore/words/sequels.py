"""What a later sentence makes of an earlier one: trouble that is over, a cure that did not last."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from shiftlore.knowledge import Knowledge
from shiftlore.words.own_turns import NO, YES
from shiftlore.words.statements import STOPS, SaidAnswer, Statement, number_clauses
from shiftlore.words.turns import TurnPhrase, Turns
from shiftlore.words.vocabulary import Token


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
    clauses = number_clauses(turns.sentence, STOPS)
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
    if record is None or not record.replaced or not any(phrase.start > one.start for phrase in returns):
        return one
    for_a_time = [answer for answer in record.shares if answer not in (NO, YES, *record.recent)]
    answers = [
        replace(answer, answer=for_a_time[0]) if answer.answer == YES and for_a_time else answer
        for answer in one.answers
    ]
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
