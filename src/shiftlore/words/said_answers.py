"""Which gears and shifts a clause names, and which answer its words give: yes, no, a grade, or none."""

import re
from collections.abc import Mapping, Sequence

from shiftlore.knowledge import Background, Finding, Knowledge
from shiftlore.words.negation import is_beside, is_working
from shiftlore.words.phrase_index import Entry, KnownPhrase
from shiftlore.words.vocabulary import FINE, Token, Vocabulary, count_slips

NO_YES = ("no", "yes")
_REVERSE = "r"
_SHIFT = re.compile(r"#(\d+)>(\d+)")
_GEAR = re.compile(r"#(\d+)")

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
            instance = gear[1] if gear else _REVERSE if token.has("reverse") else None
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
    is_split = first != last and is_beside((named[last][1],), words, is_working)
    return [named[nearest]] if is_split else named[first : last + 1]


def _are_joined(one: int, other: int, words: Sequence[Token]) -> bool:
    between = words[one + 1 : other]
    return all(word.has("links") for word in between) and any(word.has("pairing") for word in between)


def _shift_into(gear: int, place: int, words: Sequence[Token]) -> str | None:
    """Make the shift of "into second": from the gear below, or from above where the vehicle slows."""
    if any(token.has("slowing") for token in words):
        return f"{gear + 1}_{gear}"
    if not place:
        return None
    if words[place - 1].has("leaving"):
        return f"{gear}_{gear + 1}"
    return f"{gear - 1}_{gear}" if gear > 1 and words[place - 1].has("reaching") else None


def give_answer(
    entry: Entry,
    phrase: KnownPhrase,
    said: Sequence[Token],
    words: Sequence[Token],
    negated: bool,
    knowledge: Knowledge,
    vocabulary: Vocabulary,
) -> str | None:
    """Choose the answer of a finding or background; None where only the person can say which.

    Args:
        entry: the finding or background; phrase: the phrase that was found; said: the words it was found in.
        words: the whole clause; negated: whether the phrase is denied; knowledge: the knowledge.
        vocabulary: the language that they are in.
    """
    if entry.kind == "background":
        return _background_answer(knowledge.backgrounds[entry.id], phrase, words, negated, vocabulary)
    finding = knowledge.findings[entry.id]
    if "yes" in finding.grades:
        return NO_YES[not negated]
    if negated or FINE in {token.stem for token in said}:
        return finding.grades[0]
    return _grade(finding, said, words, vocabulary)


def _grade(finding: Finding, said: Sequence[Token], words: Sequence[Token], vocabulary: Vocabulary) -> str | None:
    """Choose the grade whose name or label the words speak of.

    Words of the finding's own label tell grades apart only if nothing else does; then those of the phrase count first.
    """
    own = {token.stem for token in vocabulary.split(finding.label)}
    for pool in ([token for token in words if token.stem not in own], said, words):
        labels = {grade: finding.grade_labels.get(grade, "") for grade in finding.grades}
        chosen = _only_best({grade: _likeness(grade, label, pool, vocabulary) for grade, label in labels.items()})
        if chosen is not None:
            return chosen
    return finding.grades[1] if len(finding.grades) == 2 else None


def _likeness(grade: str, label: str, pool: Sequence[Token], vocabulary: Vocabulary) -> float:
    """Count the words of a grade's name among those said; those of its label count less."""
    weights = vocabulary.weights
    said = {token.stem for token in pool if not token.is_light}
    names = vocabulary.split(grade.replace("_", " "))
    count = sum(token.stem in said for token in names) / len(names) if names else 0.0
    labels = [token.stem for token in vocabulary.split(label) if not token.is_light]
    count += weights["grade_label"] * sum(stem in said for stem in labels) / len(labels) if labels else 0.0
    whole, slips = "".join(labels), int(weights["near_label_slips"])
    near = any(len(stem) >= weights["near_label_from"] and count_slips(stem, whole, slips) <= slips for stem in said)
    return count + (weights["near_label"] if near else 0.0)


def _background_answer(
    background: Background, phrase: KnownPhrase, words: Sequence[Token], negated: bool, vocabulary: Vocabulary
) -> str | None:
    if "yes" in background.shares:
        return NO_YES[not negated]
    pool = [token for token in (*phrase.tokens, *words) if not token.is_light]
    said, marks = {token.stem for token in pool}, {}
    is_late = any(token.has("recent") for token in pool)
    for answer in background.shares:
        labels = vocabulary.split(f"{answer.replace('_', ' ')} {background.grade_labels.get(answer, '')}")
        marks[answer] = sum(token.stem in said for token in labels if not token.is_light)
        marks[answer] += int(vocabulary.weights["recently"]) if is_late and answer in background.recent else 0
    return _only_best(marks)


def _only_best(marks: Mapping[str, float]) -> str | None:
    """Give what has the most marks, where it has any and no other has as many."""
    best = max(marks.values(), default=0)
    chosen = [answer for answer, mark in marks.items() if mark == best]
    return chosen[0] if best > 0 and len(chosen) == 1 else None
