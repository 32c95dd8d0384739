"""Look ahead: what each outcome of an open finding, or of several at once, would say."""

import heapq
import itertools
import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from shiftlore.inference.results import JointOutcome, Outcomes
from shiftlore.inference.rows import Rows, Term
from shiftlore.inference.situations import Evaluation, Situation
from shiftlore.network import FloatArray

ROUNDING = 1e-13
"""Outcomes less probable than this are differences lost in rounding (64-bit floats, sums of up to some hundred)."""

LEAST_P = 1e-300
"""Stands for 0 under a logarithm; no smaller number keeps all its digits in 64-bit floats."""


def _run_terms(
    situation: Situation, terms: Sequence[Sequence[Term]], watch: Sequence[str] | None
) -> tuple[FloatArray, FloatArray, Evaluation]:
    """Run sums of terms, and the unchanged row in front of them.

    Args:
        situation: the answers so far.
        terms: per wanted sum, its terms.
        watch: watched variables; None runs forwards only.
    Returns: per sum its probability given the answers, shape (n,); the joint with each watched variable being
        present, shape (n, n_watch); and the evaluation, whose row 0 is what is known now.
    """
    flat = [term for group in terms for term in group]
    evaluation = situation.run(Rows(1 + len(flat), ({}, *(term.vectors for term in flat))), watch)
    weights = np.array([term.weight for term in flat]) * np.exp(evaluation.log_p[1:] - evaluation.log_p[0])
    counts = [len(group) for group in terms]
    owner = np.repeat(np.arange(len(terms)), counts)
    p = np.zeros(len(terms))
    np.add.at(p, owner, weights)
    if watch is None:
        return p, np.empty((len(terms), 0)), evaluation
    joint = np.zeros((len(terms), len(watch)))
    contributions = weights[:, None] * evaluation.p_present[1:]
    if all(count == 1 for count in counts):
        joint = contributions
    else:
        np.add.at(joint, owner, contributions)
    return p, joint, evaluation


def condition(p: FloatArray, joint: FloatArray, now: FloatArray) -> FloatArray:
    """Divide joints by the probabilities of their outcomes; an impossible outcome changes nothing.

    Args:
        p: shape (n,).
        joint: shape (n, n_watch).
        now: shape (n_watch,), what is known now.
    """
    possible = p > ROUNDING
    divided = joint / np.where(possible, p, 1.0)[:, None]
    return np.where(possible[:, None], np.clip(divided, 0.0, 1.0), now)


def evaluate_open(
    situation: Situation, findings: Sequence[str], watch: Sequence[str]
) -> tuple[Evaluation, dict[str, Outcomes]]:
    """Work out what each outcome of each open finding would say, all in one batch.

    Only the cumulated outcomes (at most in state j) are run; they are products of unary factors. The single ones are
    differences.
    """
    terms = [
        situation.expand(situation.split_open(name, state, Term(1.0, {})))
        for name in findings
        for state in range(situation.network.n_states(name) - 1)
    ]
    p_below, joint_below, evaluation = _run_terms(situation, terms, watch)
    now = evaluation.p_present[0]
    outcomes = {}
    start = 0
    for name in findings:
        stop = start + situation.network.n_states(name) - 1
        p = np.diff(p_below[start:stop], prepend=0.0, append=1.0).clip(0.0, 1.0)
        joint = np.diff(joint_below[start:stop], axis=0, prepend=np.zeros((1, len(watch))), append=now[None])
        outcomes[name] = Outcomes(p, condition(p, joint, now))
        start = stop
    return evaluation, outcomes


def _assignment_terms(situation: Situation, assignment: Mapping[str, int]) -> list[Term]:
    """Write P(the findings are exactly so) as signed cumulated products: inclusion-exclusion over the telling ones."""
    terms = [Term(1.0, {})]
    for name, state in assignment.items():
        upper = [situation.split_open(name, state, term) for term in terms]
        if state == situation.network.n_states(name) - 1:
            upper = terms
        lower = [situation.split_open(name, state - 1, term) for term in terms] if state else []
        terms = upper + [Term(-term.weight, term.vectors) for term in lower]
    return [final for term in terms for final in situation.expand(term)]


