"""Many cases at once: rows of JSON Lines or Parquet, judged chunk by chunk on all processors, or on those of a cluster."""

from shiftlore.fleet.running import FleetRun, Progress, run_fleet
from shiftlore.fleet.spreading import open_workers
