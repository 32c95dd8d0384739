"""Questions and replies of an interview, as data: what is asked, what may be answered, why and at what cost."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer that can be picked: `key` is what the case records, `label` what is shown."""

    key: str
    label: str


@dataclass(frozen=True, slots=True)
class Question:
    """One question.

    Args:
        id: finding, background or a name of the interview's own (`unit`, `odometer_km`, `complaint`, ...).
        kind: ``choice`` (one of), ``which`` (any of), ``number``, ``words``, ``confirm`` (any of, all taken at first).
        choices: what can be picked; for a yes/no finding ``yes`` and ``no``.
        members: the ids that the question answers together (``which``), else only its own.
        why: why it is asked, in words.
        cost: what asking costs, in words.
        optional: whether "don't know" is an answer.
    """

    id: str
    kind: str
    text: str
    choices: tuple[Choice, ...] = ()
    members: tuple[str, ...] = ()
    why: str = ""
    cost: str = ""
    optional: bool = True


@dataclass(frozen=True, slots=True)
class Reply:
    """What was answered.

    Args:
        keys: picked keys; empty with `known` means none of them.
        text: free text or a number as typed.
        known: False for "don't know".
        doubt: None if sure, else a word of the knowledge such as ``think_so``.
    """

    keys: tuple[str, ...] = ()
    text: str = ""
    known: bool = True
    doubt: str | None = None
