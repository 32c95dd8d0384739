"""Heavy cases: many telling answers that share hidden states, and cases that nobody would bring.

Run as `python tests/benchmarks/bench_heavy.py [unit] [processes]` with `src` and `tests` on the path. From each of the 20
most connected findings, findings are added that share most hidden states with those chosen, 5 to 60. Times are seconds
of processor time on one core, without the unit's own compilation: posterior with the pairs that are opened, and ranking
with its draws; and for some cases the whole process `rank`, in seconds on the clock.
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from support.heavy import answer_all, choose_greedily, list_special, make_heavy, rank_connected
from support.trade import ROOT, unit_of

from shiftlore.cases import Case, render_case
from shiftlore.compiling import CompiledUnit, compile_case
from shiftlore.ranking import rank_causes

SIZES = (5, 8, 12, 16, 20, 25, 30, 40, 50, 60)
STARTS = 20


def measure(unit: CompiledUnit, case: Case) -> tuple[float, float, bool, float]:
    """Give seconds of the posterior and of the ranking, whether all was exact, and what was left out."""
    unit.prepared.clear()
    started = time.process_time()
    compiled = compile_case(unit, case)
    _ = compiled.p_faults
    posterior = time.process_time()
    rank_causes(compiled)
    ranked = time.process_time()
    return posterior - started, ranked - posterior, compiled.engine.stand(compiled.evidence).exact, compiled.left_out


def tell(label: str, values: list[float]) -> None:
    """Print median, 99th percentile and worst."""
    middle, late, worst = np.percentile(values, [50, 99, 100])
    print(f"  {label:22s} median {middle:.3f} s, 99 % {late:.3f} s, worst {worst:.3f} s")


def bench_connected(unit: CompiledUnit) -> None:
    """Measure greedily connected cases."""
    posteriors, ranks, exact = [], [], 0
    starts = rank_connected(unit)[:STARTS]
    for first in starts:
        chosen = choose_greedily(unit, first, max(SIZES))
        for n in SIZES:
            posterior, ranked, is_exact, _ = measure(unit, make_heavy(unit, answer_all(unit, chosen[:n], -1)))
            posteriors.append(posterior)
            ranks.append(ranked)
            exact += is_exact
    print(f"{len(ranks)} cases of {SIZES[0]} to {SIZES[-1]} connected telling answers, {exact} of them exact")
    tell("posterior", posteriors)
    tell("ranking", ranks)
    tell("both", [posterior + ranked for posterior, ranked in zip(posteriors, ranks, strict=True)])


def bench_special(unit: CompiledUnit) -> None:
    """Measure special cases one by one."""
    for name, case in list_special(unit).items():
        posterior, ranked, exact, left_out = measure(unit, case)
        print(
            f"  {name:20s} {len(case.findings):3d} answers: posterior {posterior:.3f} s, ranking {ranked:.3f} s, "
            f"{'exact' if exact else 'bounded'}, left out {left_out:.3f}"
        )


def bench_processes(unit: CompiledUnit, names: list[str]) -> None:
    """Measure whole processes of `rank`."""
    with tempfile.TemporaryDirectory() as folder:
        for name in names:
            path = Path(folder) / "case.yaml"
            path.write_text(render_case(list_special(unit)[name]), encoding="utf-8")
            started = time.perf_counter()
            command = [sys.executable, "-m", "shiftlore", "rank", str(path)]
            done = subprocess.run(
                command, cwd=ROOT, capture_output=True, text=True, env={"PYTHONPATH": str(ROOT / "src")}
            )
            print(f"  rank, whole process, {name}: {time.perf_counter() - started:.2f} s {done.stderr.strip()[-200:]}")


def main(unit_id: str = "long5", processes: str = "yes") -> None:
    """Measure everything."""
    unit = unit_of(unit_id)
    print(f"{unit_id}: {len(unit.expansion.causes)} causes, {len(unit.expansion.findings)} findings")
    bench_connected(unit)
    bench_special(unit)
    if processes == "yes":
        bench_processes(unit, ["60 most connected", "pump gone", "30 most connected", "60 codes"])


if __name__ == "__main__":
    main(*sys.argv[1:])
