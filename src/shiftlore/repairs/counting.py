"""Learn the numbers of the rules from vehicles of which it is known, or half known, what they had.

Expectation-maximisation on the noisy-MAX gates of single causes. What cannot be seen (which of several causes it was, which
line brought a sign about, whether a state was there) counts by its probability; every number starts from the rules, which
count as so many vehicles of their own: the weight of each line's strength word, `RULES_COUNT` for the base rates.
Source: Dempster, Laird and Rubin 1977; noisy-OR counts as in Diez 1993; Gelman et al., Bayesian Data Analysis, ch. 2.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.cases import Case
from shiftlore.compiling import (
    CompiledUnit,
    ExpandedNode,
    Learned,
    Overlay,
    compile_unit,
    single_evidence,
    with_overlay,
)
from shiftlore.compiling.expansion import NodeLink
from shiftlore.compiling.gates import is_weak
from shiftlore.exact import Doubted, Evidence, HubEngine
from shiftlore.knowledge import Knowledge

RULES_COUNT = 400.0
"""Vehicles that the rules' base rates count for (judgement)."""
RULES_COUNT_UNEXPLAINED = 40.0
"""Signs without a cause that the rules' own numbers of these count for (judgement)."""
MOST_ROUNDS = 12
SMALL_STEP = 2e-3
"""Rounds end when no number moves by more than this part of itself."""
LEAST_SEEN = 0.5
"""Vehicles, by their parts, that a number must rest on to be told."""
_P_NEXT_TO_NOTHING = 1e-6
CHUNK = 16
"""Vehicles that are counted in one go."""
Spread = Callable[[Callable[[Any, Any], Any], Iterable[Any]], Iterator[tuple[int, Any]]]
"""Calls a function of the module level with the rules and each item; gives (place of the item, result) as they come."""


@dataclass(frozen=True, slots=True)
class Confirmed:
    """A vehicle to learn from.

    Args:
        causes: expanded or written ids of what it may have been; none where nobody knows.
        areas: areas of what it may have been, where no cause is named.
        known_by: a word for how that is known, for the counts.
        weight: vehicles that it counts for, 0 to 1.
        is_sample: whether it came in as vehicles do; what was published for its rarity teaches no base rates.
        told_unasked: share of the owner's signs that are told unasked; a sign that is not told counts so much as not there.
            0 where what is not told says nothing.
    """

    case: Case
    causes: tuple[str, ...] = ()
    areas: tuple[str, ...] = ()
    known_by: str = ""
    weight: float = 1.0
    is_sample: bool = True
    told_unasked: float = 0.0


Line = tuple[str, str]
"""A cause or state and what it brings about, as written."""


def _nothing() -> defaultdict[Any, float]:
    return defaultdict(float)


@dataclass(eq=False)
class Counts:
    """What all vehicles together say, expected under the numbers of one round.

    Args:
        causes, of_causes: cause as written -> how often it was there, and how often it would have been by the rules.
        fired, tried, meant: (parent, child) as written -> how often the line showed, could have shown, and would have by
            the rules.
        unexplained, of_unexplained: signs that showed by themselves, and how many would have by the rules.
        log_likelihood: ln P(answers and what is known of the cause), weighed.
        refused: vehicles whose answers no cause that is allowed can give.
    """

    causes: dict[str, float] = field(default_factory=_nothing)
    of_causes: dict[str, float] = field(default_factory=_nothing)
    fired: dict[Line, float] = field(default_factory=_nothing)
    tried: dict[Line, float] = field(default_factory=_nothing)
    meant: dict[Line, float] = field(default_factory=_nothing)
    prior: dict[Line, float] = field(default_factory=dict)
    unexplained: float = 0.0
    of_unexplained: float = 0.0
    log_likelihood: float = 0.0
    refused: list[Confirmed] = field(default_factory=list)

    def add(self, more: "Counts") -> None:
        """Add what other vehicles say."""
        for name in _SUMS:
            own = getattr(self, name)
            for key, value in getattr(more, name).items():
                own[key] += value
        self.prior |= more.prior
        self.unexplained += more.unexplained
        self.of_unexplained += more.of_unexplained
        self.log_likelihood += more.log_likelihood
        self.refused += more.refused


