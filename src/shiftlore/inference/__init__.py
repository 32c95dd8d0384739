"""Exact posteriors on a network, fast enough to think ahead; knows nothing of the trade."""

from shiftlore.inference.engine import Engine, Evidence, prepare
from shiftlore.inference.hub_engine import HubEngine, prepare_hub
from shiftlore.inference.hub_tables import GateTable, HubTables, cumulate_rows
from shiftlore.inference.results import (
    Hypotheses,
    JointOutcome,
    Outcomes,
    Posterior,
    Retractions,
    Turn,
)

__all__ = [
    "Engine",
    "Evidence",
    "GateTable",
    "HubEngine",
    "HubTables",
    "Hypotheses",
    "JointOutcome",
    "Outcomes",
    "Posterior",
    "Retractions",
    "Turn",
    "cumulate_rows",
    "prepare",
    "prepare_hub",
]
