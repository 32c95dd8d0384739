"""What many cases of one unit share: tables by what raises their leaks, and answers split once for all of these cases.

A distance moves only the shares of the causes, so no tables are made anew for it; a background moves the leaks of a few
signs, so there are few tables. Each answer is split once for each of them.
"""

from bisect import bisect_left
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from shiftlore.cases import Case
from shiftlore.compiling import Chances, CompiledUnit, evidence_of, fill_in_answers, read_answers
from shiftlore.compiling.evidence import drop_implied
from shiftlore.compiling.faults import NONE, weigh_chances
from shiftlore.compiling.gates import build_tables
from shiftlore.compiling.lessons import P_FLOOR, TRUST, WORDS_COUNT, Lessons, choose_lessons, list_features
from shiftlore.compiling.priors import (
    LARGEST_WEAR,
    LONGEST_KM,
    SHORTEST_KM,
    SMALLEST_WEAR,
    Lived,
    background_factor,
    list_distances,
    list_lived,
    with_told_distance,
)
from shiftlore.exact import Doubted, Evidence, FloatArray, HubEngine

GROUNDS_KEPT = 64
"""Tables of a unit that are kept: some megabytes each."""
PIECES_KEPT = 8192
"""Split answers that are kept for each of them; doubted ones are as many as there are distances."""
FACTORS_KEPT = 4096
TINY = 1e-300


@dataclass(frozen=True, eq=False)
class Piece:
    """One answer, split: what it makes of the root, and of the hidden states that bear on it.

    Args:
        logs: ln of the root's part of its product, -inf where impossible; and of what an added state costs in it at most and
            at least, as in `exact.bound_joins`; shape (3, n_root).
        hidden, factors: hidden states, and the factor of each when present, shape (n,).
        missed: the factors where its gate is to stay silent, shape (n,).
        gate_hidden, misses, root_misses: of its yes/no gate, as `exact.Gate`; `root_misses` None where it has none.
        doubted: P(no more than the grade) by the root, shape (n_root,), and the part that is seen; None where it is sure.
        apart: P(answer | root state) of it alone, shape (n_root,).
    """

    logs: FloatArray
    hidden: np.ndarray
    factors: FloatArray
    missed: FloatArray
    gate_hidden: np.ndarray
    misses: FloatArray
    root_misses: FloatArray | None
    doubted: tuple[FloatArray, float] | None
    apart: FloatArray


class Ground:
    """The tables of one unit under some leaks, with their answers split.

    Args:
        engine: of the root states none and every single cause, with an even prior.
    """

    def __init__(self, engine: HubEngine):
        self.engine, self.tables = engine, engine.tables
        self._pieces: dict[tuple[str, int | Doubted], Piece] = {}
        self._predicted: dict[str, FloatArray] = {}

    @cached_property
    def p_hidden(self) -> FloatArray:
        """P(hidden present | root state), shape (n_hidden, n_root)."""
        return self.tables.p_hidden

    def split(self, evidence: Evidence) -> list[Piece]:
        """Split answers, from memory where they are known."""
        return [self._pieces.get(item) or self._split_one(item) for item in evidence.items()]

    def _split_one(self, item: tuple[str, int | Doubted]) -> Piece:
        finding, answer = item
        evidence = {finding: answer}
        (product,), gates = self.engine.split(evidence)
        said = answer if isinstance(answer, Doubted) else Doubted(int(answer))
        table = self.tables.gates[finding]
        top, seen = table.cum_root[said.grade], 1 - said.overlooked
        relative = top / max(float(top[0]), TINY)
        most = np.log(np.maximum(1 - seen * (1 - relative), TINY))
        least = most
        if seen < 1:
            smallest = float(top.min())
            beside = (1 - seen + seen * smallest * relative) / max(1 - seen + seen * smallest, TINY)
            least = np.log(np.maximum(beside, TINY))
        gate = gates[0] if gates else None
        misses = dict(zip(gate.hidden, gate.misses.tolist(), strict=True)) if gate else {}
        missed = product.factors * np.array([misses.get(h, 1.0) for h in product.hidden])
        matters = (product.factors != 1.0) | (missed != 1.0)
        piece = Piece(
            logs=np.stack([product.log_root, most, least]),
            hidden=np.array(product.hidden, dtype=np.intp)[matters],
            factors=product.factors[matters],
            missed=missed[matters],
            gate_hidden=np.array(gate.hidden if gate else (), dtype=np.intp),
            misses=gate.misses if gate else np.zeros(0),
            root_misses=gate.root_misses if gate else None,
            doubted=(top, seen) if seen < 1 else None,
            apart=self.engine.weigh_apart(evidence)[0],
        )
        if len(self._pieces) >= PIECES_KEPT:
            self._pieces.clear()
        self._pieces[item] = piece
        return piece

    def reach(self, finding: str) -> FloatArray:
        """Give P(finding reaches a grade | root state), shape (n_grades, n_root)."""
        if finding not in self._predicted:
            table = self.engine.predict({}, (finding,))[finding]
            self._predicted[finding] = np.cumsum(table[::-1], axis=0)[::-1]
        return self._predicted[finding]


@dataclass(frozen=True, eq=False)
class Setting:
    """One case, ready to be judged.

    Args:
        chances: of sets of causes, by the rules alone.
        pieces: its answers, split; none where nothing is answered.
        said: features of the case, for what published repairs have taught.
    """

    ground: Ground
    chances: Chances
    evidence: Evidence
    pieces: list[Piece]
    said: tuple[str, ...] = ()


