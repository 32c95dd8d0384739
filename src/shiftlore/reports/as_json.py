"""Results as JSON, with the fields of the contract: one object, `"shiftlore": 1` first."""

import json
from dataclasses import fields, is_dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from shiftlore.gearing import UnitDescription

FORMAT_VERSION = 1
RENAMED = {"speaks_for": "for", "speaks_against": "against"}
"""Field names that Python keeps for itself."""
TIME = "seconds"
UNIT_FIELDS = ("label", "gears", "lost", "stuck", "missing", "warnings", "solved", "measured", "failsafe_gear")


def to_plain(value: Any) -> Any:
    """Turn frozen records into plain objects and lists; numpy numbers become Python's.

    Example:
        >>> to_plain((1, {"a": 2.5}))
        [1, {'a': 2.5}]
    """
    if is_dataclass(value) and not isinstance(value, type):
        return {RENAMED.get(item.name, item.name): to_plain(getattr(value, item.name)) for item in fields(value)}
    if isinstance(value, dict) or hasattr(value, "items"):
        return {str(key): to_plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [to_plain(item) for item in value]
    return value.item() if hasattr(value, "item") else value


def render_json(value: Any, timing: bool = False) -> str:
    """Write a result as JSON text; fields that are None at the top level are left out.

    Args:
        timing: also write how long it took; without it equal results give equal bytes.
    """
    fields_of = {key: item for key, item in to_plain(value).items() if item is not None and (timing or key != TIME)}
    top = {"shiftlore": FORMAT_VERSION, **fields_of}
    return json.dumps(top, ensure_ascii=False, indent=2, allow_nan=False)


def unit_to_json(description: "UnitDescription") -> dict[str, Any]:
    """Give the fields of the `unit` command's JSON output as plain values."""
    plain = {name: to_plain(getattr(description, name)) for name in UNIT_FIELDS}
    return {"shiftlore": FORMAT_VERSION, "unit": description.id, **plain}
