"""Drawn vehicles put through the planner and through the habits of shops."""

from shiftlore.simulating.simulation import PolicyResult, Simulation, simulate_unit

__all__ = ["PolicyResult", "Simulation", "simulate_unit"]
