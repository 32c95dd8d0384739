"""Choose the next question: the one from which most is expected to be learnt for the time it takes."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.compiling import CompiledCase

MINUTES_BY_WAY = {"owner": 0.5, "history": 0.5, "look": 2.0, "scan": 6.0, "road": 10.0}
"""How long an answer takes by the way it is had, in minutes (judgement)."""
CHEAP_WAYS = ("owner", "history", "look")
P_TINY = 1e-12
SEPARATES_LEADERS = 2.0
"""A question that the rules name as telling the two leading causes apart counts so much more (judgement)."""
P_LEADING = 0.08
RULED_OUT_SOUND = 0.995
"""A sound answer that is as sure as this is not worth asking for."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A question that could be asked, and what it is expected to tell.

    Args:
        findings: the open findings it would answer; several for a question such as "in which gears?".
        nats: expected information about the causes.
        worth: nats per minute, leaders' separation counted in.
        mover: the cause whose probability would change most, and to what, by answer.
    """

    findings: tuple[str, ...]
    nats: float
    worth: float
    separates: tuple[str, str] | None = None


def binary_information(p_outcome: np.ndarray, p_after: np.ndarray, p_now: np.ndarray) -> float:
    """Give the expected change of belief, summed over the causes, in nats.

    Args:
        p_outcome: shape (k,).
        p_after: shape (k, n_causes).
        p_now: shape (n_causes,).
    Source: Lindley 1956, expected Kullback-Leibler gain of an experiment; causes taken one by one.
    """
    after = np.clip(p_after, P_TINY, 1 - P_TINY)
    now = np.clip(p_now, P_TINY, 1 - P_TINY)
    gain = after * np.log(after / now) + (1 - after) * np.log((1 - after) / (1 - now))
    return float(p_outcome @ gain.sum(axis=1))


def foresee(compiled: CompiledCase, predicted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give how likely each outcome of a finding is, and the causes after it.

    Args:
        predicted: P(outcome | root state, answers), shape (k, n_states).
    Returns: shapes (k,) and (k, n_causes); an impossible outcome leaves the causes as they are.
    """
    joint = predicted * compiled.p_faults
    p_outcome = joint.sum(axis=1)
    after = np.where(p_outcome[:, None] > P_TINY, joint, compiled.p_faults) / np.maximum(
        np.where(p_outcome > P_TINY, p_outcome, 1.0), P_TINY
    )[:, None]
    return p_outcome, compiled.faults.sum_over_causes(after)


def list_cheap(compiled: CompiledCase, asked: Iterable[str]) -> list[str]:
    """List the open findings that cost no more than a question or a look."""
    done = set(asked)
    records = compiled.expansion.finding_records
    return [
        key for key in compiled.open_findings()
        if records[key].got_by in CHEAP_WAYS and key not in done and not records[key].stands_for
    ]


def find_leaders(compiled: CompiledCase, p_now: np.ndarray) -> tuple[str, str] | None:
    """Name the templates of the two leading causes, if both are in earnest."""
    order = np.argsort(-p_now, kind="stable")
    templates: list[str] = []
    for i in order:
        cause = compiled.expansion.causes[compiled.causes[i]]
        if p_now[i] < P_LEADING:
            break
        if cause.template not in templates:
            templates.append(cause.template)
        if len(templates) == 2:
            return templates[0], templates[1]
    return None


def list_separators(compiled: CompiledCase, leaders: tuple[str, str] | None) -> set[str]:
    """List the findings that the rules name to tell the two leaders apart, expanded."""
    if leaders is None:
        return set()
    causes = compiled.knowledge.causes
    named = [
        finding
        for own, other in (leaders, leaders[::-1])
        for alike in causes[own].looks_like if alike.cause == other
        for finding in alike.tells_apart
    ]
    return {key for finding in named for key in compiled.expansion.of_template.get(finding, (finding,))}


def rank_questions(compiled: CompiledCase, open_findings: Sequence[str]) -> list[Candidate]:
    """Rank the questions that could be asked now, best first.

    Findings of one template asked together ("in which gears?") make one question.
    """
    p_now = compiled.p_causes
    predicted = compiled.engine.predict(compiled.evidence, tuple(open_findings))
    leaders = find_leaders(compiled, p_now)
    separators = list_separators(compiled, leaders)
    candidates = []
    for findings in group_findings(compiled, open_findings).values():
        nats = 0.0
        for finding in findings:
            p_outcome, p_after = foresee(compiled, predicted[finding])
            if p_outcome[0] < RULED_OUT_SOUND:
                nats += binary_information(p_outcome, p_after, p_now)
        minutes = MINUTES_BY_WAY[compiled.expansion.finding_records[findings[0]].got_by]
        between = leaders if separators & set(findings) else None
        worth = nats / (minutes + 1) * (SEPARATES_LEADERS if between else 1)
        candidates.append(Candidate(tuple(findings), nats, worth, between))
    return sorted(candidates, key=lambda candidate: -candidate.worth)


def group_findings(compiled: CompiledCase, findings: Iterable[str]) -> Mapping[str, list[str]]:
    """Put findings of one template that are asked together under one key, all others under their own."""
    groups: dict[str, list[str]] = {}
    records = compiled.expansion.finding_records
    for key in findings:
        record = records[key]
        together = record.scope.each is not None and record.together and record.grades == ("no", "yes")
        groups.setdefault(record.id if together else key, []).append(key)
    return groups
