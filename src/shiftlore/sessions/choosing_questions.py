"""Choose the next question: the one from which most is expected to be learnt for the time it takes."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.compiling import CompiledCase

ASKING_MINUTES = 0.5
"""How long an answer takes that the owner or the papers give (judgement)."""
LOOK = "look"
CHEAP_WAYS = ("owner", "history", LOOK)
CHEAP_LOOK_MINUTES = 10.0
"""A look that takes longer, opening counted in, is a check with a price, not a question (judgement)."""
P_TINY = 1e-12
LEAST_NATS = 0.05
"""Below this a question is expected to change too little to bother the owner with it (judgement)."""
LEAST_NATS_WANTED = 0.02
"""The same where more questions are asked for, or where a question tells two leading causes apart (judgement)."""
P_LEADING = 0.08
P_WORTH_ASKING = 0.12
"""A question about several parts or gears is put only if one of them is at least as probable as this (judgement)."""
P_NOT_ABSURD = 0.03
"""Nobody asks for what is rarer than this after all that was said (judgement)."""
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


def foresee_each(
    compiled: CompiledCase, predicted: Mapping[str, np.ndarray]
) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Give the same as `foresee` for many findings at once, which is quicker than one by one."""
    names = list(predicted)
    if not names:
        return {}
    p_outcome, after = foresee(compiled, np.concatenate([predicted[name] for name in names]))
    cuts = np.cumsum([len(predicted[name]) for name in names])[:-1]
    return dict(zip(names, zip(np.split(p_outcome, cuts), np.split(after, cuts), strict=True), strict=True))


def list_cheap(compiled: CompiledCase, asked: Iterable[str]) -> list[str]:
    """List the open findings that cost no more than a question or a look."""
    done = set(asked)
    records = compiled.expansion.finding_records
    minutes = look_minutes(compiled)
    return [
        key for key in compiled.open_findings()
        if records[key].got_by in CHEAP_WAYS and key not in done and not records[key].stands_for
        and (records[key].got_by != LOOK or minutes.get(key, 0.0) <= CHEAP_LOOK_MINUTES)
    ]


def look_minutes(compiled: CompiledCase) -> dict[str, float]:
    """Give the minutes in which each finding can be had at best, opening counted in where it is closed now."""
    knowledge = compiled.knowledge
    opened = set(knowledge.access_path(compiled.case.access))
    best: dict[str, float] = {}
    for key, check in compiled.expansion.checks.items():
        closed = [level for level in knowledge.access_path(check.access) if level not in opened]
        opening = sum(knowledge.access[level].open_minutes for level in closed)
        for finding in compiled.expansion.reveals[key]:
            best[finding] = min(best.get(finding, np.inf), check.minutes + opening)
    return best


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
    """Rank the questions that could be asked now, best first; one that tells two leading causes apart goes first.

    Findings of one template asked together ("in which gears?") make one question.
    """
    p_now = compiled.p_causes
    foreseen = foresee_each(compiled, compiled.engine.predict(compiled.evidence, tuple(open_findings)))
    leaders = find_leaders(compiled, p_now)
    separators = list_separators(compiled, leaders)
    minutes = look_minutes(compiled)
    candidates = []
    for findings in group_findings(compiled, open_findings).values():
        nats = _weigh_findings([foreseen[finding] for finding in findings], p_now)
        way = compiled.expansion.finding_records[findings[0]].got_by
        takes = minutes.get(findings[0], 0.0) if way == LOOK else ASKING_MINUTES
        between = leaders if separators & set(findings) else None
        candidates.append(Candidate(tuple(findings), nats, nats / (takes + 1), between))
    return sorted(candidates, key=_by_worth)


def _weigh_findings(foreseen: Sequence[tuple[np.ndarray, np.ndarray]], p_now: np.ndarray) -> float:
    """Sum what the findings of one question are expected to tell, in nats."""
    nats, likeliest = 0.0, 0.0
    for p_outcome, p_after in foreseen:
        likeliest = max(likeliest, 1 - float(p_outcome[0]))
        if p_outcome[0] < RULED_OUT_SOUND:
            nats += binary_information(p_outcome, p_after, p_now)
    return nats if likeliest >= (P_NOT_ABSURD if len(foreseen) == 1 else P_WORTH_ASKING) else 0.0


def _by_worth(candidate: Candidate) -> tuple[bool, float]:
    separates = candidate.separates is not None and candidate.nats >= LEAST_NATS_WANTED
    return not separates, -candidate.worth


def group_findings(compiled: CompiledCase, findings: Iterable[str]) -> Mapping[str, list[str]]:
    """Put findings of one template that are asked together under one key, all others under their own."""
    groups: dict[str, list[str]] = {}
    records = compiled.expansion.finding_records
    for key in findings:
        record = records[key]
        together = record.scope.each is not None and record.together and record.grades == ("no", "yes")
        groups.setdefault(record.id if together else key, []).append(key)
    return groups
