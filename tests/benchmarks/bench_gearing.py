"""Time for everything about one unit: set ratios, all gears, every lost element and stuck solenoid.

Run: python tests/benchmarks/bench_gearing.py. Aim: 50 ms a unit.
"""

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from support.layouts import LAYOUTS

from shiftlore.gearing import describe_unit, unit_facts
from shiftlore.sheets import load_sheet

UNITS = Path(__file__).parents[2] / "knowledge" / "units"
AIM_MS = 50.0
RUNS = 5


def main() -> int:
    """Print the median time per unit; exit code 1 if one is slower than the aim."""
    sheets = {path.stem: load_sheet(path) for path in sorted(UNITS.glob("*.yaml"))}
    sheets |= {name: load_sheet(text) for name, text in LAYOUTS.items()}
    slowest = 0.0
    print(f"{'unit':<24}{'gears':>6}{'faults':>8}{'facts ms':>10}{'describe ms':>13}")
    for name, sheet in sheets.items():
        facts = _median_ms(lambda sheet=sheet: unit_facts(sheet))
        describe = _median_ms(lambda sheet=sheet: describe_unit(sheet, ratio=2.1))
        cases = 2 * (len(sheet.elements) + len(sheet.solenoids))
        print(f"{name:<24}{len(sheet.gears):>6}{cases:>8}{facts:>10.1f}{describe:>13.1f}")
        slowest = max(slowest, facts)
    print(f"slowest: {slowest:.1f} ms, aim {AIM_MS:.0f} ms")
    return int(slowest > AIM_MS)


def _median_ms(run) -> float:
    times = []
    for _ in range(RUNS):
        start = time.perf_counter()
        run()
        times.append(1000 * (time.perf_counter() - start))
    return sorted(times)[RUNS // 2]


if __name__ == "__main__":
    sys.exit(main())