_SUMS = ("causes", "of_causes", "fired", "tried", "meant")


@dataclass(frozen=True)
class CountTask:
    """Some of the vehicles, to be counted under the rules with an overlay."""

    overlay: Overlay
    vehicles: tuple[Confirmed, ...]


@dataclass(frozen=True)
class Learning:
    """What was learned.

    Args:
        log_likelihoods: ln P of what is known, weighed, before each round.
        refused: vehicles that could not be used: no cause that is allowed gives their answers.
    """

    overlay: Overlay
    log_likelihoods: tuple[float, ...]
    refused: tuple[Confirmed, ...]


def learn_numbers(
    knowledge: Knowledge,
    vehicles: Sequence[Confirmed],
    rounds: int = MOST_ROUNDS,
    tell_done: Callable[[float], None] = lambda share: None,
    spread: Spread | None = None,
) -> Learning:
    """Learn base rates, strengths of lines and the share of unexplained signs.

    Args:
        knowledge: the rules; an overlay on them is taken off.
        rounds: most rounds.
        tell_done: called with how far it is at most, 0 to 1.
        spread: has chunks of vehicles counted elsewhere; None counts them here. The numbers are the same either way.
    """
    overlay, path = Overlay(), []
    for done in range(rounds):

        def tell_part(share: float, done: int = done) -> None:
            tell_done((done + share) / rounds)

        counts = count_vehicles(knowledge, overlay, vehicles, tell_part, spread)
        path.append(counts.log_likelihood)
        before, overlay = overlay, weigh_counts(knowledge, counts, vehicles)
        if _largest_step(before, overlay) < SMALL_STEP:
            break
    return Learning(overlay, tuple(path), tuple(counts.refused))


def _largest_step(before: Overlay, after: Overlay) -> float:
    """Give the largest change of a number, as a part of itself."""
    pairs = [(before.unexplained.learned, after.unexplained)]
    pairs += [(before.base_rates.get(key, one).learned, one) for key, one in after.base_rates.items()]
    pairs += [(before.strengths.get(key, one).learned, one) for key, one in after.strengths.items()]
    return max(abs(one.learned / old - 1) for old, one in pairs)


def count_vehicles(
    knowledge: Knowledge,
    overlay: Overlay,
    vehicles: Sequence[Confirmed],
    tell_done: Callable[[float], None] = lambda share: None,
    spread: Spread | None = None,
) -> Counts:
    """Count what the vehicles say, under the rules with an overlay.

    They are counted in chunks that are the same whoever counts them, and added up in their order; so are all digits.
    """
    tasks = [CountTask(overlay, tuple(vehicles[at : at + CHUNK])) for at in range(0, len(vehicles), CHUNK)]
    counted = ((i, count_chunk(knowledge, task)) for i, task in enumerate(tasks))
    found: dict[int, Counts] = {}
    for place, counts in counted if spread is None else spread(count_chunk, tasks):
        found[place] = counts
        tell_done(len(found) / len(tasks))
    whole = Counts()
    for place in range(len(tasks)):
        whole.add(found.pop(place))
    return whole


def count_chunk(knowledge: Knowledge, task: CountTask) -> Counts:
    """Count what some of the vehicles say."""
    overlay, laid = knowledge.worked_out.get(count_chunk, (None, knowledge))
    if overlay != task.overlay:
        laid = with_overlay(knowledge, task.overlay)
        knowledge.worked_out[count_chunk] = (task.overlay, laid)
    counts = Counts()
    for vehicle in task.vehicles:
        plain, unit = (compile_unit(rules, vehicle.case.vehicle) for rules in (knowledge, laid))
        try:
            _Count(counts, plain, unit, vehicle).run()
        except ImpossibleEvidence:
            counts.refused.append(vehicle)
    return counts


