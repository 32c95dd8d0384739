"""The exact engine: answers in, posteriors out, and everything that choosing the next step needs."""

from collections import OrderedDict
from collections.abc import Mapping, Sequence

import numpy as np

from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.inference.numbers import Numbers
from shiftlore.inference.outcomes import evaluate_open, list_joint_outcomes
from shiftlore.inference.planning import make_plan
from shiftlore.inference.plans import Plan, Structure
from shiftlore.inference.reduction import Answers, find_relevant, sort_answers
from shiftlore.inference.results import Hypotheses, JointOutcome, Posterior, Retractions, Turn
from shiftlore.inference.retractions import retract_in_rows, without
from shiftlore.inference.rows import UNCHANGED, Rows
from shiftlore.inference.situations import Situation
from shiftlore.network import FloatArray, Network, Parameters, StateArray, Table, sample_network

Evidence = Mapping[str, int | FloatArray]
"""Variable -> state index (certain) or likelihood of each state (doubtful)."""

PLANS_KEPT = 256
"""Structures remembered; one interview meets a few dozen."""

P_REST = 0.02
"""Joint outcomes that together are less probable than this are told as one coarse rest; judgement."""

MOST_OUTCOMES = 64
"""Joint outcomes that are listed singly at most: six yes/no findings; judgement."""

LARGEST_ARRAY = 1 << 26
"""Most entries of one array (half a gigabyte); 20 telling findings of a tangled network need some ten thousand."""

SITUATIONS_KEPT = 16
"""Sets of answers remembered, so that several questions about one of them do not reduce it again."""


