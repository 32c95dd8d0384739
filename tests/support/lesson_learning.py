"""Learn what published repairs and judged vehicles teach beside the rules (`compiling.lessons`): who makes the shipped arrays.

A multinomial logistic regression over what a case says, with the log of the rules' own area shares as its starting point
and a ridge on its weights: where there is nothing to learn it stays at the rules. Fitted by scipy's L-BFGS.
"""

import contextlib
import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from shiftlore.basics import ShiftloreError
from shiftlore.cases import Case
from shiftlore.compiling import (
    CompiledCase,
    Lessons,
    compile_case,
    compile_unit,
    list_features,
    share_areas,
)
from shiftlore.compiling.lessons import IS_WORD, P_FLOOR, TRUST, choose_trust, list_words, weigh_features
from shiftlore.knowledge import Knowledge
from shiftlore.ranking import textbook_as_case
from shiftlore.repairs.confirmed import Repair, enter_repair, read_words
from support.judged import Judged

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

RIDGE = 0.15
"""Strength of the ridge, and what one example of each kind counts (both by cross-validation over the repairs)."""
SHARPNESS = 1.38
"""What is learned with a ridge is too careful: all of it counts by this power (calibration over the repairs)."""
SEEN_AT_LEAST = 2
"""A feature of fewer examples teaches nothing."""
SOUND_COUNTS = 0.5
"""How much it counts beside what was found: those who repaired something tell little of what was right (the classical pictures
were looked at when this was chosen; over the repairs all from 0.5 to 1 do as well)."""
SOUND_SEEN_AT_LEAST = 10
"""That nothing is wrong somewhere is said of few vehicles, whose trouble lay near it: of fewer it teaches only that it was
spoken of (by cross-validation over the repairs; 30 costs)."""
WEIGHTS = {"repair": 1.0, "bulletin": 0.7, "recall": 0.7}
READER_WEIGHT = 0.25
CARD_WEIGHT = 1.0
MOST_STEPS = 60


@dataclass(frozen=True, slots=True, eq=False)
class Example:
    """One vehicle to learn from.

    Args:
        said: its features; rules: log of the share that the rules give each area; target: share of each area.
        weight: how much it counts; source: what it must not be parted from when a part is kept aside.
        sound: those of its features that say that nothing is wrong there; trust: the power by which the rules count.
    """

    said: tuple[str, ...]
    rules: np.ndarray
    target: np.ndarray
    weight: float
    source: str
    sound: frozenset[str] = frozenset()
    trust: float = TRUST


class Gatherer:
    """Turns repairs and judged vehicles into examples, under the rules alone."""

    def __init__(self, knowledge: Knowledge):
        self.knowledge = knowledge.with_rules_alone()
        self.areas = tuple(knowledge.areas)

    def learn_from_repair(self, repair: Repair) -> list[Example]:
        """Give the repair as it was entered by hand, and as the program reads it; each counts for a part.

        By hand it is learned thrice: as it was entered, without any words, and with all that was presented in words, for
        people fill in more or less of them.
        """
        target = np.array([float(area in repair.areas) for area in self.areas])
        found = []
        for way in (repair, replace(repair, entered=None))[repair.entered is None :]:
            with contextlib.suppress(ShiftloreError):
                case = enter_repair(self.knowledge, way)
                first = self._example(case, target / target.sum(), WEIGHTS[repair.record], repair.source)
                bare = [name for name in first.said if not name.startswith(IS_WORD)]
                told = dict.fromkeys(list_words(repair.presented))
                found += [first, *(replace(first, said=(*bare, *more)) for more in ((), told) if way.entered)]
        return [replace(one, weight=one.weight / len(found)) for one in found]

    def learn_from_judged(self, judged: Judged) -> list[Example]:
        """Give the vehicle with the mean of what its readers say."""
        rows = [[reader.get(area, 0.0) for area in self.areas] for reader in judged.readers]
        rest = [(1 - sum(row)) / max(row.count(0.0), 1) for row in rows]
        filled = [[share or left for share in row] for row, left in zip(rows, rest, strict=True)]
        target = np.maximum(np.mean(filled, axis=0), 0.0)
        case = judged.case
        if not case.findings:
            read = read_words(self.knowledge, case.vehicle, ". ".join(case.said))
            case = replace(read, odometer_km=case.odometer_km, said=case.said)
        try:
            return [self._example(case, target / target.sum(), READER_WEIGHT * len(rows), judged.id)]
        except ShiftloreError:
            return []

    def learn_from_cards(self) -> list[Example]:
        """Give the textbook cards, so that nothing is unlearned that the book knows."""
        found = []
        for card in self.knowledge.textbook.values():
            area = self.knowledge.causes[card.cause].area
            target = np.array([float(one == area) for one in self.areas])
            with contextlib.suppress(ShiftloreError):
                found.append(self._example(textbook_as_case(card), target, CARD_WEIGHT, card.id))
        return found

    def _example(self, case: Case, target: np.ndarray, weight: float, source: str) -> Example:
        compiled = compile_case(compile_unit(self.knowledge, case.vehicle), case)
        rules = log_shares(compiled, self.areas)
        trust = choose_trust(compiled.expansion, compiled.answers)
        return Example(features_said(compiled), rules, target, weight, source, sound_said(compiled), trust)


def features_said(compiled: CompiledCase) -> tuple[str, ...]:
    """Name the features of a compiled case, each once."""
    return tuple(dict.fromkeys(list_features(compiled.expansion, compiled.unit.sheet, compiled.case, compiled.answers)))


