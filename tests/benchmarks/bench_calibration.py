"""Calibration on simulated vehicles: of the causes ranked at 70 to 80 %, how many are there?

Run: python tests/benchmarks/bench_calibration.py [UNIT ...]. Vehicles are drawn from the unit's own network; of each a
random ninety of some 360 findings are answered, as a bench would know some and not others.
"""

import sys

import numpy as np

from shiftlore.cases import Case
from shiftlore.compiling import compile_case, compile_unit
from shiftlore.knowledge import load_knowledge
from shiftlore.network import sample_network

N_VEHICLES, N_ANSWERS, SEED = 5000, 90, 5
EDGES = np.array([0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0])


def collect_pairs(unit_id: str) -> tuple[np.ndarray, np.ndarray]:
    """Give (probability, whether present) for every cause of every vehicle."""
    compiled = compile_case(compile_unit(load_knowledge(), unit_id), Case(unit_id))
    rng = np.random.default_rng(SEED)
    drawn = sample_network(compiled.network, rng, N_VEHICLES)
    findings = [key for key in compiled.expansion.findings if not compiled.expansion.finding_records[key].stands_for]
    said, true = [], []
    for vehicle in range(N_VEHICLES):
        asked = rng.choice(len(findings), N_ANSWERS, replace=False)
        evidence = {findings[i]: int(drawn[findings[i]][vehicle]) for i in asked}
        said.append(compiled.faults.sum_over_causes(compiled.engine.posterior(evidence)[0]))
        present = np.zeros(len(compiled.causes))
        present[list(compiled.faults.members[int(drawn["fault"][vehicle])])] = 1
        true.append(present)
    return np.concatenate(said), np.concatenate(true)


def main(units: list[str]) -> None:
    """Print one reliability table per unit."""
    for unit_id in units:
        said, true = collect_pairs(unit_id)
        print(f"{unit_id}: {N_VEHICLES} vehicles, Brier score {np.mean((said - true) ** 2):.5f}")
        for low, high in zip(EDGES[:-1], EDGES[1:], strict=True):
            inside = (said >= low) & (said < high)
            if inside.any():
                share, n = true[inside].mean(), int(inside.sum())
                print(f"  {low:4.0%} to {high:4.0%}: said {said[inside].mean():6.1%}, had it {share:6.1%} of {n}")


if __name__ == "__main__":
    main(sys.argv[1:] or ["long5"])
