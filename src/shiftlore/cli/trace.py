"""`shiftlore trace`: a road-test log becomes findings, with figures; or a log is simulated, sound or with faults."""

import csv
import datetime
import io
from collections.abc import Iterator, Mapping
from functools import partial
from pathlib import Path
from typing import Any

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics.problems import printable

UNIT_HELP = "The unit; by default that of the case, or the one that the ratios of the log fit."
MAP_HELP = "What a column is, such as input_rpm=NT or road_kmh=Speed:mph; may be given again."
INTO_HELP = "Add the answers to this case; what it says already stays."
PAGE_HELP = "Draw the drive, with every answer marked, on this page."
SIMULATE_HELP = "Write a simulated log of this unit instead of reading one."
FAULT_HELP = "With --simulate: a fault, such as slip:c1:0.8; may be given again; --fault help lists them."
OUT_HELP = "With --simulate: write the log here; else it is printed."
SOME_ROWS = 20_000
_HELP_WORD = "help"


@click.command("trace", short_help="Turn a road-test log into findings.")
@click.argument("log", required=False, metavar="LOG", type=common.A_PATH)
@common.unit_option("unit_id", UNIT_HELP)
@click.option("--map", "columns", multiple=True, metavar="NAME=COLUMN[:UNIT]", help=MAP_HELP)
@click.option("--into", type=common.A_PATH, metavar="CASE", help=INTO_HELP)
@click.option("--page", type=common.A_PATH, metavar="FILE.html", help=PAGE_HELP)
@click.option("--simulate", metavar="UNIT", help=SIMULATE_HELP, shell_complete=common.complete_ids("units"))
@click.option("--fault", "faults", multiple=True, metavar="FAULT", help=FAULT_HELP)
@click.option(
    "--seed", type=common.Whole(0), default=1, metavar="N", help="With --simulate: the same seed, the same log."
)
@click.option("--out", type=common.A_PATH, metavar="FILE.csv", help=OUT_HELP)
@common.format_option
@common.plain_option
@common.knowledge_option
@common.shop_option
@common.force_option
def trace_command(
    log: Path | None, unit_id: str | None, columns: tuple[str, ...], into: Path | None, page: Path | None, simulate: str |
    None, faults: tuple[str, ...], seed: int, out: Path | None, form: str, plain: bool, folder: Path | None, shop_path:
    Path | None, force: bool,
) -> None:  # fmt: skip
    """Say what LOG, the recording of a road test, shows: slip in each gear, flares, converter clutch, signals.

    LOG is CSV with any names of columns, or MDF4. It needs a time, the engine's or the input's speed, and output or
    road speed; the commanded gear and the converter clutch command tell much more. What each column was taken for is
    shown; --map says otherwise.
    """
    if simulate is not None:
        if log is not None:
            raise click.UsageError("--simulate writes a log and reads none: leave LOG out, or leave --simulate out.")
        _write_simulated(simulate, faults, seed, out=out, folder=folder, force=force)
        return
    if faults or out is not None:
        raise click.UsageError("--fault and --out go with --simulate UNIT.")
    if log is None:
        raise click.UsageError("Name the file of a recording, or --simulate UNIT to make one up.")
    if page is not None:
        common.require_place(page, force=force, ending=".html|.htm")
    if into is not None and into.is_file():
        common.require_place(into)
    from shiftlore.reports.trace_text import render_trace

    knowledge = common.load_trade(folder, shop_path)
    with common.busy("Reading the log"):
        trace = shiftlore.trace(knowledge, log, unit_id, columns, into)
    if page is not None:
        from shiftlore.reports.trace_page import render_trace_page

        name = knowledge.shop.name if knowledge.shop is not None else ""
        written = render_trace_page(trace, printable(log.name), name, datetime.date.today())
        common.save_output(page, written.encode("utf-8"), force)
        click.echo(f"The page stands in {page}.", err=True)
    common.show(form, trace, partial(render_trace, trace), plain)


def _write_simulated(
    unit: str, faults: tuple[str, ...], seed: int, *, out: Path | None, folder: Path | None, force: bool
) -> None:
    """Simulate a road test and write its log."""
    if _HELP_WORD in faults:
        from shiftlore.driving import KINDS

        for word, kind in KINDS.items():
            part = f":{kind.of}" if kind.of else ""
            click.echo(f"{word + part + ':size':<28} {kind.says}")
        return
    if out is not None:
        common.require_place(out, force=force, ending=".csv")
    knowledge = common.load_trade(folder)
    with common.busy("Driving"):
        drive = shiftlore.simulate_drive(knowledge, unit, faults, seed)
    pieces = write_columns(drive.columns)
    if out is None:
        for piece in pieces:
            click.echo(piece, nl=False)
        return
    common.save_output(out, (piece.encode("utf-8") for piece in pieces), force)
    told = ", ".join(map(printable, faults)) or "sound"
    click.echo(f"A simulated drive of {knowledge.sheet_of(unit).id}, {told}, stands in {out}.", err=True)


def write_columns(columns: Mapping[str, Any]) -> Iterator[str]:
    """Write columns as CSV, some thousand rows at a time: figures as short as they can be read back."""
    rows = len(next(iter(columns.values())))
    for first in range(0, max(rows, 1), SOME_ROWS):
        held = io.StringIO()
        writer = csv.writer(held, lineterminator="\n")
        if not first:
            writer.writerow(columns)
        shown = [column[first : first + SOME_ROWS].tolist() for column in columns.values()]
        writer.writerows([_short(cell) for cell in row] for row in zip(*shown, strict=True))
        yield held.getvalue()


def _short(cell: object) -> object:
    return f"{cell:.3f}".rstrip("0").rstrip(".") if isinstance(cell, float) else cell
