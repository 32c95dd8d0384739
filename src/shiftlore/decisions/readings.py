"""What a check may show, from what each of its findings may show.

A check reveals several findings at once. Given what is at work its findings count as independent here. The most
telling ones are taken in every combination; of the rest only the first that is not sound is told apart. That
is coarser than the truth, so a check is never made out to tell more than it does by lumping.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.decisions.oracles import Outcomes, join_outcomes

MOST_OUTCOMES = 12
"""Joint outcomes of one check; more would change the choice little and cost time."""

ALL_COMBINED = 8
"""Outcomes up to which the most telling findings are taken in every combination."""

TELLS_NOTHING = 1e-4
"""Mutual information, in nats, below which a finding is left out of a check's outcomes."""

LEAST_SHARE = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class FindingTable:
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


def tabulate_finding(
    finding: str, grades: tuple[str, ...], likelihoods: np.ndarray, belief: np.ndarray
) -> FindingTable:
    """Clean a finding's table and measure how telling it is.

    Args:
        likelihoods: shape (n_grades, n_hypotheses), any rounding; columns are made to sum to 1.
    """
    table = np.clip(likelihoods, LEAST_SHARE, None)
    table = table / table.sum(axis=0)
    p = table @ belief
    nats = float(((table * np.log(table / p[:, None])) @ belief).sum())
    return FindingTable(finding, grades, table, nats)


def tabulate_check(findings: Sequence[FindingTable]) -> Outcomes | None:
    """Joint outcomes of a check, or None if none of its findings tells anything.

    Args:
        findings: tables of what it reveals and is not known yet.
    """
    telling = sorted((table for table in findings if table.nats > TELLS_NOTHING), key=lambda table: -table.nats)
    if not telling:
        return None
    combined, count = [telling[0]], len(telling[0].grades)
    for table in telling[1:]:
        if count * len(table.grades) > ALL_COMBINED:
            break
        combined.append(table)
        count *= len(table.grades)
    parts = [_list_grades(table) for table in combined]
    rest = telling[len(combined) :]
    room = MOST_OUTCOMES // count - 1
    if rest and room > 0:
        parts.append(_list_first_unsound(rest, room))
    return join_outcomes(parts)


def _list_grades(table: FindingTable) -> Outcomes:
    answers: tuple[Mapping[str, str], ...] = tuple({table.finding: grade} for grade in table.grades)
    return Outcomes(tuple(f"{table.finding}={grade}" for grade in table.grades), table.likelihoods, answers)


def _list_first_unsound(tables: Sequence[FindingTable], most: int) -> Outcomes:
    """Outcomes "nothing else" and, per finding in turn, that it is the first one not sound."""
    events = tables[:most]
    none_yet = np.ones(events[0].likelihoods.shape[1])
    rows, labels, answers = [], [], []
    for table in events:
        unsound = 1.0 - table.likelihoods[0]
        rows.append(none_yet * unsound)
        none_yet = none_yet * table.likelihoods[0]
        labels.append(f"{table.finding}!={table.grades[0]}")
        answers.append({table.finding: table.grades[int(np.argmax(table.likelihoods[1:].sum(axis=1))) + 1]})
    sound = {table.finding: table.grades[0] for table in events}
    return Outcomes(("nothing_else", *labels), np.array([none_yet, *rows]), (sound, *answers))