class _Count:
    """One vehicle being counted."""

    def __init__(self, counts: Counts, plain: CompiledUnit, laid: CompiledUnit, vehicle: Confirmed):
        self.counts, self.vehicle = counts, vehicle
        unit, prepared, evidence = single_evidence(laid, vehicle.case)
        self.expansion, self.rules = unit.expansion, plain.expansion
        self.engine: HubEngine = prepared.single
        self.weights = prepared.chances.weights
        self.causes = prepared.chances.causes
        moved = np.array([self.expansion.causes[key].share / self.rules.causes[key].share for key in self.causes])
        self.by_rules = self.weights / moved / (self.weights / moved).sum()
        self._hidden = {key: i for i, key in enumerate(self.engine.tables.hidden)}
        self._column = {key: i for i, key in enumerate(self.causes, 1)}
        self.evidence = {**self._unasked(evidence), **evidence}

    def _unasked(self, evidence: Evidence) -> Evidence:
        """Take what the owner would have told and did not as not there, half-heartedly."""
        told = self.vehicle.told_unasked
        if told <= 0:
            return {}
        return {
            key: Doubted(0, overlooked=1 - told)
            for key, record in self.expansion.finding_records.items()
            if record.got_by == "owner" and key not in evidence and key in self.expansion.findings
        }

    def run(self) -> None:
        """Add the vehicle to the counts."""
        log_p = self.engine.stand(self.evidence).log_likelihood[1:] + np.log(np.maximum(self.weights, 1e-300))
        log_p = np.where(self._allowed(), log_p, -np.inf)
        top = float(log_p.max())
        if not np.isfinite(top):
            raise ImpossibleEvidence(())
        shares = np.exp(log_p - top)
        part = self.vehicle.weight * shares / shares.sum()
        self.counts.log_likelihood += self.vehicle.weight * (top + float(np.log(shares.sum())))
        if self.vehicle.is_sample:
            for cause, there, likely in zip(self.causes, part.tolist(), self.by_rules.tolist(), strict=True):
                template = self.expansion.causes[cause].template
                self.counts.causes[template] += there
                self.counts.of_causes[template] += self.vehicle.weight * likely
        self.part = np.concatenate([[0.0], part])
        present, states = self._present(self.evidence), set()
        for finding, said in self.evidence.items():
            states |= {
                link.parent for link in self.expansion.findings[finding].links if link.parent in self.expansion.states
            }
            self._count_finding(finding, said, present)
        for state in sorted(states):
            self._count_state(state, present)

    def _allowed(self) -> np.ndarray:
        named, areas = set(self.vehicle.causes), set(self.vehicle.areas)
        if not named and not areas:
            return np.ones(len(self.causes), dtype=bool)
        return np.array(
            [
                key in named or cause.template in named or cause.area in areas
                for key, cause in self.expansion.causes.items()
            ]
        )

    def _present(self, evidence: Evidence) -> np.ndarray:
        return self.engine.p_present(self.engine.stand(evidence))

    def _count_finding(self, finding: str, said: int | Doubted, present: np.ndarray) -> None:
        """Share out who brought the answer of a finding about."""
        answer = said if isinstance(said, Doubted) else Doubted(int(said))
        node, grade = self.expansion.findings[finding], answer.grade
        before, p_shown = present, np.ones_like(self.part)
        if grade:
            others = {key: value for key, value in self.evidence.items() if key != finding}
            before = self._present(others)
            table = self.engine.predict(others, [finding])[finding]
            shown = table[grade] / np.maximum(table[: grade + 1].sum(axis=0), 1e-300)
            p_shown = np.maximum(1 - (1 - answer.imagined) * (1 - shown), 1e-300)
        for link, rules in self._links(node, self.rules.findings.get(finding)):
            key = self._key(link.parent, node)
            if (h := self._hidden.get(link.parent)) is None:
                there = earlier = self._only(link.parent)
            elif is_weak(link):
                there = earlier = self.part * self.engine.tables.p_hidden[h]
            else:
                there, earlier = self.part * present[h], self.part * before[h]
            fired = float(there.sum()) * _still(link.rows[1], answer)
            if grade:
                surely = np.minimum(earlier * _share_at(link.rows[1], grade) / p_shown, there)
                fired = float(surely.sum() + (there - surely).sum() * _share_below(link.rows[1], grade))
            self._add(key, fired, float(there.sum()), rules)
        leak, whole = node.leak, float(self.part.sum())
        explained = whole * _still(leak, answer)
        if grade:
            surely = np.minimum(self.part * _share_at(leak, grade) / p_shown, self.part)
            explained = float(surely.sum() + (self.part - surely).sum() * _share_below(leak, grade))
        plain = self.rules.findings[finding].leak if finding in self.rules.findings else leak
        self.counts.unexplained += explained
        self.counts.of_unexplained += whole * (1 - plain[0])

    def _count_state(self, state: str, present: np.ndarray) -> None:
        """Share out which cause brought a state about."""
        node, h = self.expansion.states[state], self._hidden[state]
        p_state = np.maximum(self.engine.tables.p_hidden[h], 1e-300)
        for link, rules in self._links(node, self.rules.states.get(state)):
            there = self._only(link.parent)
            fired = float((there * np.minimum(present[h] * (1 - link.rows[1][0]) / p_state, 1.0)).sum())
            self._add(self._key(link.parent, node), fired, float(there.sum()), rules)

    def _links(self, node: ExpandedNode, plain: ExpandedNode | None) -> Iterator[tuple[NodeLink, NodeLink]]:
        """Give the lines of a node from what may have been there, each beside the rules' own."""
        if plain is None:
            return
        for link, rules in zip(node.links, plain.links, strict=True):
            if link.parent in self._hidden or self.part[self._column[link.parent]] > _P_NEXT_TO_NOTHING:
                yield link, rules

    def _only(self, cause: str) -> np.ndarray:
        row = np.zeros_like(self.part)
        row[self._column[cause]] = self.part[self._column[cause]]
        return row

    def _key(self, parent: str, node: ExpandedNode) -> Line:
        record = self.expansion.causes.get(parent) or self.expansion.states[parent]
        return record.template, node.template

    def _add(self, key: Line, fired: float, tried: float, rules: NodeLink) -> None:
        self.counts.fired[key] += fired
        self.counts.tried[key] += tried
        self.counts.meant[key] += tried * (1 - rules.rows[1][0])
        self.counts.prior[key] = rules.weight


