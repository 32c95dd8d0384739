"""Records as bytes and back, by their own annotations: what does not fit these is refused.

Source: MessagePack, as msgspec writes and reads it.
"""

from dataclasses import fields
from typing import Any, TypeVar

import msgspec

from shiftlore.knowledge.rulebook import Knowledge

Kept = TypeVar("Kept")
KEPT_FIELDS = {one.name: one.type for one in fields(Knowledge) if one.name not in ("places", "worked_out")}
_KeptKnowledge = msgspec.defstruct("_KeptKnowledge", [*KEPT_FIELDS.items()], array_like=True)


def encode_knowledge(knowledge: Knowledge, sort_keys: bool = False) -> bytes:
    """Write the knowledge; the places of single words are left out.

    Args:
        sort_keys: equal rules give equal bytes, whatever the order in which they were read.
    """
    values = _KeptKnowledge(*(getattr(knowledge, name) for name in KEPT_FIELDS))
    return msgspec.msgpack.encode(values, order="sorted" if sort_keys else None)


def decode_knowledge(content: bytes) -> Knowledge:
    """Build the knowledge from what `encode_knowledge` wrote.

    Raises: ValueError: it is something else, or a number is out of range.
    """
    kept = decode_record(_KeptKnowledge, content)
    return Knowledge(**{name: getattr(kept, name) for name in KEPT_FIELDS})


def encode_record(record: Any) -> bytes:
    """Write one record, with all that is in it."""
    return msgspec.msgpack.encode(record)


def decode_record(wanted: type[Kept], content: bytes) -> Kept:
    """Build a record from what `encode_record` wrote.

    Raises: ValueError: it is something else, or a number is out of range.
    """
    return msgspec.msgpack.decode(content, type=wanted)
