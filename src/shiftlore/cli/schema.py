"""`shiftlore schema`: the JSON Schema of a file format or a result."""

import json
from importlib import import_module

import click

from shiftlore.cli.common import write_out

# Name -> (room, function) that builds the schema.
SCHEMAS = {
    "case": ("shiftlore.reports.schemas_files", "case_schema"),
    "knowledge": ("shiftlore.reports.schemas_files", "knowledge_schema"),
    "unit": ("shiftlore.reports.schemas", "unit_schema"),
    "rank": ("shiftlore.reports.schemas", "rank_schema"),
    "next": ("shiftlore.reports.schemas", "next_schema"),
    "options": ("shiftlore.reports.schemas", "options_schema"),
    "simulate": ("shiftlore.reports.schemas", "simulate_schema"),
    "validate": ("shiftlore.reports.schemas", "validate_schema"),
}


@click.command("schema", short_help="Print the JSON Schema of a file or a result.")
@click.argument("name", type=click.Choice(list(SCHEMAS)))
def command(name: str) -> None:
    """Print the JSON Schema (2020-12) of a case, of the knowledge, or of a command's JSON output."""
    room, function = SCHEMAS[name]
    write_out(json.dumps(getattr(import_module(room), function)(), indent=2, ensure_ascii=False))