def _share_at(pmf: Sequence[float], grade: int) -> float:
    """P(it reaches just this grade, given that it goes no higher)."""
    return pmf[grade] / max(sum(pmf[: grade + 1]), 1e-300)


def _share_below(pmf: Sequence[float], grade: int) -> float:
    """P(it shows in a lower grade, given that it does not reach this one)."""
    below = sum(pmf[:grade])
    return (below - pmf[0]) / max(below, 1e-300)


def _still(pmf: Sequence[float], answer: Doubted) -> float:
    """P(it shows all the same, though somebody says that nothing is there)."""
    unseen = answer.overlooked * (1 - pmf[0])
    return unseen / max(pmf[0] + unseen, 1e-300)


def weigh_counts(knowledge: Knowledge, counts: Counts, vehicles: Sequence[Confirmed]) -> Overlay:
    """Turn counts into numbers, the rules counting as vehicles of their own."""
    rates = {}
    for cause, of in counts.of_causes.items():
        rules, there = 1000 * knowledge.causes[cause].per_thousand.p, counts.causes[cause]
        own = RULES_COUNT * rules / 1000
        if own + of > 0 and (there >= LEAST_SEEN or of >= LEAST_SEEN):
            rates[cause] = Learned(rules, rules * (own + there) / (own + of), there, of)
    strengths = {}
    for key, tried in counts.tried.items():
        if tried >= LEAST_SEEN:
            rules, weight = counts.meant[key] / tried, counts.prior[key]
            if np.isfinite(weight) and 0 < rules < 1:
                learned = (weight * rules + counts.fired[key]) / (weight + tried)
                strengths[key] = Learned(rules, learned, counts.fired[key], tried)
    whole = RULES_COUNT_UNEXPLAINED + counts.of_unexplained
    unexplained = Learned(
        1.0, (RULES_COUNT_UNEXPLAINED + counts.unexplained) / whole, counts.unexplained, counts.of_unexplained
    )
    return Overlay(rates, strengths, unexplained, dict(Counter(vehicle.known_by for vehicle in vehicles)))