class Grounds:
    """Prepares the cases of one unit."""

    def __init__(self, unit: CompiledUnit):
        self.unit, self.knowledge = unit, unit.knowledge
        self.records = tuple(unit.expansion.causes.values())
        self.shares = np.array([cause.share for cause in self.records])
        self.slopes = np.array([cause.cause.wear for cause in self.records])
        shares = dict(zip(unit.expansion.causes, self.shares.tolist(), strict=True))
        words = self.knowledge.words
        self.blank = weigh_chances(unit.expansion, shares, words.complaint_total, words.nothing_found)
        self.names = (NONE, *unit.expansion.causes)
        self.lessons = choose_lessons(self.knowledge)
        place = {area: i for i, area in enumerate(self.lessons.areas)} if self.lessons else {}
        self.areas = np.array([place.get(cause.area, len(place)) for cause in self.records], dtype=np.intp)
        self._grounds: dict[tuple[float, ...], Ground] = {}
        self._factors: dict[Any, FloatArray] = {}

    def set_out(self, case: Case) -> Setting:
        """Prepare a case without signs of its own and without jobs done."""
        unit, backgrounds = self.unit, self.knowledge.backgrounds
        lived = list_lived(self.knowledge, case)
        ground = self._ground_of(lived)
        told = with_told_distance(case, backgrounds)
        weights = self._weigh(list_distances(told, self.knowledge.words.reference_km), lived)
        chances = replace(self.blank, weights=weights / (weights.sum() or 1.0))
        answers, _ = read_answers(unit, case)
        filled = drop_implied(unit.expansion, fill_in_answers(unit.expansion, answers, case.done_ids))
        prior = np.concatenate([[chances.p_none], (1 - chances.p_none) * chances.weights])
        evidence = evidence_of(
            unit.expansion, filled, lambda finding, grade: float(ground.reach(finding)[grade] @ prior)
        )
        said = list_features(unit.expansion, unit.sheet, case, answers) if self.lessons and evidence else ()
        return Setting(ground, chances, evidence, ground.split(evidence), tuple(said))

    def lean(self, setting: Setting, likelihood: FloatArray) -> Chances:
        """Give the chances as published repairs lean them, as `compiling.lessons.lean` does.

        Args:
            likelihood: of the answers under each single cause, on any scale, shape (n_causes,).
        """
        lessons, chances = self.lessons, setting.chances
        if lessons is None or not setting.evidence:
            return chances
        joint = likelihood * chances.weights
        shares = np.bincount(self.areas, joint, len(lessons.areas) + 1)
        rules = np.log(np.maximum(shares[:-1] / max(float(shares.sum()), TINY), P_FLOOR))
        places = lessons.find(setting.said)
        score = lessons.base + _weigh_features(lessons, places) @ lessons.weights[places] - (1 - TRUST) * rules
        factors = np.append(np.exp(score - score.max()), 1.0)
        return chances.lean(factors[self.areas])

    def _ground_of(self, lived: Lived) -> Ground:
        unit, backgrounds = self.unit, self.knowledge.backgrounds
        key = tuple(background_factor(raises, lived, backgrounds) for raises in unit.arrays.raised.values())
        ground = self._grounds.pop(key, None)
        if ground is None:
            even = np.full(len(self.names), 1 / len(self.names))
            ground = Ground(HubEngine(build_tables(unit.arrays, lived, backgrounds, even, self.names)))
        self._grounds[key] = ground
        while len(self._grounds) > GROUNDS_KEPT:
            self._grounds.pop(next(iter(self._grounds)))
        return ground

    def _weigh(self, distances: tuple[float, ...], lived: Lived) -> FloatArray:
        """Weigh the causes as `compiling.weigh_causes` does, shape (n_causes,)."""
        weights = self.shares
        if distances:
            km = np.clip(np.array(distances), SHORTEST_KM, LONGEST_KM) / self.knowledge.words.reference_km
            wear = np.clip(km[:, None] ** (self.slopes - 1), SMALLEST_WEAR, LARGEST_WEAR)
            weights = weights * (wear.sum(axis=0) / len(distances))
        for name, answers in lived.items():
            weights = weights * self._raise(name, answers)
        return weights

    def _raise(self, name: str, answers: Mapping[str, float]) -> FloatArray:
        """Give what one background makes of each cause, shape (n_causes,)."""
        key = (name, *answers.items())
        if key not in self._factors:
            if len(self._factors) >= FACTORS_KEPT:
                self._factors.clear()
            told, backgrounds = {name: answers}, self.knowledge.backgrounds
            factors = [background_factor(one.cause.raised_by, told, backgrounds) for one in self.records]
            self._factors[key] = np.array(factors)
        return self._factors[key]


def _weigh_features(lessons: Lessons, places: list[int]) -> FloatArray:
    """Give the features of a case at their places alone, as `compiling.lessons.features_of`, shape (n_places,)."""
    row = lessons.rarity[places]
    cut = bisect_left(places, lessons.first_word)
    for part, length in ((row[:cut], 1.0), (row[cut:], WORDS_COUNT)):
        part *= length / max(float(np.sqrt((part**2).sum())), 1e-9)
    return row
