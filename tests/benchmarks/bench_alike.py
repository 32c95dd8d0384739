"""How often a case that looked alike was of the same area and cause: by likelihood, by counting equal findings, by chance.

Run: python tests/benchmarks/bench_alike.py [FOLDER]. Takes some minutes. Every published repair is the case at hand once; the
repairs of its own source are left out. The last columns are of the cases of which one is named at all.
"""

import sys
from pathlib import Path

import numpy as np

from shiftlore.compiling import compile_case, compile_unit
from shiftlore.knowledge import load_knowledge
from shiftlore.repairs import read_repairs
from shiftlore.repairs.alike import MOST_ALIKE, WORTH_TELLING, Looks
from shiftlore.repairs.confirmed import enter_repair
from shiftlore.repairs.memory import choose_published

FOLDER = Path(__file__).parents[1] / "repairs"


def main(folder: Path) -> None:
    """Print the table."""
    knowledge = load_knowledge()
    memory = choose_published(knowledge)
    assert memory is not None, "The published repairs are missing: make them anew, see DEVELOPERS.md."
    alone, place = knowledge.with_rules_alone(), {memory.id_of(i): i for i in range(len(memory))}
    repairs = [repair for repair in read_repairs(folder, knowledge) if repair.id in place]
    kept = [memory.recall(place[repair.id]) for repair in repairs]
    signs = [{*one.signs.items()} for one in kept]
    order = np.array([place[repair.id] for repair in repairs])
    scores: dict[str, list[np.ndarray]] = {"by likelihood": [], "by equal findings": [], "by chance": []}
    for i, repair in enumerate(repairs):
        case = enter_repair(alone, repair)
        factors = Looks(compile_case(compile_unit(alone, case.vehicle), case)).weigh(memory)[order]
        scores["by likelihood"].append(10 * np.log10(np.maximum(factors, 1e-30)))
        scores["by equal findings"].append(
            np.array([len(signs[i] & one) / max(len(signs[i] | one), 1) for one in signs])
        )
        scores["by chance"].append(np.random.default_rng(i).random(len(repairs)))
    others = np.array([[one.source != other.source for other in repairs] for one in repairs])
    is_told = np.where(others, scores["by likelihood"], -np.inf).max(axis=1) >= WORTH_TELLING
    print(f"{len(repairs)} repairs; one is named for {is_told.mean():.1%} of them (from {WORTH_TELLING:g} decibans on)")
    print(
        f"{'':<20}{'area, first':>13}{'of three':>10}{'cause, first':>14}{'area, named':>13}{'of three':>10}{'cause':>8}"
    )
    for way, rows in scores.items():
        ranked = np.argsort(-np.where(others, rows, -np.inf), axis=1, kind="stable")[:, :MOST_ALIKE]
        area = np.array([[kept[j].area in one.areas for j in row] for one, row in zip(repairs, ranked, strict=True)])
        cause = np.array(
            [bool({*one.causes} & {*kept[row[0]].causes}) for one, row in zip(repairs, ranked, strict=True)]
        )
        has = np.array([bool(one.causes) for one in repairs])
        figures = [area[:, 0].mean(), area.mean(), cause[has].mean()]
        figures += [area[is_told, 0].mean(), area[is_told].mean(), cause[has & is_told].mean()]
        widths = (13, 10, 14, 13, 10, 8)
        print(f"{way:<20}" + "".join(f"{figure:>{width}.1%}" for figure, width in zip(figures, widths, strict=True)))


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER)
