"""Two job cards of the textbook put together: a vehicle that has both faults, and where the ranking puts them."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_case
from shiftlore.knowledge import TextbookCase
from shiftlore.ranking.reviewing import textbook_as_case

SHOWS = 0.3
"""A sound answer of one card is left out where the other card's cause shows the sign at least so often."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two causes and the places of both in the ranking of their joined case, 1 the first."""

    causes: tuple[str, str]
    places: tuple[int, int]
    left_out: float
    n_sets: int


def rank_templates(compiled: CompiledCase) -> list[str]:
    """List causes as written, the likeliest first; all instances of a template count as one."""
    best: dict[str, float] = defaultdict(float)
    for key, p in zip(compiled.causes, compiled.causes_now, strict=True):
        template = compiled.expansion.causes[key].template
        best[template] = max(best[template], float(p))
    return sorted(best, key=lambda name: -best[name])


class Cards:
    """The cards of a unit whose cause leads its own case; two of them make one vehicle."""

    def __init__(self, unit: CompiledUnit, n_most: int = 40):
        self.unit = unit
        cards = [card for card in unit.knowledge.textbook.values() if card.unit == unit.expansion.facts.id][:n_most]
        self.singles = {card.id: compile_case(unit, textbook_as_case(card)) for card in cards}
        self.cards = [card for card in cards if rank_templates(self.singles[card.id])[0] == card.cause]
        prepared = unit.prepare(Case(unit.expansion.facts.id))
        self.predicted = prepared.single.predict({}, tuple(prepared.single.tables.gates))
        self.position = {cause: i + 1 for i, cause in enumerate(unit.expansion.causes)}

    def list_pairs(self) -> list[tuple[TextbookCase, TextbookCase]]:
        """List every two cards of different causes."""
        return [(a, b) for a, b in combinations(self.cards, 2) if a.cause != b.cause]

    def join(self, first: TextbookCase, second: TextbookCase) -> Case:
        """Make the case of a vehicle with both faults: what either shows, and what is sound with both."""
        found: dict[str, str] = {}
        for card, other in ((first, second), (second, first)):
            for finding, grade, place in self._list_answers(card):
                held = found.get(finding)
                if place == 0:
                    if held is None and self._p_shown(other.cause, finding) < SHOWS:
                        found[finding] = grade
                elif held is None or self._grades(finding).index(held) < place:
                    found[finding] = grade
        distances = [card.odometer_km for card in (first, second) if card.odometer_km]
        answers: Mapping[str, Answer] = {key: Answer(key, grade) for key, grade in found.items()}
        return Case(
            first.unit,
            float(np.mean(distances)) if distances else None,
            {**first.background, **second.background},
            (),
            answers,
        )

    def rank(self, first: TextbookCase, second: TextbookCase) -> Pair:
        """Rank the joined case."""
        compiled = compile_case(self.unit, self.join(first, second))
        order = rank_templates(compiled)
        causes = first.cause, second.cause
        places = order.index(causes[0]) + 1, order.index(causes[1]) + 1
        return Pair(causes, places, compiled.left_out, len(compiled.faults.sets))

    def _list_answers(self, card: TextbookCase) -> Iterator[tuple[str, str, int]]:
        for answer in self.singles[card.id].answers:
            yield answer.finding, answer.grade, self._grades(answer.finding).index(answer.grade)

    def _grades(self, finding: str) -> tuple[str, ...]:
        return self.unit.expansion.findings[finding].grades

    def _p_shown(self, cause: str, finding: str) -> float:
        places = [self.position[key] for key in self.unit.expansion.of_template.get(cause, ())]
        return max((1 - float(self.predicted[finding][0][place]) for place in places), default=0.0)
