"""How long a simulated drive takes, and that sound ones stay sound: `python tests/benchmarks/bench_driving.py [drives]`.

Prints per shipped unit that can be driven: seconds of one core for a drive of the usual route, the largest energy that is
missing as a share of the engine's, and every event that is no plain shift or engagement, with its largest size.
"""

import sys
import time
from collections import defaultdict

from support.trade import shipped

from shiftlore.basics import UsageProblem
from shiftlore.driving import Drive, prepare_unit, simulate_drive

PLAIN = {"shift", "engage", "stalled"}


def imbalance(drive: Drive) -> float:
    """Give the energy that is missing as a share of what the engine gave."""
    energy, kinetic = drive.truth.energy, drive.truth.kinetic_j
    gone = energy.converter + energy.bearings + energy.road + sum(energy.elements) + kinetic[1] - kinetic[0]
    return abs(energy.engine - gone) / energy.engine


def measure_unit(name: str, drives: int) -> None:
    """Drive a unit so many times and print what came of it."""
    sheet = shipped().sheets[name]
    try:
        prepare_unit(sheet)
    except UsageProblem as problem:
        print(f"{name:8} {problem}")
        return
    odd: dict[str, list[float]] = defaultdict(list)
    worst, seconds = 0.0, time.process_time()
    for seed in range(drives):
        drive = simulate_drive(sheet, seed=seed)
        worst = max(worst, imbalance(drive))
        for event in drive.truth.events:
            if event.kind not in PLAIN:
                odd[event.kind].append(event.size)
    seconds = (time.process_time() - seconds) / drives
    told = ", ".join(f"{kind} {len(sizes)} (most {max(sizes):.1f})" for kind, sizes in odd.items()) or "nothing odd"
    print(f"{name:8} {seconds:.2f} s a drive; energy missing {worst:.0e}; {told}")


if __name__ == "__main__":
    for unit in shipped().sheets:
        measure_unit(unit, int(sys.argv[1]) if len(sys.argv) > 1 else 10)
