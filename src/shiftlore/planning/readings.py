"""Where the planner learns what a check may show, also when it reveals several findings at once.

The most telling findings are taken in every combination; of the rest only the first that is not sound is told
apart. That is coarser than the truth, so by lumping a check is never made out to tell more than it does.
"""

from collections.abc import Mapping, Sequence
from functools import reduce
from itertools import product
from typing import Protocol

import numpy as np

from shiftlore.basics.structs import Value


class Outcomes(Value, frozen=True, eq=False):
    """What a check may show.

    Args:
        labels: one name per joint outcome.
        likelihoods: p of each outcome under each hypothesis given the answers so far, shape
            (n_outcomes, n_hypotheses); columns sum to 1.
        answers: per outcome what it says, finding -> grade; empty where outcomes are only numbered.
    """

    labels: tuple[str, ...]
    likelihoods: np.ndarray
    answers: tuple[Mapping[str, str], ...] = ()


class Oracle(Protocol):
    """Answers, for the evidence so far, what is believed and what each check would show."""

    @property
    def belief(self) -> np.ndarray:
        """Weight of each hypothesis now, shape (n_hypotheses,), sum 1."""

    def outcomes(self, check_id: str) -> Outcomes:
        """All joint outcomes of one check under each hypothesis."""

    def likelihoods(self, check_id: str) -> np.ndarray:
        """The same without their names, shape (n_outcomes, n_hypotheses)."""

    def after(self, check_id: str, outcome: int) -> "Oracle":
        """The oracle once the check has shown that outcome."""

    def persists(self, missed: np.ndarray) -> "Oracle":
        """The oracle once jobs were done (`missed`: p that a cause survives) and the problem persists."""


def join_outcomes(parts: list[Outcomes]) -> Outcomes:
    """Joint outcomes of several checks made in one go, taken as independent given the hypothesis."""
    joint = parts[0]
    for part in parts[1:]:
        labels = tuple(f"{left}; {right}" for left in joint.labels for right in part.labels)
        answers = tuple({**left, **right} for left in joint.answers for right in part.answers)
        joint = Outcomes(labels, join_likelihoods([joint.likelihoods, part.likelihoods]), answers)
    return joint


def join_likelihoods(tables: Sequence[np.ndarray]) -> np.ndarray:
    """Likelihoods of the joint outcomes of several checks or findings, as `join_outcomes` orders them."""
    return reduce(lambda joint, table: (joint[:, None, :] * table).reshape(-1, table.shape[1]), tables)


MOST_OUTCOMES = 40
"""Joint outcomes of one check; more would change the choice little and cost time."""

ALL_COMBINED = 4
"""Outcomes up to which the most telling findings are taken in every combination."""

TELLS_NOTHING = 1e-4
"""Mutual information, in nats, below which a finding is left out of a check's outcomes."""

LEAST_SHARE = 1e-12


class FindingTable(Value, frozen=True, eq=False):
    """One finding's grades under each hypothesis.

    Args:
        grades: names, the sound one first.
        likelihoods: shape (n_grades, n_hypotheses); columns sum to 1.
        nats: mutual information between the finding and what is at work.
    """

    finding: str
    grades: tuple[str, ...]
    likelihoods: np.ndarray
    nats: float


class Layout(Value, frozen=True):
    """Which outcomes of a check are told apart.

    Args:
        combined: findings taken in every combination.
        in_turn: findings of which only the first unsound one is told apart.
    """

    combined: tuple[FindingTable, ...]
    in_turn: tuple[FindingTable, ...]


def tabulate_grades(
    grades: Mapping[str, tuple[str, ...]], likelihoods: np.ndarray, belief: np.ndarray
) -> dict[str, FindingTable]:
    """Clean the tables of findings and measure how telling they are.

    Args:
        grades: names of the grades of each finding.
        likelihoods: a row per grade of one finding after another, shape (n_rows, n_hypotheses), any rounding; the
            columns of each finding are made to sum to 1.
    """
    sizes = [len(names) for names in grades.values()]
    starts = np.cumsum([0, *sizes[:-1]])
    table = np.clip(likelihoods, LEAST_SHARE, None)
    table /= np.repeat(np.add.reduceat(table, starts, axis=0), sizes, axis=0)
    told = (table * np.log(table / (table @ belief)[:, None])) @ belief
    nats = np.add.reduceat(told, starts).tolist()
    parts = zip(grades.items(), starts.tolist(), sizes, nats, strict=True)
    return {name: FindingTable(name, each, table[at : at + size], telling) for (name, each), at, size, telling in parts}


def normalise(likelihoods: np.ndarray) -> np.ndarray:
    """Make the columns of a table sum to 1, nothing quite impossible."""
    table = np.clip(likelihoods, LEAST_SHARE, None)
    return table / table.sum(axis=0)


def lay_out(findings: Sequence[FindingTable]) -> Layout | None:
    """Choose which outcomes of a check to tell apart, or None if none of its findings tells anything."""
    telling = sorted((table for table in findings if table.nats > TELLS_NOTHING), key=lambda table: -table.nats)
    if not telling:
        return None
    combined, count = [telling[0]], len(telling[0].grades)
    for table in telling[1:]:
        if count * len(table.grades) > ALL_COMBINED:
            break
        combined.append(table)
        count *= len(table.grades)
    room = max(0, MOST_OUTCOMES // count - 1)
    return Layout(tuple(combined), tuple(telling[len(combined) : len(combined) + room]))


def weigh_outcomes(layout: Layout) -> np.ndarray:
    """Work out p of each outcome of a check under each hypothesis, its findings independent given what is at work.

    Returns: shape (n_outcomes, n_hypotheses); columns sum to 1.
    """
    together = join_likelihoods([table.likelihoods for table in layout.combined])
    sound = np.cumprod([np.ones(together.shape[1]), *(table.likelihoods[0] for table in layout.in_turn)], axis=0)
    rows = together[:, None, :] * sound
    # p of "sound until here" falls from place to place; the difference is "this one is the first unsound".
    first_unsound = np.concatenate([rows[:, :-1] - rows[:, 1:], rows[:, -1:]], axis=1)
    return normalise(first_unsound.reshape(-1, together.shape[1]))


def tabulate_check(layout: Layout) -> Outcomes:
    """Work the outcomes of a check out, and name them."""
    labels, answers = [], []
    for grades in product(*(table.grades for table in layout.combined)):
        told = dict(zip((table.finding for table in layout.combined), grades, strict=True))
        label = _name_answers(told)
        for table in layout.in_turn:  # of several unsound grades the likeliest
            unsound = {table.finding: table.grades[1 + int(np.argmax(table.likelihoods[1:].sum(axis=1)))]}
            answers.append({**told, **unsound})
            labels.append(f"{label}; {_name_answers(unsound)}")
            told[table.finding] = table.grades[0]
            label += f"; {table.finding}={table.grades[0]}"
        answers.append(told)
        labels.append(label)
    return Outcomes(tuple(labels), weigh_outcomes(layout), tuple(answers))


def _name_answers(answers: Mapping[str, str]) -> str:
    return "; ".join(f"{finding}={grade}" for finding, grade in answers.items())
