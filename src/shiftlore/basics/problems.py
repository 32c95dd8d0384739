"""Say exactly where something is wrong, what is wrong, and what to write instead; the errors that carry it."""

import re
from collections.abc import Iterable, Sequence

from shiftlore.basics.structs import Record

_LIKE = 55.0
"""Two words are alike from this share of letters in the same order on, in percent (judgement)."""
HIDDEN = re.compile(
    "[\x00-\x1f\x7f-\x9f\xad\u034f\u061c\u115f\u1160\u17b4\u17b5\u180b-\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\u3164"
    "\ufe00-\ufe0f\ufeff\uffa0\ufff0-\uffff\ud800-\udfff\U000e0000-\U000e0fff]"
)
"""Characters that nobody sees, or that a screen obeys. Source: Default_Ignorable_Code_Point of Unicode, and its controls."""


class Mark(Record, frozen=True):
    """A place in a file: line and column count from 1; 0 means that the place is not known."""

    file: str = ""
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


class Problem(Record, frozen=True):
    """One thing wrong with a knowledge file, a unit sheet or a case: data, never raised alone.

    Args:
        code: short stable id such as ``K014`` (knowledge), ``U003`` (unit sheet), ``C002`` (case).
        what: what is wrong, one sentence.
        write_instead: what to write in its place.
        severity: ``error`` (refused) or ``warning`` (told, then used).
    """

    mark: Mark
    code: str
    what: str
    write_instead: str
    severity: str = "error"


def printable(text: str) -> str:
    """Give a file's name or what somebody typed so that it can be shown: nothing hidden, nothing that a screen obeys.

    Example:
        >>> print(printable("a" + chr(27) + "[31m.yaml"))
        a\\x1b[31m.yaml
    """
    return HIDDEN.sub(lambda found: ascii(found[0])[1:-1], text)


def render_problem(problem: Problem) -> str:
    """Write a problem as ``file:line:column: severity code: what. What to write instead.``"""
    what = problem.what.rstrip(".")
    return f"{problem.mark}: {problem.severity} {problem.code}: {what}.\n    {problem.write_instead}"


def nearest(word: str, known: Iterable[object], count: int = 3) -> list[str]:
    """Name the known words that are spelled most like `word`, best first.

    Args:
        known: any iterable of the words that would have been right.
    """
    from rapidfuzz import fuzz, process  # only where something is wrong

    words = known if isinstance(known, list) else [str(item) for item in known]
    found = process.extract(word, words, scorer=fuzz.ratio, limit=count, score_cutoff=_LIKE)
    return [name for name, _, _ in found]


class ShiftloreError(ValueError):
    """Something that the person at the bench can put right."""


class _ProblemsError(ShiftloreError):
    """An error that carries every problem found, not only the first."""

    def __init__(self, problems: Sequence[Problem]):
        self.problems = tuple(problems)
        super().__init__("\n".join(render_problem(problem) for problem in self.problems))


class KnowledgeError(_ProblemsError):
    """The knowledge or a unit sheet has problems; `problems` holds all of them."""


class CaseError(_ProblemsError):
    """A case has problems; `problems` holds all of them."""


class UnknownId(ShiftloreError):
    """An id that nothing in the knowledge carries."""


class UsageProblem(ShiftloreError):
    """A command was asked for something that it cannot do as written."""


class ImpossibleEvidence(ShiftloreError):
    """The answers have probability zero together.

    Args:
        clash: ids of a smallest set of findings found that cannot all be true.
    """

    def __init__(self, clash: Sequence[str]):
        self.clash = tuple(clash)
        super().__init__(
            "These answers cannot all be true together: "
            + ", ".join(self.clash)
            + ". Take one of them back, or enter it with doubt."
        )
