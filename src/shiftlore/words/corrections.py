"""What the speaker takes back in the middle: "slips in second, no I mean third" slips in third."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from shiftlore.knowledge import Knowledge
from shiftlore.words.vocabulary import STOPS, Token, Vocabulary, choose_vocabulary

_LIKE = {"gear": "place", "lever": "place", "shift": "shift", "code": "code", "count": "count", "amount": "amount"}


def write_corrections(knowledge: Knowledge, said: str, text: str) -> tuple[str, ...]:
    """Put words behind what they may correct, as if they were said in one go; or else as if it were gone on with."""
    retracts = choose_vocabulary(knowledge).language.turns.get("retracts", ())
    return (*(f"{said}, {one}, {text}" for one in retracts[:1]), f"{said}. {text}")


def without_corrected(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """Leave out what is taken back, where something of its kind stands behind: a gear, a number, a code, when it is so, or a
    whole statement about the same thing.

    Args:
        tokens: all of a text.
    Example: "when cold it's bad, no sorry, when hot" becomes "it's bad, when hot".
    """
    left = _without_set_off_first(list(tokens))
    for start, end, is_sure in reversed([*_find_turns(left, vocabulary)]):
        before, behind = left[:start], left[end:]
        if not behind and sum(one.kind != "stop" for one in left[start:end]) > 1:
            left = before  # "into reverse, I mean"
            continue
        stop = next((place for place, one in enumerate(behind) if _parts(one)), len(behind))
        clause, rest = _without_set_off(_undenied(behind[:stop])), behind[stop:]
        if any(one.kind == "stop" for one in left[start:end]):
            before += [one for one in left[start:end] if one.kind == "stop"][-1:]
        corrected = _correct(before, clause, vocabulary, is_sure=is_sure)
        if corrected is not None:
            left = [*corrected, *rest]
    return left


def _parts(token: Token) -> bool:
    return token.kind == "stop" and token.parts >= STOPS


def _undenied(clause: Sequence[Token]) -> list[Token]:
    """Free a clause from the denial that only takes back: the "no" of "no, I mean third"."""
    place = next((place for place, one in enumerate(clause) if one.kind == "no"), len(clause))
    return [replace(one, denied=False) for one in clause[:place]] + list(clause[place:])


def _without_set_off(clause: list[Token]) -> list[Token]:
    """Leave out what is only set off from what is meant: "third not second"."""
    telling = [place for place, one in enumerate(clause) if one.is_telling]
    for before, no, after in zip(telling, telling[1:], telling[2:], strict=False):
        one, other = clause[before], clause[after]
        if clause[no].kind == "no" and one.kind == other.kind and one.kind in _LIKE:
            return [*clause[:no], *clause[after + 1 :]]
    return clause


def _without_set_off_first(tokens: list[Token]) -> list[Token]:
    """Leave out what is set off before what is meant: "the oil is not red, it is brown"."""
    for place, one in enumerate(tokens):
        end = next((end for end, other in enumerate(tokens) if end > place and other.kind == "stop"), len(tokens))
        stop = next((stop for stop, other in enumerate(tokens) if stop > end and _parts(other)), len(tokens))
        first, behind = tokens[place + 1 : end], tokens[end + 1 : stop]
        old, new = ([word for word in side if word.is_telling] for side in (first, behind))
        is_pair = one.kind == "no" and len(old) == len(new) == 1 and old[0].kind == new[0].kind
        said = {word.written.lower() for word in behind}
        is_set_off = is_pair and place > 0 and tokens[place - 1].written.lower() in said
        if is_set_off and (new[0].kind in _LIKE or all(word.stem == word.written.lower() for word in (*old, *new))):
            return [*tokens[:place], replace(new[0], start=old[0].start, end=old[0].end, denied=False), *tokens[stop:]]
    return tokens


def _find_turns(tokens: Sequence[Token], vocabulary: Vocabulary) -> Iterator[tuple[int, int, bool]]:
    """Find what takes back: from which token to which, stops beside it too, and whether it can mean nothing else."""
    phrases = {
        role: [one.split() for one in vocabulary.language.turns.get(role, ())] for role in ("retracts", "amends")
    }
    place = 0
    while place < len(tokens):
        end, is_sure = place, False
        while (reach := _reach(tokens, end, phrases)) is not None:
            end, is_sure = reach[0], is_sure or reach[1]
        if end > place:
            start = place
            while start and tokens[start - 1].kind == "stop":
                start -= 1
            while end < len(tokens) and tokens[end].kind == "stop":
                end += 1
            yield start, end, is_sure
        place = max(end, place + 1)


def _reach(tokens: Sequence[Token], place: int, phrases: dict[str, list[list[str]]]) -> tuple[int, bool] | None:
    """Give where the longest phrase that begins at a place ends, stops passed over, and whether it surely takes back."""
    found = []
    for role, listed in phrases.items():
        for words in listed:
            end = place
            for word in words:
                while end < len(tokens) and tokens[end].written in ",-–" and tokens[end].written != word:
                    end += 1
                if end == len(tokens) or tokens[end].written.lower() != word:
                    break
                end += 1
            else:
                found.append((end, role == "retracts"))
    return max(found, default=None)


def _correct(
    before: Sequence[Token], clause: Sequence[Token], vocabulary: Vocabulary, *, is_sure: bool
) -> list[Token] | None:
    """Give what is left of both sides; None where nothing before is of the kind of what stands behind."""
    if any(one.written.lower() in vocabulary.words("joining") for one in clause):
        return None  # "no wait, also in third"
    if not any(one.is_telling for one in before):
        return list(clause) if is_sure else None  # "no sorry, it is fourth that slips", of what was said elsewhere
    said = [one for one in clause if one.is_telling]
    first, own = _own_clause(before, vocabulary)
    if moment := _find_moment(clause, vocabulary):
        if not (last := _find_moment(before, vocabulary)):
            return None
        when = clause[moment[2] : moment[1]]
        if moment[0] == moment[2] and _content(clause, vocabulary) == _content(when, vocabulary):
            return [*before[: last[2]], *when, *before[last[1] :]]  # "only cold, sorry, hot"
        left = [*before[: last[0]], *before[last[1] :]]
        first, own = _own_clause(left, vocabulary)
        is_all = is_sure and own <= _content(clause, vocabulary)
        return [*(left[:first] if is_all else left), *clause]
    if is_sure and own & _content(clause, vocabulary):
        return [*before[:first], *clause]
    filling = vocabulary.words("bare") | vocabulary.words_of("opens_when") | vocabulary.words_of("within_when")
    thing = next((one for one in said if one.kind in _LIKE), None)
    if thing is None:
        is_word = is_sure and len(said) == 1 and said[0].kind == "word"
        same = [place for place, one in enumerate(before) if is_word and place >= first and one.kind == "word"]
        thing = said[0] if same else None
    else:
        kind = _LIKE[thing.kind]
        same = [place for place, one in enumerate(before) if _LIKE.get(one.kind) == kind]
        same = [one for one in same if kind != "amount" or before[one].values == thing.values]
    if thing is None or not same or not all(one is thing or one.written.lower() in filling for one in said):
        return [*before[:first], *clause] if is_sure and thing is not None and same and same[-1] >= first else None
    old = before[same[-1]]
    new = replace(thing, start=old.start, end=old.end, denied=old.denied)
    return [*before[: same[-1]], new, *before[same[-1] + 1 :]]


def _own_clause(before: Sequence[Token], vocabulary: Vocabulary) -> tuple[int, frozenset[str]]:
    """Give where the last clause of tokens begins, and what it speaks of."""
    end = len(before) - (bool(before) and _parts(before[-1]))
    first = max((place + 1 for place, one in enumerate(before[:end]) if _parts(one)), default=0)
    return first, _content(before[first:], vocabulary)


def _content(tokens: Sequence[Token], vocabulary: Vocabulary) -> frozenset[str]:
    """Give the stems of the words that name or tell something, and no place, time or number."""
    roles = ("into", "out_of", "joining")
    opening = (vocabulary.words_of("opens_when") - vocabulary.words_of("restricts")) | vocabulary.words_of(
        "within_when"
    )
    empty = opening.union(vocabulary.words_of("again_in"), *map(vocabulary.words, roles))
    return frozenset(one.stem for one in tokens if one.kind == "word" and one.written.lower() not in empty)


def _find_moment(tokens: Sequence[Token], vocabulary: Vocabulary) -> tuple[int, int, int] | None:
    """Give where the last words stand that say when, with the word that opens them, and without: "when it gets hot"."""
    texts = [one.written.lower() for one in tokens]
    filling = vocabulary.words_of("within_when") | vocabulary.words_of("opens_when")
    for place in reversed(range(len(tokens))):
        for _, phrase in vocabulary.moments.get(texts[place], ()):
            if tuple(texts[place : place + len(phrase)]) == phrase:
                start = place
                while start and (tokens[start - 1].kind == "light" or texts[start - 1] in filling):
                    start -= 1
                while texts[start] not in filling and start < place:
                    start += 1
                return start, place + len(phrase), place
    return None
