"""Many cases at once: rows of JSON Lines or Parquet, judged chunk by chunk on all processors, or on those of a cluster."""

from shiftlore.fleet.running import COUNT, FleetRun, Progress, refused_beside, run_fleet
from shiftlore.fleet.spreading import Spread, count_cores, open_workers

__all__ = [
    "COUNT",
    "FleetRun",
    "Progress",
    "Spread",
    "count_cores",
    "open_workers",
    "refused_beside",
    "run_fleet",
]