def _likely_first(marginals: Mapping[str, FloatArray]) -> Iterator[dict[str, int]]:
    """List assignments by the product of their marginals, most probable first."""
    names = list(marginals)
    ranked = {name: np.argsort(-marginals[name], kind="stable") for name in names}
    cost = {name: -np.log(np.maximum(marginals[name][ranked[name]], LEAST_P)) for name in names}
    start = (0,) * len(names)
    heap = [(sum(float(cost[name][0]) for name in names), start)]
    seen = {start}
    while heap:
        _, ranks = heapq.heappop(heap)
        yield {name: int(ranked[name][rank]) for name, rank in zip(names, ranks, strict=True)}
        for index, name in enumerate(names):
            following = (*ranks[:index], ranks[index] + 1, *ranks[index + 1 :])
            if following[index] < len(cost[name]) and following not in seen:
                seen.add(following)
                total = sum(float(cost[other][rank]) for other, rank in zip(names, following, strict=True))
                heapq.heappush(heap, (total, following))


def list_joint_outcomes(
    situation: Situation, findings: Sequence[str], watch: Sequence[str], p_rest: float, most: int
) -> list[JointOutcome]:
    """List the joint outcomes of findings that are revealed together, exactly or with one coarse rest.

    A coarse rest keeps its exact probability and its exact mixture of posteriors, so it never claims to tell more
    than a full list would.

    Args:
        situation: the answers so far.
        findings: open findings.
        watch: watched variables.
        p_rest: stop listing when what is left is less probable than this.
        most: list all outcomes if there are at most so many, and never more than this many.
    """
    sizes = [situation.network.n_states(name) for name in findings]
    complete = math.prod(sizes) <= most
    if complete:
        wanted = [dict(zip(findings, states, strict=True)) for states in itertools.product(*map(range, sizes))]
    else:
        _, outcomes = evaluate_open(situation, findings, ())
        marginals = {name: outcome.p_outcome for name, outcome in outcomes.items()}
        wanted = list(itertools.islice(_likely_first(marginals), most - 1))
    return _weigh_assignments(situation, wanted, watch, 0.0 if complete else p_rest, complete)


def _weigh_assignments(
    situation: Situation, wanted: Sequence[dict[str, int]], watch: Sequence[str], p_rest: float, complete: bool
) -> list[JointOutcome]:
    """Run the listed assignments and lump what they leave over."""
    terms = [_assignment_terms(situation, assignment) for assignment in wanted]
    if not complete:
        stop = _count_enough(situation, terms, p_rest)
        wanted, terms = wanted[:stop], terms[:stop]
    p, joint, evaluation = _run_terms(situation, terms, watch)
    p, joint, now = np.maximum(p, 0.0), np.maximum(joint, 0.0), evaluation.p_present[0]
    posteriors = condition(p, joint, now)
    listed = [
        JointOutcome(assignment, float(p[index]), posteriors[index])
        for index, assignment in enumerate(wanted)
        if p[index] > ROUNDING
    ]
    rest = 1 - float(p.sum())
    if not complete and rest > ROUNDING:
        mixture = condition(np.array([rest]), np.maximum(now - joint.sum(axis=0), 0.0)[None], now)[0]
        listed.append(JointOutcome(None, rest, mixture))
    return listed


def _count_enough(situation: Situation, terms: Sequence[Sequence[Term]], p_rest: float) -> int:
    """Count how many of the assignments must be listed so that the others are less probable than `p_rest`."""
    p, _, _ = _run_terms(situation, terms, None)
    enough = np.flatnonzero(1 - np.cumsum(np.maximum(p, 0.0)) <= p_rest)
    return int(enough[0]) + 1 if enough.size else len(terms)
