"""Variables, gates and tables of a Bayesian network: pure arithmetic, no word of the trade."""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.network.surviving import Survival, join_kept, keep_after, number_kinds, pad_rows

if TYPE_CHECKING:
    from shiftlore.network.networks import (
        FloatArray,
        Gate,
        Network,
        NoisyLink,
        NoisyMax,
        Table,
        Variable,
        divorce,
        expand_gate,
        sample_network,
        sample_seen,
    )

__getattr__ = open_later(
    __name__,
    {
        "networks": (
            "FloatArray", "Gate", "Network", "NoisyLink", "NoisyMax", "Table", "Variable", "divorce",
            "expand_gate", "sample_network", "sample_seen",
        )
    },
)  # fmt: skip