def sound_said(compiled: CompiledCase) -> frozenset[str]:
    """Name the features of a compiled case that say that nothing is wrong there."""
    findings = compiled.expansion.findings
    sound = [answer for answer in compiled.answers if answer.grade == findings[answer.finding].grades[0]]
    both = (list_features(compiled.expansion, compiled.unit.sheet, compiled.case, some) for some in (sound, ()))
    with_sound, without = map(frozenset, both)
    return with_sound - without


def log_shares(compiled: CompiledCase, areas: Sequence[str]) -> np.ndarray:
    """Give the log of the share that each area has, shape (n_areas,)."""
    of_area = {area: i for i, area in enumerate(areas)}
    places = np.array([of_area.get(cause.area, len(areas)) for cause in compiled.expansion.causes.values()])
    p_causes = compiled.prepared.single.posterior(compiled.evidence)[0][1:]
    return np.log(np.maximum(share_areas(places, p_causes, len(areas))[:-1], P_FLOOR))


def fit_lessons(areas: Sequence[str], examples: Sequence[Example], ridge: float = RIDGE) -> Lessons:
    """Fit the weights.

    Args:
        areas: ids, in the order of the examples' arrays.
        ridge: strength of the ridge.
    """
    counts = Counter(name for example in examples for name in example.said)
    sound = frozenset[str]().union(*(example.sound for example in examples))
    least = {True: SOUND_SEEN_AT_LEAST, False: SEEN_AT_LEAST}
    names = tuple(sorted(name for name, count in counts.items() if count >= least[name in sound]))
    rarity = np.array([1 + math.log((1 + len(examples)) / (1 + counts[name])) for name in names])
    rarity *= np.array([SOUND_COUNTS if name in sound else 1.0 for name in names])
    lessons = Lessons(names, tuple(areas), np.zeros((len(names), len(areas))), np.zeros(len(areas)), rarity)
    weights, base = _descend(_matrix(lessons, examples), examples, ridge)
    return lessons.vary(weights=SHARPNESS * weights, base=SHARPNESS * base)


def _matrix(lessons: Lessons, examples: Sequence[Example]) -> "csr_matrix":
    from scipy.sparse import csr_matrix

    placed = [lessons.find(example.said) for example in examples]
    ends = np.cumsum([0, *map(len, placed)])
    weights = np.concatenate([weigh_features(lessons, places) for places in placed])
    return csr_matrix((weights, np.concatenate(placed).astype(int), ends), shape=(len(placed), len(lessons.features)))


def _descend(matrix: "csr_matrix", examples: Sequence[Example], ridge: float) -> tuple[np.ndarray, np.ndarray]:
    from scipy.optimize import minimize

    rules, target = (np.array([getattr(example, name) for example in examples]) for name in ("rules", "target"))
    counts = np.array([example.weight for example in examples])[:, None]
    trust = np.array([example.trust for example in examples])[:, None]
    n, k, turned = matrix.shape[1], rules.shape[1], matrix.T.tocsr()

    def loss(flat: np.ndarray) -> tuple[float, np.ndarray]:
        weights, base = flat[: n * k].reshape(n, k), flat[n * k :]
        score = trust / SHARPNESS * rules + matrix @ weights + base
        score -= score.max(axis=1, keepdims=True)
        log_p = score - np.log(np.exp(score).sum(axis=1, keepdims=True))
        off = (np.exp(log_p) - target) * counts
        value = -float((counts * target * log_p).sum()) + ridge / 2 * float((weights**2).sum()) + float(base @ base) / 2
        return value, np.concatenate([(turned @ off + ridge * weights).ravel(), off.sum(axis=0) + base])

    found: Any = minimize(loss, np.zeros(n * k + k), jac=True, method="L-BFGS-B", options={"maxiter": MOST_STEPS})
    return found.x[: n * k].reshape(n, k), found.x[n * k :]


def judge(lessons: Lessons, example: Example) -> np.ndarray:
    """Give the share of each area, rules and lessons together, shape (n_areas,)."""
    rules = np.exp(example.rules)
    shares: np.ndarray = rules * lessons.weigh(example.said, rules, example.trust)
    return shares / shares.sum()


def keep_repairs(lessons: Lessons, repairs: Sequence[Repair], groups: Sequence[Sequence[Example]]) -> Lessons:
    """Keep the repairs with the lessons, so that a sign can be told how many repairs of a cause name it.

    Args:
        groups: of each repair its examples; those of one way of entering it share the rules' array.
    """
    kept = []
    for repair, examples in zip(repairs, groups, strict=True):
        if examples:
            first_way = [one for one in examples if one.rules is examples[0].rules]
            fullest = max(first_way, key=lambda example: len(example.said))
            kept.append((tuple(lessons.find(fullest.said)), repair.id, tuple(repair.causes)))
    return lessons.vary(repairs=tuple(kept))


def cross_validate(
    areas: Sequence[str],
    examples: Sequence[Sequence[Example]],
    more: Sequence[Example],
    folds: int = 10,
    tell_done: Callable[[int], None] = lambda fold: None,
) -> list[np.ndarray]:
    """Judge each repair by lessons that its source had no part in: the share of each area, shape (n_areas,).

    Args:
        examples: of each repair, the first being the one that is judged.
        more: examples that are always learned from.
    """
    fold_of = [sum(group[0].source.encode()) % folds for group in examples]
    judged: dict[int, np.ndarray] = {}
    for fold in range(folds):
        learned = [one for place, group in zip(fold_of, examples, strict=True) if place != fold for one in group]
        lessons = fit_lessons(areas, [*learned, *more])
        judged |= {i: judge(lessons, group[0]) for i, group in enumerate(examples) if fold_of[i] == fold}
        tell_done(fold + 1)
    return [judged[i] for i in range(len(examples))]
