"""Which gears and shifts a clause names, and which of them a statement speaks of."""

import re
from collections.abc import Sequence

from shiftlore.knowledge.denying import is_beside
from shiftlore.knowledge.wording import FINE, Token

_SHIFT = re.compile(r"#(\d+)>(\d+)")
_GEAR = re.compile(r"#(\d+)")
_SLOWING = frozenset({"downshift", "slow", "coast", "down", "stop"})
_SOUND = frozenset({FINE, "work"})
_INTO = frozenset(
    [
        "into", "to", "onto", "for", "taking", "engaging", "engages", "reaching", "hitting", "hits",
        "before", "getting", "going"
    ]
)  # fmt: skip
_LINKS = frozenset({"and", "or", "gear", "in", "the", "into", "to"})

# Gears (``3``, ``r``) or shifts (``2_3``) with their places.
Named = list[tuple[str, int]]


def find_named(each: str, words: Sequence[Token]) -> Named:
    """Find the gears or shifts that the clause speaks of, with their places."""
    found: Named = []
    for place, token in enumerate(words):
        shift = _SHIFT.fullmatch(token.stem)
        gear = _GEAR.fullmatch(token.stem)
        if each == "shift":
            into = _shift_into(int(gear[1]), place, words) if gear else None
            instance = f"{shift[1]}_{shift[2]}" if shift else into
        else:
            instance = gear[1] if gear else "r" if token.stem == "revers" else None
        if instance is not None:
            found.append((instance, place))
    return found


def choose_named(places: Sequence[int], named: Named, words: Sequence[Token]) -> Named:
    """Choose the gears or shifts nearest to the words, and those joined to them: "slips in third and fourth"."""
    if not named:
        return []
    # "2-3 flares 3-4 bangs" names the shift first, "bangs into second and flares into third" after.
    telling = [word for word in words if not word.is_light and word.stem != FINE]
    after = 1 if telling and telling[0].stem[0] == "#" else -1
    nearest = min(
        range(len(named)),
        key=lambda spot: (min(abs(named[spot][1] - place) for place in places), after * named[spot][1]),
    )
    first = last = nearest
    while first > 0 and _are_joined(named[first - 1][1], named[first][1], words):
        first -= 1
    while last + 1 < len(named) and _are_joined(named[last][1], named[last + 1][1], words):
        last += 1
    is_split = first != last and is_beside((named[last][1],), words, _SOUND)
    return [named[nearest]] if is_split else named[first : last + 1]


def _are_joined(one: int, other: int, words: Sequence[Token]) -> bool:
    between = words[one + 1 : other]
    return all(word.written in _LINKS for word in between) and any(word.written in ("and", "or") for word in between)


def _shift_into(gear: int, place: int, words: Sequence[Token]) -> str | None:
    """Make the shift of "into second": from the gear below, or from above where the vehicle slows."""
    if any(token.stem in _SLOWING for token in words):
        return f"{gear + 1}_{gear}"
    before = words[place - 1].written if place else ""
    if before in ("from", "of"):
        return f"{gear}_{gear + 1}"
    return f"{gear - 1}_{gear}" if gear > 1 and before in _INTO else None
