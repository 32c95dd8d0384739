"""Every pair of forty job cards as one vehicle with both faults: are both among the first four?

Run as `python tests/benchmarks/bench_pairs.py [unit] [cards]` with `src` and `tests` on the path.
"""

import sys
import time

import numpy as np
from support.pairs import Cards
from support.trade import unit_of


def main(unit: str = "long5", n_most: str = "40") -> None:
    """Rank every pair and tell the shares, what was left out, and the pairs that were missed."""
    cards = Cards(unit_of(unit), int(n_most))
    ranked, times = [], []
    for first, second in cards.list_pairs():
        started = time.process_time()
        ranked.append(cards.rank(first, second))
        times.append(1e3 * (time.process_time() - started))
    n = len(ranked)
    for place in (1, 2, 4, 6):
        print(
            f"{unit}: both among the first {place}: {sum(max(pair.places) <= place for pair in ranked) / n:.1%} of {n} pairs"
        )
    print(f"one of both leads: {sum(1 in pair.places for pair in ranked) / n:.1%}")
    for label, values in (
        ("left out", [pair.left_out for pair in ranked]),
        ("sets", [pair.n_sets for pair in ranked]),
        ("ms a case", times),
    ):
        print(f"{label}: median, 90 %, most {np.round(np.percentile(values, [50, 90, 100]), 3).tolist()}")
    for pair in ranked:
        if max(pair.places) > 4:
            print("  missed", *pair.causes, pair.places, f"left out {pair.left_out:.3f}, {pair.n_sets} sets")


if __name__ == "__main__":
    main(*sys.argv[1:])
