"""Records as JSON values and back, guided by their own annotations.

All records of a class stand together, one list per field; where a record holds another there stands its place among those.
So thousands of records are checked and made a field at a time. Marks and strengths that are equal stand there once.
"""

import math
import typing
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from itertools import islice
from typing import Any

from shiftlore.basics.problems import Mark
from shiftlore.basics.quantities import MOST
from shiftlore.knowledge.records import Strength
from shiftlore.knowledge.rulebook import Knowledge

Record = typing.TypeVar("Record")
_KEPT_FIELDS = {one.name: one.type for one in fields(Knowledge) if one.name not in ("places", "worked_out")}
_SHARED = (Mark, Strength)


def encode_knowledge(knowledge: Knowledge) -> dict[str, Any]:
    """Give the knowledge as JSON values; the places of single words are left out."""
    encoder = _Encoder()
    body = {name: encoder.encode(getattr(knowledge, name)) for name in _KEPT_FIELDS}
    return {"records": encoder.columns(), "knowledge": body}


def decode_knowledge(values: Mapping[str, Any]) -> Knowledge:
    """Build the knowledge from what `encode_knowledge` gave.

    Raises: ValueError, TypeError, KeyError, IndexError or AttributeError where the values are something else.
    """
    decoder, kept = _Decoder(values["records"]), values["knowledge"]
    return Knowledge(**{name: decoder.column(wanted, [kept[name]])[0] for name, wanted in _KEPT_FIELDS.items()})


def encode_record(record: Any) -> dict[str, Any]:
    """Give one record, with all that is in it, as JSON values."""
    encoder = _Encoder()
    encoder.encode(record)
    return encoder.columns()


def decode_record(wanted: type[Record], values: Mapping[str, Any]) -> Record:
    """Build a record from what `encode_record` gave.

    Raises: as `decode_knowledge`.
    """
    found: Record = _Decoder(values).records(wanted)[-1]
    return found


class _Encoder:
    """Gathers records by their class."""

    def __init__(self) -> None:
        self.rows: dict[str, list[list[Any]]] = {}
        self.shared: dict[Any, int] = {}

    def encode(self, value: Any) -> Any:
        """Give one value as JSON; of a record, its place among those of its class."""
        if isinstance(value, _SHARED):
            if value not in self.shared:
                self.shared[value] = self._place(value)
            return self.shared[value]
        if is_dataclass(value):
            return self._place(value)
        if isinstance(value, Mapping):
            if any(isinstance(key, tuple) for key in value):
                return [[*key, self.encode(member)] for key, member in value.items()]
            return {key: self.encode(member) for key, member in value.items()}
        if isinstance(value, frozenset):
            return sorted(value)
        return [self.encode(member) for member in value] if isinstance(value, tuple | list) else value

    def _place(self, record: Any) -> int:
        """Put a record behind those of its class; records in it come first."""
        row = [self.encode(getattr(record, field.name)) for field in fields(record)]
        rows = self.rows.setdefault(type(record).__name__, [])
        rows.append(row)
        return len(rows) - 1

    def columns(self) -> dict[str, list[list[Any]]]:
        """Give all records: class -> field -> values."""
        return {name: [*map(list, zip(*rows, strict=True))] for name, rows in self.rows.items()}


def _listed(values: Any, count: int | None = None) -> list[Any]:
    """Let a list through, of so many members where that is given."""
    if type(values) is not list or count not in (None, len(values)):
        raise TypeError("no list")
    return values


def _check_plain(values: list[Any], wanted: Any, least: float = 0, most: float = MOST) -> list[Any]:
    """Let values of one plain type through, all at once, and numbers that are in their range."""
    if not {*map(type, values)} <= ({float, int} if wanted is float else {wanted}):
        raise TypeError(f"no {wanted.__name__}")
    is_number = wanted in (int, float) and bool(values)
    if is_number and (not least <= min(values) <= max(values) <= most or math.isnan(sum(values))):
        raise ValueError("no number that may stand here")
    return values


class _Decoder:
    """Makes the records of one class after the other."""

    def __init__(self, columns: Mapping[str, list[list[Any]]]):
        self.columns = columns
        self.made: dict[type, list[Any]] = {}

    def records(self, wanted: Any) -> list[Any]:
        """Give all records of a class."""
        if wanted not in self.made:
            kept = self.columns.get(wanted.__name__, [[] for _ in fields(wanted)])
            pairs = zip(fields(wanted), _listed(kept), strict=True)
            parts = [self.column(field.type, _listed(values)) for field, values in pairs]
            if len({*map(len, parts)}) > 1:
                raise ValueError("a field is missing")
            made = [*map(wanted, *parts)]
            if wanted is Strength and not all(one.weight for one in made):
                raise ValueError("no strength")
            self.made[wanted] = made
        return self.made[wanted]

    def column(self, wanted: Any, values: list[Any]) -> list[Any]:
        """Turn the values of one field into what its annotation says."""
        origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
        if wanted is object:
            return values
        if origin is typing.Annotated:
            return _check_plain(values, arguments[0], *arguments[1])
        if is_dataclass(wanted):
            records = self.records(wanted)
            return [records[place] for place in _check_plain(values, int)]
        if not arguments:
            return _check_plain(values, wanted)
        if isinstance(origin, type) and issubclass(origin, Mapping):
            return [*self._mappings(arguments, values)]
        inner = next(one for one in arguments if one is not type(None))
        if origin in (tuple, frozenset):
            count = None if arguments[1:] in ((), (...,)) else len(arguments)
            parts = iter(self.column(inner, [one for value in values for one in _listed(value, count)]))
            return [origin(islice(parts, len(value))) for value in values]
        parts = iter(self.column(inner, [value for value in values if value is not None]))
        return [None if value is None else next(parts) for value in values]

    def _mappings(self, arguments: tuple[Any, ...], values: list[Any]) -> Iterator[dict[Any, Any]]:
        if typing.get_origin(arguments[0]) is tuple:  # keys stand before their values, if there are any
            rows = [_listed(value or []) for value in values]
            parts = iter(self.column(arguments[1], [row[-1] for value in rows for row in value]))
            for value in rows:
                keys = (tuple(_check_plain(_listed(row)[:-1], str)) for row in value)
                yield dict(zip(keys, parts, strict=False))
            return
        parts = iter(self.column(arguments[1], [one for value in values for one in value.values()]))
        for value in values:
            yield dict(zip(value, parts, strict=False))
