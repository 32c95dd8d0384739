"""Road-test logs at full size: false answers of sound drives, faults that are found, and how long an hour's log takes.

`python tests/benchmarks/bench_trace.py sound 500`   simulated sound drives of five units: at most 1 % false for each finding
`python tests/benchmarks/bench_trace.py faults 20`   faults of a stated size, each on so many drives: at least 95 % found
`python tests/benchmarks/bench_trace.py speed`       one hour at 50 rows a second: within 2 s and 300 MB, all of the program counted

The first two take two seconds of a core for each drive; one number more is the first seed, for drives that nobody has looked at yet.
Bounds are those of the order of work.
"""

import json
import os
import resource
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from support.drives import make_columns, telling, trace_columns, write_csv
from support.trade import ROOT, shipped, unit_of

from shiftlore.driving import read_defect, simulate_drive

UNITS = ("long5", "long6", "long8", "trans4", "trans6")
FAULTS = (
    ("long5", "slip:b1:0.8", "slip_live_3"), ("long5", "slip:c2:0.8", "slip_live_4"), ("long6", "slip:c3:0.8", "slip_live_4"),
    ("trans4", "slip:b1:0.8", "slip_live_2"), ("long5", "lost:c2", "gear_missing_4"), ("long5", "lost:c2", "commanded_not_had"),
    ("long5", "solenoid:sol_a:off", "starts_in_higher_gear"), ("long5", "flare:c2:0.5", "shift_flares_3_4"),
    ("long6", "flare:c2:0.5", "shift_flares_2_3"), ("long5", "bind:b1:1.2", "shift_binds_3_4"),
    ("long6", "bind:b1:0.8", "shift_binds_2_3"), ("long6", "lockup_slip:0.9", "tcc_slip_live"),
    ("long6", "lockup_never", "tcc_never_applies"), ("long5", "lockup_stuck:0.3", "tcc_stays_on"),
    ("long5", "lockup_shudder:0.5", "tcc_judders_on"), ("long5", "stall_off:0.5", "stall_speed_drive"),
    ("long5", "engage_late:2", "engage_delay_drive"), ("long5", "low_pressure:0.6", "line_pressure_stall"),
    ("long6", "hunting", "hunts_top_gears"), ("long5", "module_off:60", "failsafe_mode"),
    ("long5", "dropout:input_rpm:0.4", "speed_signal_drops_input_speed"),
    ("long5", "freeze:output_rpm:8", "speed_signal_drops_output_speed"),
)  # fmt: skip
"""Unit, fault as `trace --simulate` takes it, and the finding that it must give."""
MOST_FALSE, LEAST_FOUND, MOST_SECONDS, MOST_MB = 0.01, 0.95, 2.0, 300.0
FIRST_SEED, TIMES = 1000, 7
TRACED = (
    "import sys\nfrom shiftlore.cli.main import run\ntry:\n    run()\nfinally:\n"
    "    print(open('/proc/self/status').read(), file=sys.stderr)"
)
"""The program as it is started; what Linux says of its memory comes behind (`ru_maxrss` would count its parent's too)."""


def find_false(count: int, first_seed: int) -> Iterator[tuple[str, int, dict[str, str]]]:
    """Trace sound drives; give the unit, the seed and what is told of it falsely."""
    for number in range(count):
        unit, seed = UNITS[number % len(UNITS)], first_seed + number
        yield unit, seed, telling(trace_columns(simulate_drive(shipped().sheets[unit], seed=seed).columns, unit))


def find_faults(unit: str, fault: str, finding: str, count: int, first_seed: int) -> tuple[int, int]:
    """Count in how many of so many drives a fault gives its finding, and in how many it gives any."""
    sheet = shipped().sheets[unit]
    defects = [read_defect(fault, sheet)]
    drives = (simulate_drive(sheet, defects=defects, seed=first_seed + number) for number in range(count))
    told = [telling(trace_columns(drive.columns, unit)) for drive in drives]
    return sum(finding in one for one in told), sum(map(bool, told))


def bench_sound(count: int, first_seed: int) -> bool:
    """Tell how often each finding is told of a sound drive."""
    false: Counter[str] = Counter()
    for done, (unit, seed, told) in enumerate(find_false(count, first_seed), 1):
        records = unit_of(unit).expansion.finding_records
        false.update({records[key].id for key in told})
        if told:
            print(f"  {unit} seed {seed}: {told}", flush=True)
        if done % 50 == 0:
            print(f"  {done} drives, {sum(false.values())} false answers", flush=True)
    worst = max(false.values(), default=0) / count
    print(f"{count} sound drives of {len(UNITS)} units: {dict(false) or 'nothing false'}; worst finding {worst:.1%}")
    return worst <= MOST_FALSE


def bench_faults(count: int, first_seed: int) -> bool:
    """Tell how often each fault is found."""
    is_good = True
    for unit, fault, finding in FAULTS:
        found, told = find_faults(unit, fault, finding, count, first_seed)
        print(f"  {unit:<7}{fault:<24}{finding:<34}{found:>4} of {count}, {told} with some answer", flush=True)
        is_good &= found >= LEAST_FOUND * count
    return is_good


def spend(program: str, *arguments: str) -> tuple[float, subprocess.CompletedProcess[str]]:
    """Run a program in a process of its own; give its seconds of a core, and what it printed."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "OPENBLAS_NUM_THREADS": "1"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    command = [sys.executable, "-c", program, *arguments]
    run = subprocess.run(command, env=environment, capture_output=True, check=True, text=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, run


def bench_speed() -> bool:
    """Tell how long the program takes over an hour's log, and how much memory; in turns with an import, for comparison."""
    with tempfile.TemporaryDirectory() as folder:
        path = write_csv(Path(folder) / "hour.csv", make_columns(rounds=52))
        command = (TRACED, "trace", str(path), "--unit", "long5", "--format", "json")
        _, run = spend(*command)  # leaves the cache warm
        rows, megabytes = json.loads(run.stdout)["rows_read"], int(run.stderr.split("VmHWM:")[1].split()[0]) / 1024
        ours = sorted(spend(*command)[0] for _ in range(TIMES))
        theirs = sorted(spend("import pandas, scipy.signal")[0] for _ in range(TIMES))
    for what, seconds in ((f"{rows:,} rows", ours), ("import pandas, scipy.signal", theirs)):
        print(f"{what}: {seconds[0]:.2f} s of a core at best, {seconds[TIMES // 2]:.2f} in the middle of {TIMES}")
    print(f"{megabytes:.0f} MB at most")
    return ours[TIMES // 2] <= MOST_SECONDS and megabytes <= MOST_MB


if __name__ == "__main__":
    what, size, first = (sys.argv[1:] + ["speed", "20", str(FIRST_SEED)][len(sys.argv) - 1 :])[:3]
    bench = {"sound": bench_sound, "faults": bench_faults}.get(what)
    good = bench(int(size), int(first)) if bench else bench_speed()
    sys.exit(0 if good else 1)
