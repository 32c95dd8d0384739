"""How published repairs are ranked: by the rules alone, and with what other repairs have taught beside them.

Run: python tests/benchmarks/bench_repairs.py [FOLDER]. Takes some minutes. Lessons are learned ten times, each time
without the sources of the repairs that they then judge; judged vehicles and job cards are always learned from. Also tells
how far the readers of judged vehicles agree with each other, and with the rules.
"""

import sys
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from shiftlore.knowledge import load_knowledge
from shiftlore.repairs import Example, Gatherer, Judged, Repair, cross_validate, read_judged, read_repairs

FOLDER = Path(__file__).parents[1] / "repairs"
PLACES = (1, 3, 5)


def tell(name: str, areas: Sequence[str], repairs: Sequence[Repair], shares: Sequence[np.ndarray]) -> None:
    """Print how many have their area first, among three, among five, and the log loss."""
    for kind in ("all", "repair", "bulletin", "recall"):
        chosen = [(one, row) for one, row in zip(repairs, shares, strict=True) if kind in ("all", one.record)]
        right = [[areas.index(area) for area in one.areas] for one, _ in chosen]
        places = [min(int((row > row[i]).sum()) for i in own) for (_, row), own in zip(chosen, right, strict=True)]
        loss = np.mean([-np.log(max(row[own].sum(), 1e-6)) for (_, row), own in zip(chosen, right, strict=True)])
        within = "".join(f"{np.mean([place < n for place in places]):8.1%}" for n in PLACES)
        print(f"{name:<28}{kind:<10}{len(chosen):>5}{within}   loss {loss:.3f}")


def tell_bands(areas: Sequence[str], repairs: Sequence[Repair], shares: Sequence[np.ndarray]) -> None:
    """Print the calibration of the areas by tenths."""
    said = np.concatenate(shares)
    true = np.array([float(area in one.areas) for one in repairs for area in areas])
    for low in np.arange(10) / 10:
        inside = (said >= low) & (said < low + 0.1)
        if inside.any():
            print(
                f"  {low:4.0%}: {inside.sum():>6} areas, said {said[inside].mean():6.1%}, right {true[inside].mean():6.1%}"
            )


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
    repairs = read_repairs(folder, knowledge.areas, knowledge.sheets)
    judged = read_judged(folder / "judged", knowledge.areas, knowledge.sheets)
    gatherer = Gatherer(knowledge)
    examples: list[list[Example]] = [gatherer.learn_from_repair(repair) for repair in repairs]
    kept = [i for i, group in enumerate(examples) if group]
    repairs, examples = tuple(repairs[i] for i in kept), [examples[i] for i in kept]
    more = [one for vehicle in judged for one in gatherer.learn_from_judged(vehicle)]
    more += gatherer.learn_from_cards()
    tell_readers(judged)
    whole = cross_validate(gatherer.areas, examples, more)
    for title, chosen in (
        ("entered by hand", [i for i, one in enumerate(repairs) if one.entered is not None]),
        ("read by the program", [i for i, one in enumerate(repairs) if one.entered is None]),
    ):
        own = [repairs[i] for i in chosen]
        print(title)
        tell("  rules alone", gatherer.areas, own, [np.exp(examples[i][0].rules) for i in chosen])
        tell("  with what repairs taught", gatherer.areas, own, [whole[i] for i in chosen])
        tell_bands(gatherer.areas, own, [whole[i] for i in chosen])


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
