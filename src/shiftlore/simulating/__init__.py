"""Drawn vehicles put through the planner and through the habits of shops."""

from shiftlore.simulating.policies import (
    cheapest_check_first,
    follow_planner,
    in_fixed_order,
    likeliest_cause_first,
    straight_to,
)
from shiftlore.simulating.quick import Action, Policy, QuickPlanner, choose_quickly
from shiftlore.simulating.simulation import (
    DrawnVehicle,
    PolicyResult,
    Run,
    Vehicle,
    run_vehicle,
    simulate_policies,
    summarise_runs,
)
from shiftlore.simulating.unit_simulation import Simulation, simulate_unit

__all__ = [
    "Action",
    "DrawnVehicle",
    "Policy",
    "PolicyResult",
    "QuickPlanner",
    "Run",
    "Simulation",
    "Vehicle",
    "cheapest_check_first",
    "choose_quickly",
    "follow_planner",
    "in_fixed_order",
    "likeliest_cause_first",
    "run_vehicle",
    "simulate_policies",
    "simulate_unit",
    "straight_to",
    "summarise_runs",
]
