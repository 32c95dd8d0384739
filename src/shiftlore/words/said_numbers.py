"""What a number that is said answers, where limits are stated: on every unit, or beside it as "spec 60 to 70"."""

import re
from collections.abc import Sequence

from shiftlore.knowledge import Finding, Gauge, answer_number
from shiftlore.words.vocabulary import Token, Vocabulary, read_number

# A number this share beside the only one that is stated is as good as that (judgement).
_NEAR, _GROUPS = 0.1, 5
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")


def answer_by_number(
    finding: Finding | None, words: Sequence[Token], vocabulary: Vocabulary, sentence: Sequence[Token] = ()
) -> str | None:
    """Give what the first number among words answers, "tcc slip 10 rpm"; None where it says nothing, or where it is denied.

    Args:
        sentence: all tokens around them; what the number should be may stand there: "45 psi, spec 60 to 70".
    """
    idle = vocabulary.words_of("nothing_for")
    if finding is None or any(token.kind == "no" and token.written.lower() not in idle for token in words):
        return None
    gauges = [one for one in finding.measured if not one.relative and not one.other_gear]
    if (stated := find_stated(words, sentence)) is not None:
        number = next(token for token in words if _is_number(token))
        said = {_compare(one, number, stated, vocabulary, finding.grades[0]) for one in gauges}
        return said.pop() if len(said) == 1 else None
    amounts = [token for token in words if token.kind == "amount"]
    gauges = [one for one in gauges if amounts and one.kind == amounts[0].values[0]]
    said = {answer_number(one, amounts[0].number, finding.grades[0]) for one in gauges}
    return said.pop() if len(said) == 1 else None


def find_stated(words: Sequence[Token], sentence: Sequence[Token]) -> Token | None:
    """Give what the first number among words is compared with: the next such token behind it, or else the last before it."""
    number = next((token for token in words if _is_number(token)), None)
    stated = [token for token in sentence if token.kind == "stated" and len(token.values) == _GROUPS]
    if number is None or not stated:
        return None
    return next((one for one in stated if one.start > number.start), stated[-1])


def _is_number(token: Token) -> bool:
    return token.kind == "amount" or (token.kind == "word" and token.written[:1].isdigit())


def _compare(gauge: Gauge, number: Token, stated: Token, vocabulary: Vocabulary, sound: str) -> str | None:
    """Compare a number with what it should be; where only one of the two has a unit it is that of both."""
    units = vocabulary.language.amounts[gauge.kind].units if gauge.kind in vocabulary.language.amounts else {}
    most, least, first, last, unit = stated.values
    value = read_number(_NUMBER.findall(number.written)[0])
    is_amount = number.kind == "amount"
    if (is_amount and number.values[0] != gauge.kind) or (unit and unit not in units) or not value:
        return None
    factor = number.number / value if is_amount else units.get(unit, 1.0)
    own = units.get(unit, factor)
    low, high = (read_number(first) * own, read_number(last or first) * own)
    if low == high:
        low, high = low * (1 - _NEAR), high * (1 + _NEAR)
    bounds = (None if most else low, None if least else high)
    return answer_number(gauge, value * factor, sound, stated=bounds)
