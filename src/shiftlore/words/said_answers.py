"""Which gears and shifts a clause names, and which of them a statement speaks of."""

import re
from collections.abc import Sequence

from shiftlore.knowledge.records import Background, Finding, Knowledge
from shiftlore.words.negation import is_beside
from shiftlore.words.phrase_index import Entry, KnownPhrase
from shiftlore.words.tokens import FINE, Token, count_slips, split_words

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


NO_YES = ("no", "yes")
# Within the year: "rebuilt last month".
_RECENT = frozenset({"week", "month", "yesterday", "recent", "day"})
_RECENTLY = 2


def give_answer(
    entry: Entry,
    phrase: KnownPhrase,
    said: Sequence[Token],
    words: Sequence[Token],
    negated: bool,
    knowledge: Knowledge,
) -> str | None:
    """Choose the answer of a finding or background; None where only the person can say which.

    Args:
        entry: the finding or background; phrase: the phrase that was found; said: the words it was found in.
        words: the whole clause; negated: whether the phrase is denied; knowledge: the knowledge.
    """
    if entry.kind == "background":
        return _background_answer(knowledge.backgrounds[entry.id], phrase, words, negated)
    finding = knowledge.findings[entry.id]
    if "yes" in finding.grades:
        return NO_YES[not negated]
    if negated or FINE in {token.stem for token in said}:
        return finding.grades[0]
    return _grade(finding, said, words)


def _grade(finding: Finding, said: Sequence[Token], words: Sequence[Token]) -> str | None:
    """Choose the grade whose name or label the words speak of.

    Words of the finding's own label tell grades apart only if nothing else does; then those of the phrase count first.
    """
    own = {token.stem for token in split_words(finding.label)}
    for pool in ([token for token in words if token.stem not in own], said, words):
        marks = {grade: _likeness(grade, finding.grade_labels.get(grade, ""), pool) for grade in finding.grades}
        best = max(marks.values())
        if best > 0 and list(marks.values()).count(best) == 1:
            return next(grade for grade, mark in marks.items() if mark == best)
    return finding.grades[1] if len(finding.grades) == 2 else None


def _likeness(grade: str, label: str, pool: Sequence[Token]) -> float:
    """Count the words of a grade's name among those said; its label counts half."""
    said = {token.stem for token in pool if not token.is_light}
    names = split_words(grade.replace("_", " "))
    count = sum(token.stem in said for token in names) / len(names) if names else 0.0
    labels = [token.stem for token in split_words(label) if not token.is_light]
    count += sum(stem in said for stem in labels) / len(labels) / 2 if labels else 0.0
    whole = "".join(labels)
    near = any(len(stem) > 5 and count_slips(stem, whole, 2) <= 2 for stem in said)
    return count + (0.5 if near else 0.0)


def _background_answer(
    background: Background, phrase: KnownPhrase, words: Sequence[Token], negated: bool
) -> str | None:
    if "yes" in background.shares:
        return NO_YES[not negated]
    pool = [*phrase.tokens, *words]
    said = {token.stem for token in pool if not token.is_light}
    marks = {}
    for answer in background.shares:
        labels = split_words(f"{answer.replace('_', ' ')} {background.grade_labels.get(answer, '')}")
        marks[answer] = sum(token.stem in said for token in labels if not token.is_light)
        marks[answer] += _RECENTLY if answer.endswith("_now") and said & _RECENT else 0
    best = max(marks.values(), default=0)
    chosen = [answer for answer, mark in marks.items() if mark == best]
    return chosen[0] if best and len(chosen) == 1 else None
