"""Exact posteriors on networks with one many-state root, in bounded time; knows nothing of the trade."""

from shiftlore.exact.answers import Doubted, Evidence
from shiftlore.exact.column_sums import ColumnSums
from shiftlore.exact.engine import HubEngine, Standing
from shiftlore.exact.joining import PairBounds
from shiftlore.exact.tables import (
    FloatArray,
    GateTable,
    HubTables,
    cumulate_rows,
    cut_columns,
    join_columns,
    normalise,
    pad_sets,
    take_sets,
)

__all__ = [
    "ColumnSums",
    "Doubted",
    "Evidence",
    "FloatArray",
    "GateTable",
    "HubEngine",
    "HubTables",
    "PairBounds",
    "Standing",
    "cumulate_rows",
    "cut_columns",
    "join_columns",
    "normalise",
    "pad_sets",
    "take_sets",
]
