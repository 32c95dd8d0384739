"""Exact posteriors on networks with one many-state root, in bounded time; knows nothing of the trade."""

from shiftlore.exact.answers import Doubted, Evidence
from shiftlore.exact.column_sums import ColumnSums
from shiftlore.exact.engine import HubEngine
from shiftlore.exact.joining import PairBounds
from shiftlore.exact.tables import (
    FloatArray,
    GateTable,
    HubTables,
    cumulate_rows,
    join_columns,
    normalise,
    pad_sets,
    take_sets,
)
