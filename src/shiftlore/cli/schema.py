"""`shiftlore schema`: the JSON Schema of a file format or a result."""

import json

import click

import shiftlore
from shiftlore.cli.common import write_out

NAMES = ["case", "knowledge", "unit", "rank", "next", "options", "simulate", "validate"]


@click.command("schema", short_help="Print the JSON Schema of a file or a result.")
@click.argument("name", type=click.Choice(NAMES))
def command(name: str) -> None:
    """Print the JSON Schema (2020-12) of a case, of the knowledge, or of a command's JSON output."""
    write_out(json.dumps(shiftlore.schema(name), indent=2, ensure_ascii=False))
