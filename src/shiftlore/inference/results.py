"""What the engine hands back: frozen records of plain arrays."""

from collections.abc import Mapping
from dataclasses import dataclass

from shiftlore.network import FloatArray


@dataclass(frozen=True, eq=False)
class Posterior:
    """What a set of answers says about the watched variables.

    Args:
        log_p_evidence: natural logarithm of P(answers | the vehicle was brought in): the sum over all worlds of prior
            times tie weight times answers, divided by the same sum without the answers.
        watch: the watched variables, in the order of `p_present`.
        p_states: watched variable -> shape (states,), adds up to 1.
        p_present: shape (n_watch,), 1 - P(state 0).
    """

    log_p_evidence: float
    watch: tuple[str, ...]
    p_states: Mapping[str, FloatArray]
    p_present: FloatArray


@dataclass(frozen=True, eq=False)
class Outcomes:
    """What each outcome of one open finding would say.

    Args:
        p_outcome: shape (k,), probability of each state of the finding.
        p_present: shape (k, n_watch), what would then be known; where an outcome is impossible, what is known now.
    """

    p_outcome: FloatArray
    p_present: FloatArray


@dataclass(frozen=True, eq=False)
class Turn:
    """Everything needed to choose the next question: what is known, and what each answer would change.

    Args:
        posterior: what is known now.
        outcomes: open finding -> what each of its outcomes would say.
    """

    posterior: Posterior
    outcomes: Mapping[str, Outcomes]


@dataclass(frozen=True, eq=False)
class Retractions:
    """What would be known without each single answer.

    Args:
        findings: the answered variables, in the order of the answers.
        p_present: shape (n_answers, n_watch).
        log_p_evidence: shape (n_answers,), as in Posterior, without that answer.
    """

    findings: tuple[str, ...]
    p_present: FloatArray
    log_p_evidence: FloatArray


@dataclass(frozen=True, eq=False)
class JointOutcome:
    """One joint outcome of several findings that a check reveals together.

    Args:
        assignment: finding -> state index; None for all outcomes that were not listed singly.
        p: its probability given the answers so far.
        p_present: shape (n_watch,), what would then be known.
    """

    assignment: Mapping[str, int] | None
    p: float
    p_present: FloatArray


@dataclass(frozen=True, eq=False)
class Hypotheses:
    """How probable it is that exactly one, or exactly two, of the watched variables are present.

    Args:
        watch: the watched variables.
        p_none: none of them is present.
        p_only: shape (n_watch,), this one and no other.
        pairs: the pairs looked at.
        p_pair: shape (n_pairs,), exactly these two.
        p_rest: all that is left: other pairs, three and more.
    """

    watch: tuple[str, ...]
    p_none: float
    p_only: FloatArray
    pairs: tuple[tuple[str, str], ...]
    p_pair: FloatArray
    p_rest: float
