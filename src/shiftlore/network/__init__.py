"""Variables, gates and tables of a Bayesian network: pure arithmetic, no word of the trade."""

from shiftlore.network.divorcing import TIE_NODE, DivorcedNetwork, divorce, divorced_tables
from shiftlore.network.enumeration import (
    MAX_ENUMERATED,
    Enumeration,
    enumerate_joint,
    enumerate_posteriors,
    expand_gate,
)
from shiftlore.network.gates import FloatArray, Gate, NoisyLink, NoisyMax, Table, Tie, Variable
from shiftlore.network.networks import Network
from shiftlore.network.parameters import Parameters, draw_parameters, mean_parameters, replace_parameters
from shiftlore.network.sampling import StateArray, sample_network
from shiftlore.network.surviving import Survival

__all__ = [
    "MAX_ENUMERATED",
    "TIE_NODE",
    "DivorcedNetwork",
    "Enumeration",
    "FloatArray",
    "Gate",
    "Network",
    "NoisyLink",
    "NoisyMax",
    "Parameters",
    "StateArray",
    "Survival",
    "Table",
    "Tie",
    "Variable",
    "divorce",
    "divorced_tables",
    "draw_parameters",
    "enumerate_joint",
    "enumerate_posteriors",
    "expand_gate",
    "mean_parameters",
    "replace_parameters",
    "sample_network",
]
