"""How long a choice takes, on made-up models and on textbook cases, and how good it is on small ones.

Run: python tests/benchmarks/bench_planning.py [small models to compare]
"""

import os
import statistics
import sys
import time
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # two threads on products this small only wait for each other

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from support.exact_solver import KINDS, draw_hard, find_exactly
from support.models import draw_model, find_optimum, follow_planner
from support.table_oracle import TableOracle

from shiftlore.advising import next_steps
from shiftlore.compiling import compile_case, compile_unit
from shiftlore.knowledge import load_knowledge
from shiftlore.planning import (
    AccessNode,
    AccessTree,
    Hypotheses,
    LookAhead,
    Outcomes,
    PricedCheck,
    PricedJob,
    Situation,
    choose_step,
)
from shiftlore.ranking import textbook_as_case
from shiftlore.simulating import simulate_unit

LEVELS = (
    ("standing", None, 0, 0),
    ("lifted", "standing", 8, 4),
    ("pan_off", "lifted", 35, 55),
    ("valve_body_out", "pan_off", 60, 70),
    ("unit_out", "lifted", 320, 340),
    ("unit_stripped", "unit_out", 150, 260),
)


def draw_large(seed=1, causes=110, jobs=60, checks=70, pairs=20):
    """A situation of the size of the largest unit, with skewed priors and joint outcomes of up to eight."""
    rng = np.random.default_rng(seed)
    tree = AccessTree(tuple(AccessNode(*level, *level[2:]) for level in LEVELS))
    members = [(i,) for i in range(causes)] + [(2 * i, 2 * i + 1) for i in range(pairs)]
    hypotheses = Hypotheses(tuple(f"cause{i}" for i in range(causes)), tuple(members))
    level = lambda: LEVELS[rng.choice(6, p=[0.3, 0.2, 0.2, 0.15, 0.05, 0.1])][0]  # noqa: E731
    made = []
    for j in range(jobs):
        cures = np.zeros(causes)
        cures[rng.choice(causes, rng.integers(1, 6), replace=False)] = rng.choice([1.0, 0.9, 0.7])
        made.append(PricedJob(f"job{j}", rng.uniform(20, 700), 60.0, level(), cures))
    made.append(PricedJob("exchange", 2400.0, 60.0, "unit_out", np.where(rng.random(causes) < 0.7, 0.97, 0.0), True))
    looks = tuple(PricedCheck(f"check{c}", rng.uniform(3, 90), 15.0, level()) for c in range(checks))
    tables = {}
    for look in looks:
        k = int(rng.choice([2, 2, 2, 3, 4, 8]))
        tables[look.id] = Outcomes(tuple(map(str, range(k))), rng.dirichlet(np.full(k, 0.3), len(members)).T)
    belief = rng.dirichlet(np.full(len(members), 0.15))
    situation = Situation(hypotheses, tree, tuple(made), looks, test_cost=30, comeback_cost=60, uncured_cost=2600)
    return situation, TableOracle(hypotheses, belief, tables)


def time_choices():
    """Milliseconds per choice on large models, by depth."""
    for depth in (1, 2):
        seconds = []
        for seed in range(8):
            situation, oracle = draw_large(seed)
            begun = time.perf_counter()
            choose_step(situation, oracle, LookAhead(depth=depth, small=0))
            seconds.append(time.perf_counter() - begun)
        print(f"depth {depth}: median {1000 * statistics.median(seconds):.0f} ms, worst {1000 * max(seconds):.0f} ms")


def measure_regret(count):
    """Share by which the planner lies above the exact optimum."""
    ratios = []
    for seed in range(count):
        situation, oracle = draw_model(np.random.default_rng(seed))
        ratios.append(follow_planner(situation, oracle) / find_optimum(situation, oracle) - 1)
    exact = sum(ratio < 1e-9 for ratio in ratios)
    mean = statistics.mean(ratios)
    print(f"{count} models: mean {mean:.3%}, worst {max(ratios):.2%} above the optimum, {exact} exact")


def measure_hard_regret(count):
    """The same on models made to mislead a short look-ahead, against the solver that shares no code with it."""
    everything = []
    for kind in KINDS:
        ratios = []
        for seed in range(count):
            situation, oracle = draw_hard(kind, seed)
            ratios.append(follow_planner(situation, oracle) / find_exactly(situation, oracle) - 1)
        everything += ratios
        print(f"  {kind}: mean {statistics.mean(ratios):.3%}, worst {max(ratios):.2%}", flush=True)
    mean = statistics.mean(everything)
    print(f"{len(everything)} hard models: mean {mean:.3%}, worst {max(everything):.2%}")


def time_steps(unit_id="long8", cases=10):
    """Milliseconds of `next_steps` on textbook cases of the largest unit, inference included."""
    unit = compile_unit(load_knowledge(), unit_id)
    cards = [card for card in unit.knowledge.textbook.values() if card.unit == unit_id][:cases]
    wall, busy = [], []
    for card in cards:
        compiled = compile_case(unit, textbook_as_case(card))
        begun, worked = time.perf_counter(), time.process_time()
        next_steps(compiled)
        wall.append(time.perf_counter() - begun)
        busy.append(time.process_time() - worked)
    print(
        f"next on {unit_id}: median {1000 * statistics.median(wall):.0f} ms, worst {1000 * max(wall):.0f} ms; "
        f"of the processor {1000 * statistics.median(busy):.0f} and {1000 * max(busy):.0f} ms"
    )


def time_simulation(unit_id="long5", vehicles=20):
    """Vehicles a second that the planner works on, drawing and setting up included."""
    unit = compile_unit(load_knowledge(), unit_id)
    worked = time.process_time()
    simulate_unit(unit, vehicles, 1, only=["planner"])
    print(
        f"simulation on {unit_id}: {vehicles / (time.process_time() - worked):.1f} vehicles a second of the processor"
    )


if __name__ == "__main__":
    time_steps()
    time_simulation()
    time_choices()
    models = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    measure_regret(models)
    measure_hard_regret(max(1, models // len(KINDS)))
