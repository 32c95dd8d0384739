"""Find what the vehicle has run among the distances that were said."""

import re
from collections.abc import Container, Iterator, Sequence
from dataclasses import replace
from itertools import dropwhile

from shiftlore.words.vocabulary import Token, Vocabulary

_THOUSAND = 1000
# More than so far nobody drives in a year; and work stands no further before how long ago it was (judgement).
_MOST_KM_A_YEAR, _WORDS_OF_WORK, _LEAST_WORDS = 30_000, 5, 3


def find_mileage(tokens: Sequence[Token], vocabulary: Vocabulary) -> int | None:
    """Give the longest distance that may be what the vehicle has run, in km; "ago" belongs to the amount before it alone."""
    least = vocabulary.weights["least_distance"]
    before, behind = vocabulary.words("not_mileage"), vocabulary.words("not_mileage_behind")
    whole, worked, joint = map(vocabulary.words, ("whole_life", "not_mileage_at", "at_distance"))
    found = [0.0]
    for place, token in enumerate(tokens):
        if token.kind == "amount" and token.values[0] == "distance" and token.number >= least:
            ahead = list(_until_stop(tokens[place - 2 : place][::-1] if place > 1 else tokens[:place][::-1]))
            after = list(_until_stop(tokens[place + 1 : place + 3]))
            is_part = any(one in before for one in ahead) or any(one in behind for one in after[:1])
            is_part = is_part or (len(ahead) > 1 and ahead[0] in joint and ahead[1] in worked)
            is_clock = any(one in vocabulary.words("beside_signs") for one in after[:1])
            is_part = is_part or (not is_clock and _is_run_since(tokens[:place], token.number, behind, worked))
            if not is_part or whole & {*after}:
                found.append(token.number)
    return round(max(found)) or None


def _is_run_since(before: Sequence[Token], km: float, behind: Container[str], worked: Container[str]) -> bool:
    """Tell whether a distance was run since work that was done so long ago: "rebuilt 3 months ago, 5000 km"."""
    ahead = list(dropwhile(lambda one: one.kind == "stop", reversed(before)))[:_WORDS_OF_WORK]
    if (
        not before
        or before[-1].kind != "stop"
        or len(ahead) < _LEAST_WORDS
        or ahead[0].written.lower() not in behind
        or ahead[1].values != ("age",)
    ):
        return False
    return km <= ahead[1].number * _MOST_KM_A_YEAR and any(one.written.lower() in worked for one in ahead)


def in_one_unit(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """Give thousands without a unit in that of the other distances: "bought at 90k miles, now at 104k"."""
    amount = vocabulary.language.amounts.get("distance")
    units = {} if amount is None else amount.units
    said = [re.findall(r"[^\W\d]+", token.written.lower()) for token in tokens]
    factors = {units[words[-1]] for words in said if words and units.get(words[-1], _THOUSAND) < _THOUSAND}
    factor = factors.pop() if len(factors) == 1 else 1.0
    return [
        replace(one, number=one.number * factor)
        if one.kind == "amount" and len(words) == 1 and units.get(words[0]) == _THOUSAND
        else one
        for one, words in zip(tokens, said, strict=True)
    ]


def is_mileage(token: Token, mileage_km: int | None) -> bool:
    """Tell whether a token is the distance that was found."""
    return token.kind == "amount" and token.values[0] == "distance" and round(token.number) == mileage_km


def _until_stop(tokens: Sequence[Token]) -> Iterator[str]:
    """Give words as far as the next stop or amount."""
    for token in tokens:
        if token.kind in ("stop", "amount"):
            return
        yield token.written.lower()
