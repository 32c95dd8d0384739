"""Variables, gates and tables of a Bayesian network: pure arithmetic, no word of the trade."""

from shiftlore.network.divorcing import divorce, expand_gate
from shiftlore.network.gates import FloatArray, Gate, NoisyLink, NoisyMax, Table, Variable
from shiftlore.network.networks import Network
from shiftlore.network.sampling import StateArray, sample_network
from shiftlore.network.surviving import Survival

__all__ = [
    "FloatArray",
    "Gate",
    "Network",
    "NoisyLink",
    "NoisyMax",
    "StateArray",
    "Survival",
    "Table",
    "Variable",
    "divorce",
    "expand_gate",
    "sample_network",
]