class Engine:
    """Exact posteriors of one network; make it with `prepare`.

    Methods never change the network. Plans and the latest situations are remembered between calls.
    """

    def __init__(self, network: Network) -> None:
        self.network = network
        self._numbers = Numbers(network)
        self._plans: OrderedDict[Structure, Plan] = OrderedDict()
        self._situations: OrderedDict[object, Situation] = OrderedDict()

    def _find_plan(self, structure: Structure) -> Plan:
        """Give the plan of a structure, from memory if it is known.

        Raises: UsageProblem: the structure is too tangled for the memory of a machine.
        """
        plan = self._plans.pop(structure, None) or make_plan(structure)
        if plan.largest > LARGEST_ARRAY:
            raise UsageProblem("These answers depend on each other in too many ways to be worked out exactly.")
        self._plans[structure] = plan
        while len(self._plans) > PLANS_KEPT:
            self._plans.popitem(last=False)
        return plan

    def _situation(self, answers: Answers, needed: Sequence[str]) -> Situation:
        """Give the situation of a set of answers, from memory if it is known."""
        soft = frozenset((name, likelihood.tobytes()) for name, likelihood in answers.soft.items())
        key = (frozenset(answers.hard.items()), soft, frozenset(needed))
        situation = self._situations.pop(key, None)
        if situation is None:
            situation = self._make_situation(answers, needed)
            self._refuse_impossible(situation)
        self._situations[key] = situation
        while len(self._situations) > SITUATIONS_KEPT:
            self._situations.popitem(last=False)
        return situation

    def _refuse_impossible(self, situation: Situation) -> None:
        """Raise ImpossibleEvidence with a smallest clash if the answers have probability 0."""
        if _is_possible(situation):
            return
        clash = situation.answers
        for name in situation.answers.names:
            fewer = without(clash, [name])
            if not _is_possible(self._make_situation(fewer, ())):
                clash = fewer
        raise ImpossibleEvidence(clash.names)

    def _needed(self, watch: Sequence[str], findings: Sequence[str] = ()) -> list[str]:
        """Name the variables that must keep a place: watched ones, and tables above open findings."""
        above = find_relevant(self.network, findings)
        tables = [
            name for name in above if not self.network.is_root(name) and isinstance(self.network.gates[name], Table)
        ]
        return sorted({*tables, *(name for name in watch if not self.network.is_root(name))})

    def _watch(self, watch: Sequence[str] | None) -> tuple[str, ...]:
        """Take all roots where nothing is said."""
        return self.network.roots if watch is None else tuple(watch)

    def posterior(self, evidence: Evidence, watch: Sequence[str] | None = None) -> Posterior:
        """Work out how probable every watched variable is, given the answers.

        Args:
            evidence: the answers.
            watch: variables; None takes all roots (causes).
        Raises: ImpossibleEvidence: the answers have probability 0; names a smallest clash.
        """
        watch = self._watch(watch)
        situation = self._situation(sort_answers(self.network, evidence), self._needed(watch))
        return _read_posterior(situation, watch)

    def turn(self, evidence: Evidence, open_findings: Sequence[str], watch: Sequence[str] | None = None) -> Turn:
        """Work out what is known now, and what every outcome of every open finding would change.

        Args:
            evidence: the answers.
            open_findings: variables that could be asked next; none of them answered.
            watch: variables; None takes all roots (causes).
        Raises: ImpossibleEvidence, as `posterior`.
        """
        watch = self._watch(watch)
        answered = [name for name in open_findings if name in evidence]
        if answered:
            raise ValueError(f"turn: {answered} have been answered already.")
        situation = self._situation(sort_answers(self.network, evidence), self._needed(watch, open_findings))
        posterior = _read_posterior(situation, watch)
        _, outcomes = evaluate_open(situation, open_findings, watch)
        return Turn(posterior, outcomes)

    def without_each(self, evidence: Evidence, watch: Sequence[str] | None = None) -> Retractions:
        """Take back every single answer in turn, to show what speaks for and against.

        Args:
            evidence: the answers.
            watch: variables; None takes all roots (causes).
        Returns: per answer what would be known without it.
        """
        watch = self._watch(watch)
        answers = sort_answers(self.network, evidence)
        self._situation(answers, self._needed(watch))
        return self._retract(answers, tuple(evidence), watch)

    def _retract(self, answers: Answers, order: Sequence[str], watch: Sequence[str]) -> Retractions:
        """Take back in rows what rows can take back, the other answers one situation at a time."""
        needed = self._needed(watch)
        place = {name: index for index, name in enumerate(order)}
        p_present, log_p = np.empty((len(order), len(watch))), np.empty(len(order))
        batch = retract_in_rows(self.network, answers, needed, watch, self._make_situation)
        done, run = batch if batch else ([], None)
        for row, name in enumerate(done):
            assert run is not None
            p_present[place[name]], log_p[place[name]] = run.p_present[row], run.log_p[row]
        for name in order:
            if name not in done:
                situation = self._situation(without(answers, [name]), needed)
                single = situation.run(UNCHANGED, watch)
                p_present[place[name]] = single.p_present[0]
                log_p[place[name]] = single.log_p[0] - situation.log_norm[0]
        return Retractions(tuple(order), p_present, log_p)

    def _make_situation(self, answers: Answers, needed: Sequence[str]) -> Situation:
        """Make a situation without remembering it."""
        return Situation(self.network, self._numbers, answers, needed, self._find_plan)

    def draws(self, evidence: Evidence, parameters: Parameters, watch: Sequence[str] | None = None) -> FloatArray:
        """Work out the posteriors under every draw of the network's numbers, so that a ranking can state its spread.

        Args:
            evidence: the answers.
            parameters: from `draw_parameters`.
            watch: variables; None takes all roots (causes).
        Returns: p_present, shape (n_draws, n_watch); draws under which the answers are impossible are 0.
        """
        watch = self._watch(watch)
        answers = sort_answers(self.network, evidence)
        numbers = Numbers(self.network, parameters)
        situation = Situation(self.network, numbers, answers, self._needed(watch), self._find_plan)
        run = situation.run(UNCHANGED, watch)
        return np.where(np.isfinite(run.log_p)[:, None], run.p_present, 0.0)

    def joint_outcomes(
        self,
        evidence: Evidence,
        findings: Sequence[str],
        watch: Sequence[str] | None = None,
        p_rest: float = P_REST,
        most: int = MOST_OUTCOMES,
    ) -> list[JointOutcome]:
        """List the joint outcomes of findings that one check reveals together.

        Args:
            evidence: the answers.
            findings: open findings.
            watch: variables; None takes all roots (causes).
            p_rest: listing stops when what is left is less probable than this.
            most: all outcomes are listed if there are at most so many; never more than this.
        Returns: outcomes whose probabilities add up to 1; a coarse rest has assignment None and stands last.
        """
        watch = self._watch(watch)
        above = find_relevant(
            self.network, [parent for name in findings for parent in self.network.gates[name].parents]
        )
        needed = sorted({*self._needed(watch, findings), *(name for name in findings if name in above)})
        situation = self._situation(sort_answers(self.network, evidence), needed)
        return list_joint_outcomes(situation, findings, watch, p_rest, most)

    def p_free(self, evidence: Evidence, kappa: FloatArray, watch: Sequence[str] | None = None) -> FloatArray:
        """Work out how probable it is that nothing watched is left after jobs that cure each of them with some chance.

        Args:
            evidence: the answers.
            kappa: shape (n_rows, n_watch), chance that variable i, if present, is cured.
            watch: variables; None takes all roots (causes).
        Returns: shape (n_rows,), the expectation of the product of kappa over the present watched variables, where
            worlds in which none of them is present count 0.
        """
        watch = self._watch(watch)
        situation = self._situation(sort_answers(self.network, evidence), self._needed(watch))
        factors = np.concatenate([np.ones((1, len(watch))), np.zeros((1, len(watch))), np.asarray(kappa, float)])
        run = situation.run(Rows(len(factors), (), watch, np.ones_like(factors.T), factors.T))
        p = np.exp(run.log_p - run.log_p[0])
        return np.clip(p[2:] - p[1], 0.0, 1.0)

    def hypotheses(
        self, evidence: Evidence, watch: Sequence[str] | None = None, pairs_among: Sequence[str] = ()
    ) -> Hypotheses:
        """Work out how probable it is that exactly one, or exactly two, of the watched variables are present.

        Args:
            evidence: the answers.
            watch: variables; None takes all roots (causes).
            pairs_among: watched variables whose pairs are wanted.
        """
        watch = self._watch(watch)
        situation = self._situation(sort_answers(self.network, evidence), self._needed(watch))
        place = {name: index for index, name in enumerate(watch)}
        pairs = [(first, second) for k, first in enumerate(pairs_among) for second in pairs_among[k + 1 :]]
        sets = [[], *([index] for index in range(len(watch))), *([place[a], place[b]] for a, b in pairs)]
        present = np.zeros((len(watch), len(sets)))
        for row, members in enumerate(sets):
            present[members, row] = 1.0
        run = situation.run(Rows(len(sets), (), watch, 1 - present, present))
        now = situation.run(UNCHANGED)
        p = np.exp(run.log_p - now.log_p[0])
        return Hypotheses(
            watch,
            float(p[0]),
            p[1 : 1 + len(watch)],
            tuple(pairs),
            p[1 + len(watch) :],
            max(0.0, 1 - float(p.sum())),
        )

    def sample(self, rng: np.random.Generator, n: int) -> dict[str, StateArray]:
        """Draw whole vehicles from the network, as `sample_network`."""
        return sample_network(self.network, rng, n)


def prepare(network: Network) -> Engine:
    """Make an engine for a network."""
    return Engine(network)


def _is_possible(situation: Situation) -> bool:
    """Tell whether the answers have a probability above 0."""
    return bool(np.isfinite(situation.run(UNCHANGED).log_p[0]))


def _read_posterior(situation: Situation, watch: Sequence[str]) -> Posterior:
    """Read the posterior of a situation."""
    p_states, log_p = situation.read_states(watch)
    p_present = np.array([p_states[name][1:].sum() for name in watch])
    return Posterior(log_p, tuple(watch), p_states, p_present)
