"""Turn the knowledge records into plain JSON values and back, guided by the records' own annotations.

Marks become indexes into a list of file names, and strengths indexes into a list of strengths, because
thousands of them are equal.
"""

import types
import typing
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from typing import Any

from shiftlore.basics.problems import Mark
from shiftlore.knowledge.records import Knowledge, Strength
from shiftlore.sheets import UnitSheet

_Convert = Callable[[Any], Any]
_LEFT_OUT = ("places", "worked_out")


def encode_knowledge(knowledge: Knowledge) -> dict[str, Any]:
    """Give the knowledge as JSON values; the places of single words are left out."""
    encoder = _Encoder()
    body = {
        field.name: encoder.encode(getattr(knowledge, field.name))
        for field in fields(Knowledge)
        if field.name not in _LEFT_OUT
    }
    return {"files": list(encoder.files), "strengths": list(encoder.strengths), "knowledge": body}


def decode_knowledge(values: Mapping[str, Any]) -> Knowledge:
    """Build the knowledge from what `encode_knowledge` gave.

    Raises: ValueError, TypeError, KeyError or IndexError where the values are something else.
    """
    decoder = _Decoder(values["files"], [Strength(*each) for each in values["strengths"]])
    body = values["knowledge"]
    parts = {}
    for field in fields(Knowledge):
        if field.name not in _LEFT_OUT:
            wanted = Mapping[str, UnitSheet] if field.name == "sheets" else field.type
            convert = decoder.converter(wanted)
            value = body[field.name]
            parts[field.name] = value if convert is None else convert(value)
    return Knowledge(**parts)


class _Encoder:
    """Writes records as lists of their field values."""

    def __init__(self) -> None:
        self.files: dict[str, int] = {}
        self.strengths: dict[tuple[float, float, str | None], int] = {}

    def encode(self, value: Any) -> Any:
        """Give one value as JSON."""
        if isinstance(value, Mark):
            return [self.files.setdefault(value.file, len(self.files)), value.line, value.column]
        if isinstance(value, Strength):
            return self.strengths.setdefault((value.p, value.weight, value.word), len(self.strengths))
        if is_dataclass(value):
            return [self.encode(getattr(value, field.name)) for field in fields(value)]
        if isinstance(value, Mapping):
            return {key: self.encode(member) for key, member in value.items()}
        if isinstance(value, frozenset):
            return sorted(value)
        return [self.encode(member) for member in value] if isinstance(value, tuple | list) else value


class _Decoder:
    """Makes one converter per annotation; None stands for "take it as it is"."""

    def __init__(self, files: list[str], strengths: list[Strength]):
        self.files = files
        self.strengths = strengths
        self.known: dict[Any, _Convert | None] = {Mark: self._mark, Strength: strengths.__getitem__}

    def converter(self, wanted: Any) -> _Convert | None:
        """Give the converter for an annotation."""
        if wanted not in self.known:
            self.known[wanted] = self._make(wanted)
        return self.known[wanted]

    def _mark(self, value: list[int]) -> Mark:
        return Mark(self.files[value[0]], value[1], value[2])

    def _make(self, wanted: Any) -> _Convert | None:
        origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
        if origin is types.UnionType or origin is typing.Union:
            inner = self.converter(next(part for part in arguments if part is not type(None)))
            return None if inner is None else _unless_none(inner)
        if origin is tuple:
            inner = self.converter(arguments[0])
            return tuple if inner is None else _each(inner)
        if origin is frozenset:
            return frozenset
        if origin is not None and issubclass(origin, Mapping):
            inner = self.converter(arguments[1])
            return None if inner is None else _each_value(inner)
        return self._make_record(wanted) if is_dataclass(wanted) else None

    def _make_record(self, wanted: Any) -> _Convert:
        """Convert only the fields that need it, then build the record."""
        steps = []
        for index, field in enumerate(fields(wanted)):
            convert = self.converter(field.type)
            if convert is not None:
                steps.append((index, convert))

        def build(values: list[Any]) -> Any:
            """Turn the field values into the record."""
            for index, convert in steps:
                values[index] = convert(values[index])
            return wanted(*values)

        return build


def _unless_none(convert: _Convert) -> _Convert:
    return lambda value: None if value is None else convert(value)


def _each(convert: _Convert) -> _Convert:
    return lambda values: tuple(map(convert, values))


def _each_value(convert: _Convert) -> _Convert:
    return lambda values: {key: convert(member) for key, member in values.items()}
