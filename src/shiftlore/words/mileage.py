"""Find what the vehicle has run among the distances that were said."""

from collections.abc import Iterator, Sequence

from shiftlore.words.vocabulary import Token, Vocabulary


def find_mileage(tokens: Sequence[Token], vocabulary: Vocabulary) -> int | None:
    """Give the longest distance that may be what the vehicle has run, in km; "ago" belongs to the amount before it alone."""
    least = vocabulary.weights["least_distance"]
    before, behind = vocabulary.words("not_mileage"), vocabulary.words("not_mileage_behind")
    whole = vocabulary.words("whole_life")
    found = [0.0]
    for place, token in enumerate(tokens):
        if token.kind == "amount" and token.values[0] == "distance" and token.number >= least:
            ahead = list(_until_stop(tokens[place - 2 : place][::-1] if place > 1 else tokens[:place][::-1]))
            after = list(_until_stop(tokens[place + 1 : place + 3]))
            is_part = any(one in before for one in ahead) or any(one in behind for one in after[:1])
            if not is_part or whole & {*after}:
                found.append(token.number)
    return round(max(found)) or None


def is_mileage(token: Token, mileage_km: int | None) -> bool:
    """Tell whether a token is the distance that was found."""
    return token.kind == "amount" and token.values[0] == "distance" and round(token.number) == mileage_km


def _until_stop(tokens: Sequence[Token]) -> Iterator[str]:
    """Give words as far as the next stop or amount."""
    for token in tokens:
        if token.kind in ("stop", "amount"):
            return
        yield token.written.lower()
