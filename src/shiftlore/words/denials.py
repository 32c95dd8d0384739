"""Several denials in a row, one that stands beside, and what is only guessed or heard, which takes a statement back too."""

from collections.abc import Container, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from shiftlore.knowledge import Background, Finding
from shiftlore.words.own_turns import YES
from shiftlore.words.statements import STOPS, number_clauses, rate_parts
from shiftlore.words.trained import Features
from shiftlore.words.vocabulary import Token, Vocabulary

if TYPE_CHECKING:
    from shiftlore.words.turns import Turns

# What nobody tells without having looked, and what is had only with something taken apart.
_LOOKED_AT, _TAKEN_APART = ("look", "measure", "open"), "open"


def join_denials(sentence: Sequence[Token], words: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """Give the denials up to the end of words, with nothing between them that would part them."""
    joints = vocabulary.words("joining") | vocabulary.words("barriers")
    found: list[Token] = []
    for token in sentence:
        if token.start >= words[-1].end:
            break
        if token.kind == "stop" or token.written.lower() in joints:
            found = []
        elif token.kind == "no":
            found.append(token)
    return found


def is_one_denial(denials: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether denials go on one after the other, "no break no short", or one is made stronger: "don't come never"."""
    again, stronger = vocabulary.words_of("denied_again"), vocabulary.words_of("denied_stronger")
    texts = [token.written.lower() for token in denials]
    return all(text in again for text in texts) or (texts[0] not in again and set(texts[1:]) <= stronger)


def undenied(words: Sequence[Token]) -> list[Token]:
    """Give words as they would be read without the denial that reaches them."""
    return [replace(token, denied=False) for token in words]


def denies_what_follows(words: Sequence[Token], sentence: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether words end in a denial of what comes next: "in R no" of "in R no knock" says nothing of R."""
    joints = vocabulary.words("joining") | vocabulary.words("barriers")
    after = next((token for token in sentence if token.start >= words[-1].end and token.kind != "light"), None)
    is_next = after is not None and after.kind != "stop" and after.written.lower() not in joints
    return words[-1].kind == "no" and len(words) > 1 and is_next


def is_all_of_clause(
    words: Sequence[Token], sentence: Sequence[Token], vocabulary: Vocabulary, features: Features
) -> bool:
    """Tell whether nothing more is said beside words than that all is well: "all works except reverse" lacks it, but "all
    good except reverse bangs" does not.
    """
    stops = [one.start for one in sentence if one.kind == "stop"]
    first = max((one for one in stops if one < words[0].start), default=-1)
    end = min((one for one in stops if one > words[0].start), default=sentence[-1].end)
    empty = vocabulary.words("joining") | vocabulary.words("barriers")
    well = vocabulary.stems("sound") | vocabulary.stems("works")
    inside = range(words[0].start, words[-1].end)
    beside = [one for one in sentence if one.is_telling and first < one.start < end]
    left = [one for one in beside if one.start not in inside and one.stem not in well]
    return all(features.is_bare(one) or one.written.lower() in empty for one in left)


def is_turned_beside(
    words: Sequence[Token], sentence: Sequence[Token], free: Container[Token], vocabulary: Vocabulary
) -> bool:
    """Tell whether a denial, or a word for soundness of no other statement, stands right beside the words of this one."""
    sound = vocabulary.stems("sound")
    telling = [token for token in sentence if token.is_telling]
    first, last = telling.index(words[0]), telling.index(words[-1])
    parts = [*rate_parts(sentence), 0.0]
    if first and telling[first - 1].kind == "no" and parts[first] < STOPS:
        return True
    near = [(place, joint) for place, joint in ((first - 1, first), (last + 1, last + 1)) if 0 <= place < len(telling)]
    return any(
        telling[place].stem in sound and telling[place] in free and parts[joint] < STOPS for place, joint in near
    )


def is_untold(record: Finding | Background, label: str, answer: str, words: Sequence[Token], turns: "Turns") -> bool:
    """Tell whether words tell nothing of the vehicle: what could be so, what is another thing's, what is only guessed.

    Args:
        record: a finding, or what is asked of the life of the vehicle; label: the class that was read; answer: its answer.
    """
    if _says(turns, "may_cause", words):
        return True
    if isinstance(record, Background):
        is_broken = any(words[0].start <= one.start < words[-1].end for one in turns.of("broke", label))
        said = [token for token in words if not turns.again.features.is_bare(token)]
        is_named = (
            bool(record.replaced) and turns.own is not None and not any(turns.own.knows(record.id, one) for one in said)
        )
        is_heard = is_named and any(_says(turns, role, words) for role in ("supposes", "could_be", "told_by"))
        return is_broken or is_heard or _is_too_short(record, words, turns.vocabulary)
    is_other = turns.own is not None and turns.own.is_of_other_gear(record.id, words)
    is_other = is_other or (not record.condition and _is_of_another(label, words, turns))
    is_other = is_other or _is_only_where_or_when(words, turns) or _is_past(label, words, turns)
    return is_other or _is_only_heard(record, answer, words, turns)


def _is_too_short(record: Background, words: Sequence[Token], vocabulary: Vocabulary) -> bool:
    """Tell whether it lasted less than one of what its name counts in: two weeks of what "stood for months"."""
    name = [token.written.lower() for token in vocabulary.split(record.label)]
    for kind, amount in vocabulary.language.amounts.items():
        least = [amount.units[word] for word in name if word in amount.units]
        said = [token.number for token in words if token.kind == "amount" and token.values[0] == kind]
        if least and said and max(said) < min(least):
            return True
    return False


def _is_of_another(label: str, words: Sequence[Token], turns: "Turns") -> bool:
    """Tell whether words follow what was poured in, or the name of another lamp: "engine light flashing"."""
    if any(one.end <= words[0].start < one.scope for one in turns.of("poured", label)):
        return True
    lamps = [one for one in turns.of("other_lamp", label) if one.start < words[-1].end]
    between = [token for token in turns.sentence if token.is_telling or token.kind == "stop"]
    return any(not any(one.end <= token.start < words[0].start for token in between) for one in lamps)


def _is_only_where_or_when(words: Sequence[Token], turns: "Turns") -> bool:
    """Tell whether words say no more than where it is and where it is not, "in 2nd, never in 1st", or when it is worse."""
    bare, places = turns.again.features.is_bare, [token.start for token in words if token.values]
    is_where = all(token.kind == "no" or bare(token) for token in words)
    if is_where and any(places[0] < one.end <= places[-1] for one in turns.of("contrasted") if places):
        return True
    vocabulary = turns.vocabulary
    filling = vocabulary.words_of("opens_when") | vocabulary.words_of("within_when")
    if any(token.written.lower() not in filling for token in words):
        return False
    clauses = number_clauses(turns.sentence, STOPS)
    here = [token for token in turns.sentence if clauses[token.start] == clauses[words[0].start]]
    return any(vocabulary.says_when(here[place:]) for place, token in enumerate(here) if token not in words)


def _is_past(label: str, words: Sequence[Token], turns: "Turns") -> bool:
    """Tell whether words say something of what was so once, before they say how it is now: "used to slip, now it is dead"."""
    used = [one.start for one in turns.of("used_to") if one.start < words[-1].end]
    now = next((one for one in turns.of("now") if used and words[0].start < one.start), None)
    if now is None or ":" in label or now.start > words[-1].start:
        return False
    before, after = ([token for token in words if (token.start < now.start) == is_first] for is_first in (True, False))
    return turns.again.says(before, label) and not turns.again.says(after, label)


def _says(turns: "Turns", role: str, words: Sequence[Token]) -> bool:
    """Tell whether a turn of speech stands in a clause of words."""
    clauses = number_clauses(turns.sentence, STOPS)
    here = {clauses[token.start] for token in words}
    return any(clauses[one.start] in here for one in turns.of(role))


def _is_only_heard(finding: Finding, answer: str, words: Sequence[Token], turns: "Turns") -> bool:
    """Tell whether somebody supposes it who has not looked: "the neighbour says it is the pump". Of what must be looked at,
    taken apart or measured, that tells nothing; of what anybody notices it tells.
    """
    if finding.complaint or finding.got_by not in _LOOKED_AT:
        return False
    if answer == YES and turns.own is not None and turns.own.is_only_named(finding.id, words):
        return True
    if turns.of("seen"):
        return False
    clauses, unsure = number_clauses(turns.sentence, STOPS), turns.vocabulary.words("unsure")
    here = {clauses[token.start] for token in words}
    is_doubted = any(token.written.lower() in unsure and clauses[token.start] in here for token in turns.sentence)
    is_heard = is_doubted or _says(turns, "could_be", words) or _says(turns, "told_by", words)
    return _says(turns, "supposes", words) or (finding.got_by == _TAKEN_APART and is_heard)
