"""How published repairs are ranked: by the rules alone, and with what other repairs have taught beside them.

Run: python tests/benchmarks/bench_repairs.py [FOLDER], with `tests` on the path. Takes some minutes. Lessons are learned ten times, each time
without the sources of the repairs that they then judge; judged vehicles and job cards are always learned from. Also tells
how far the readers of judged vehicles agree with each other, and with the rules.
"""

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from support.judged import Judged, read_judged
from support.lesson_learning import Example, Gatherer, cross_validate

from shiftlore.knowledge import load_knowledge
from shiftlore.repairs import read_repairs
from shiftlore.repairs.scoring import gather_scores, place_repair
from shiftlore.reports.trials_text import render_scores

FOLDER = Path(__file__).parents[1] / "repairs"
GIVEN = "given.yaml"
"""The list whose misses were read when rules were written."""


def tell_readers(judged: Sequence[Judged]) -> None:
    """Print how often two readers of one vehicle name the same area first, and one's first is among the other's three."""
    pairs = [one.readers for one in judged if len(one.readers) == 2]
    ranked = [[sorted(reader, key=lambda area: -reader[area]) for reader in pair] for pair in pairs]
    same = np.mean([first[0] == second[0] for first, second in ranked])
    near = np.mean([first[0] in second[:3] for first, second in ranked])
    print(
        f"readers: {len(pairs)} vehicles judged by two; same area first {same:.1%}, among the other's three {near:.1%}"
    )


def main(folder: Path) -> None:
    """Print all tables."""
    knowledge = load_knowledge()
    repairs = read_repairs(folder, knowledge)
    judged = read_judged(folder / "judged", knowledge.areas, knowledge.sheets)
    gatherer = Gatherer(knowledge)
    examples: list[list[Example]] = [gatherer.learn_from_repair(repair) for repair in repairs]
    kept = [i for i, group in enumerate(examples) if group]
    repairs, examples = tuple(repairs[i] for i in kept), [examples[i] for i in kept]
    more = [one for vehicle in judged for one in gatherer.learn_from_judged(vehicle)]
    more += gatherer.learn_from_cards()
    tell_readers(judged)
    areas, by_hand = gatherer.areas, [i for i, one in enumerate(repairs) if one.entered is not None]
    written_on = [i for i in by_hand if repairs[i].mark.file == GIVEN]
    as_read = [group[::-1] for group in examples]  # the program's own reading of the words stands last
    whole, whole_as_read = (cross_validate(areas, ways, more) for ways in (examples, as_read))
    for title, chosen, ways, lessons in (
        ("entered by hand, rules written on them", written_on, examples, whole),
        ("entered by hand, others", sorted({*by_hand} - {*written_on}), examples, whole),
        ("all, read by the program", range(len(repairs)), as_read, whole_as_read),
    ):
        for way, shares in (
            ("rules alone", [np.exp(ways[i][0].rules) for i in chosen]),
            ("with lessons", [lessons[i] for i in chosen]),
        ):
            placed = [
                place_repair(repairs[i], dict(zip(areas, row.tolist(), strict=True)))
                for i, row in zip(chosen, shares, strict=True)
            ]
            print(f"\n{title}, {way}\n{render_scores(gather_scores(placed))}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
