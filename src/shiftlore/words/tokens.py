"""Words of a text, with what each of them can do in a sentence; and how near two words are."""

from dataclasses import dataclass

# Stems that stand for a meaning, whatever word was said for it; no word is written so.
NO = "=no"
FINE = "=fine"
BAD = "=bad"
UNCURED = "=uncured"
MEANINGS = frozenset({NO, FINE, BAD, UNCURED})


@dataclass(frozen=True, slots=True)
class Token:
    """One word of a text.

    Args:
        stem: what it is compared by: ``#3`` is a gear, ``#2>3`` a shift, a code stands in capitals.
        written: as it was written.
        is_light: too common to tell anything.
        is_mended: a slip of the fingers that was taken for another word, so less sure.
        roles: the word lists of the language that it stands in.
    """

    stem: str
    written: str
    is_light: bool = False
    is_mended: bool = False
    roles: frozenset[str] = frozenset()

    def has(self, role: str) -> bool:
        """Tell whether it stands in a word list of the language."""
        return role in self.roles

    @property
    def is_code(self) -> bool:
        """Tell whether it is a trouble code."""
        return self.stem[0].isupper()

    @property
    def is_instance(self) -> bool:
        """Tell whether it only names a gear, a shift or a code, and describes nothing by itself."""
        return self.stem[0] == "#" or self.is_code


def is_near(one: str, other: str, one_slip_from: int, two_slips_from: int) -> bool:
    """Tell whether two words differ by a slip of the fingers: one letter, or two in long words.

    Args:
        one_slip_from, two_slips_from: letters from which so many slips are allowed.
    """
    shorter = min(len(one), len(other))
    if shorter < one_slip_from or not (one.isalpha() and other.isalpha()):
        return False
    allowed = 1 if shorter < two_slips_from else 2
    if abs(len(one) - len(other)) > allowed or (one[0] != other[0] and one[:2] != other[1::-1]):
        return False
    return count_slips(one, other, allowed) <= allowed


def count_slips(one: str, other: str, most: int) -> int:
    """Count letters added, left out, changed or swapped; stops counting above `most`.

    Source: Damerau 1964 (optimal string alignment).
    Example:
        >>> count_slips("bangs", "bnags", 3)
        1
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        before, last, row = row, before, [i]
        for j, wanted in enumerate(other, 1):
            best = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != wanted))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == wanted:
                best = min(best, last[j - 2] + 1)
            row.append(best)
        if min(row) > most:
            return most + 1
    return row[-1]
