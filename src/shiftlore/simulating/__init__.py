"""Drawn vehicles put through the planner and through the habits of shops."""

from shiftlore.simulating.habits import plan_and_persist, take_first
from shiftlore.simulating.simulation import (
    Act,
    Drawn,
    PolicyResult,
    Run,
    Simulation,
    Visit,
    Work,
    act_on,
    draw_luck,
    draw_vehicles,
    simulate_unit,
    start_work,
    work_on,
)
from shiftlore.simulating.unit_bench import (
    Action,
    UnitBench,
    WorkState,
    decide_next,
    leaving_cost,
    prepare_work,
    set_up_bench,
)
from shiftlore.simulating.visits import watch_visits

__all__ = [
    "Act", "Action", "Drawn", "PolicyResult", "Run", "Simulation", "UnitBench", "Visit", "Work", "WorkState", "act_on",
    "decide_next", "draw_luck", "draw_vehicles", "leaving_cost", "plan_and_persist", "prepare_work", "set_up_bench",
    "simulate_unit", "start_work", "take_first", "watch_visits", "work_on",
]  # fmt: skip
