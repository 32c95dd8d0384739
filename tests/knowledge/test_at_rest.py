"""What is written at rest comes back the same, and nothing comes back that does not fit its place."""

import functools
import math
import types
import typing
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from msgspec.structs import fields
from support.trade import shipped, unit_of, write_small

from shiftlore.basics import Mark
from shiftlore.basics.structs import Record
from shiftlore.gearing import UnitFacts
from shiftlore.knowledge import Knowledge, Strength, collect_knowledge, find_knowledge
from shiftlore.knowledge.files import _DAMAGED, _decode_at_rest
from shiftlore.knowledge.intake import NO_WORDS
from shiftlore.knowledge.rulebook import (
    KEPT_FIELDS,
    decode_knowledge,
    decode_record,
    encode_knowledge,
    encode_record,
)


def there_and_back(knowledge):
    return decode_knowledge(encode_knowledge(knowledge))


def test_decode_knowledge__gives_back_the_small_folder(folder):
    knowledge, _ = collect_knowledge(folder())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_decode_knowledge__gives_back_what_came_with_the_program_unit_sheets_included():
    knowledge, _ = collect_knowledge(find_knowledge())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_encode_knowledge__equal_rules_give_equal_bytes_whatever_their_order(folder):
    knowledge = collect_knowledge(folder())[0]
    turned = replace(knowledge, findings=dict(reversed(knowledge.findings.items())))
    assert encode_knowledge(turned) != encode_knowledge(knowledge)
    assert encode_knowledge(turned, sort_keys=True) == encode_knowledge(knowledge, sort_keys=True)


@pytest.mark.parametrize("values", [{}, [], [[]], "rules", None])
def test_decode_knowledge__other_values_raise(values):
    with pytest.raises(ValueError):
        decode_knowledge(msgspec.msgpack.encode(values))


def numbers_of(kind, bounds):
    """Draw any number of an annotation."""
    low = bounds.ge if bounds.gt is None else bounds.gt
    if kind is int:
        return st.integers(low, 9)
    return st.floats(low, bounds.le, exclude_min=bounds.gt is not None)


@functools.cache
def values_of(wanted):
    """Draw any value of an annotation, as the records have them; plain objects are what an answer may be."""
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    plain = {
        str: st.text(max_size=4),
        bool: st.booleans(),
        object: st.text(max_size=3) | st.fixed_dictionaries({"is": st.text(max_size=3), "doubt": st.text(max_size=3)}),
        type(None): st.none(),
        Mark: st.builds(Mark, st.sampled_from(["", "a.yaml", "b/c.yaml"]), st.integers(0, 99), st.integers(0, 99)),
        Strength: st.builds(
            Strength, st.sampled_from([0.1, 0.65]), st.floats(0.5, 9), st.sampled_from([None, "often"])
        ),
    }
    if wanted in plain:
        return plain[wanted]
    if origin is typing.Annotated:
        return numbers_of(*arguments)
    if origin in (types.UnionType, typing.Union):
        return st.one_of([values_of(part) for part in arguments])
    if origin is tuple:
        if arguments[1:] == (...,):
            return st.lists(values_of(arguments[0]), max_size=2).map(tuple)
        return st.tuples(*(values_of(part) for part in arguments))
    if origin is frozenset:
        return st.frozensets(values_of(arguments[0]), max_size=3)
    if origin is not None and issubclass(origin, Mapping):
        return st.dictionaries(st.text(max_size=4), values_of(arguments[1]), max_size=2)
    return st.builds(wanted, **{one.name: values_of(one.type) for one in fields(wanted)})


@pytest.mark.parametrize("kind", sorted(KEPT_FIELDS))
@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data())
def test_decode_knowledge__gives_back_whatever_a_record_can_hold(kind, data):
    """The law of the codec: there and back is the same, for every field of every record."""
    knowledge = replace(Knowledge(NO_WORDS), **{kind: data.draw(values_of(KEPT_FIELDS[kind]))})
    assert knowledge == there_and_back(knowledge)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers(-(2**63), 2**64 - 1) | st.text(max_size=3),
        lambda part: st.lists(part) | st.dictionaries(st.text(max_size=9), part),
        max_leaves=8,
    )
)
def test_decode_knowledge__any_json_raises_only_what_is_caught(values):
    with pytest.raises(_DAMAGED):
        decode_knowledge(msgspec.msgpack.encode(values))


