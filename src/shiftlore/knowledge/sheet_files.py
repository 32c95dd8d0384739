"""Tell a unit sheet from a case by its keys."""

from pathlib import Path

from shiftlore.knowledge.reading import read_yaml

_SHEET_KEYS = frozenset({"gears", "elements", "ranges", "solenoids", "sets", "kind_only", "lockup_gears", "tags"})
_CASE_KEYS = frozenset({"shiftlore", "unit", "findings", "complaint", "background", "odometer_km"})


def is_sheet_file(path: Path) -> bool:
    """Tell whether a file is a unit sheet: it has more keys of a sheet than of a case."""
    node, _ = read_yaml(path)
    if node is None or node.kind != "mapping":
        return False
    keys = {key.text for key, _ in node.pairs}
    return len(keys & _SHEET_KEYS) > len(keys & _CASE_KEYS)
