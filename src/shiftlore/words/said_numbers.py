"""What a number that is said answers, where limits are stated that hold on every unit."""

from collections.abc import Sequence

from shiftlore.knowledge import Finding, answer_number
from shiftlore.words.vocabulary import Token


def answer_by_number(finding: Finding | None, words: Sequence[Token]) -> str | None:
    """Give what the first number among words answers, "tcc slip 10 rpm"; None where it says nothing, or where it is denied."""
    amounts = [token for token in words if token.kind == "amount"]
    if finding is None or not amounts or any(token.kind == "no" for token in words):
        return None
    kind, number = amounts[0].values[0], amounts[0].number
    gauges = [one for one in finding.measured if one.kind == kind and not one.relative and not one.other_gear]
    said = {answer_number(one, number, finding.grades[0]) for one in gauges}
    return said.pop() if len(said) == 1 else None