def fits(value, wanted):
    """Tell whether a value is one that an annotation allows, numbers within their range."""
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    if wanted is object:
        return True
    if origin is typing.Annotated:
        kind, bounds = arguments
        if type(value) is not kind:
            return False
        return (bounds.ge <= value if bounds.gt is None else bounds.gt < value) and value <= bounds.le
    if origin in (types.UnionType, typing.Union):
        return any(fits(value, part) for part in arguments)
    if origin is tuple and isinstance(value, tuple):
        each = arguments[:1] * len(value) if arguments[1:] == (...,) else arguments
        return len(each) == len(value) and all(map(fits, value, each))
    if origin is frozenset and isinstance(value, frozenset):
        return all(fits(one, arguments[0]) for one in value)
    if origin is not None:
        return (
            origin is Mapping and isinstance(value, Mapping) and all(fits(one, arguments[1]) for one in value.values())
        )
    if issubclass(wanted, Record):
        return type(value) is wanted and all(fits(getattr(value, one.name), one.type) for one in fields(wanted))
    return type(value) is wanted


def pick(values, draw):
    """Walk into nested lists and mappings at random; gives the last of them and a key in it."""
    while True:
        key = draw(st.sampled_from(sorted(values) if isinstance(values, dict) else range(len(values))))
        below = values[key]
        if not isinstance(below, dict | list) or not below or draw(st.integers(0, 9)) == 0:
            return values, key
        values = below


with TemporaryDirectory() as place_of_small:
    SMALL_CACHE = encode_knowledge(collect_knowledge(write_small(Path(place_of_small)))[0])
OUT_OF_PLACE = [
    None,
    True,
    -1,
    -7.5,
    1.5,
    2,
    1e10,
    1e999,
    10**15,
    math.nan,
    "",
    "x",
    [],
    {},
    [[]],
    [None],
    ["x", 3],
    {"x": 1e999},
]


def still_holds(body):
    """Decode a forged body; it is refused, or every value fits its annotation."""
    try:
        knowledge = _decode_at_rest(body)
    except _DAMAGED:
        return False
    assert all(fits(getattr(knowledge, name), wanted) for name, wanted in KEPT_FIELDS.items())
    return True


@settings(deadline=None, max_examples=300)
@given(data=st.data())
def test_decode_knowledge__a_forged_value_fits_its_place_or_the_cache_is_passed_over(data):
    values = msgspec.msgpack.decode(SMALL_CACHE)
    where, key = pick(values, data.draw)
    where[key] = data.draw(st.sampled_from(OUT_OF_PLACE))
    still_holds(msgspec.msgpack.encode(values))


@settings(deadline=None, max_examples=300)
@given(st.lists(st.tuples(st.integers(0, len(SMALL_CACHE) - 1), st.integers(0, 255)), min_size=1, max_size=4))
def test_decode_knowledge__whatever_bytes_change_every_value_fits_or_the_cache_is_passed_over(changes):
    body = bytearray(SMALL_CACHE)
    for place, byte in changes:
        body[place] = byte
    still_holds(bytes(body))


@pytest.mark.parametrize("unit", sorted(shipped().sheets))
def test_decode_record__gives_back_what_each_unit_says_to_the_rules(unit):
    facts = unit_of(unit).expansion.facts
    assert facts == decode_record(UnitFacts, encode_record(facts))


def test_decode_record__a_key_that_is_no_name_is_refused():
    facts = unit_of("long5").expansion.facts
    forged = facts.vary(applied={(3, "2"): 1.0})
    with pytest.raises(ValueError, match="Expected `str`"):
        decode_record(UnitFacts, encode_record(forged))
