"""Choose the answer that the words give: yes, no, a grade, or none."""

from collections.abc import Sequence

from shiftlore.knowledge.records import Background, Finding, Knowledge
from shiftlore.knowledge.search_index import Entry, Phrase
from shiftlore.knowledge.wording import FINE, Token, count_slips, split_words

NO_YES = ("no", "yes")
# Within the year: "rebuilt last month".
_RECENT = frozenset({"week", "month", "yesterday", "recent", "day"})
_RECENTLY = 2


def give_answer(
    entry: Entry,
    phrase: Phrase,
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


def _background_answer(background: Background, phrase: Phrase, words: Sequence[Token], negated: bool) -> str | None:
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
