"""What is written at rest comes back the same, and nothing comes back that does not fit its place."""

import functools
import json
import types
import typing
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from support.trade import shipped, unit_of, write_small

from shiftlore.basics import Mark
from shiftlore.gearing import UnitFacts
from shiftlore.knowledge import Knowledge, Strength, collect_knowledge, find_knowledge
from shiftlore.knowledge.at_rest import (
    _KEPT_FIELDS,
    decode_knowledge,
    decode_record,
    encode_knowledge,
    encode_record,
)
from shiftlore.knowledge.files import _DAMAGED, _decode_at_rest
from shiftlore.knowledge.intake import NO_WORDS


def there_and_back(knowledge):
    return decode_knowledge(json.loads(json.dumps(encode_knowledge(knowledge))))


def test_decode_knowledge__gives_back_the_small_folder(folder):
    knowledge, _ = collect_knowledge(folder())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_decode_knowledge__gives_back_what_came_with_the_program_unit_sheets_included():
    knowledge, _ = collect_knowledge(find_knowledge())
    assert replace(knowledge, places={}) == there_and_back(knowledge)


def test_encode_knowledge__writes_equal_strengths_once(folder):
    encoded = encode_knowledge(collect_knowledge(folder())[0])
    strengths = [*zip(*encoded["records"]["Strength"], strict=True)]
    assert len(strengths) == len({*strengths})


@pytest.mark.parametrize("values", [{}, [], {"records": {}, "knowledge": {}}, {"records": 1, "knowledge": {}}])
def test_decode_knowledge__other_values_raise(values):
    with pytest.raises((ValueError, TypeError, KeyError, IndexError)):
        decode_knowledge(values)


@functools.cache
def values_of(wanted):
    """Draw any value of an annotation, as the records have them; plain objects are what an answer may be."""
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    plain = {
        str: st.text(max_size=4),
        bool: st.booleans(),
        int: st.integers(0, 9),
        float: st.floats(0, 1e9),
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
        return st.floats(*arguments[1])
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
    assert is_dataclass(wanted), wanted
    return st.builds(wanted, **{one.name: values_of(one.type) for one in fields(wanted) if one.init})


KINDS = [one.name for one in fields(Knowledge) if one.init and one.name != "places"]


@pytest.mark.parametrize("kind", KINDS)
@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(data=st.data())
def test_decode_knowledge__gives_back_whatever_a_record_can_hold(kind, data):
    """The law of the codec: there and back is the same, for every field of every record."""
    wanted = {one.name: one.type for one in fields(Knowledge)}[kind]
    knowledge = replace(Knowledge(NO_WORDS), **{kind: data.draw(values_of(wanted))})
    assert knowledge == there_and_back(knowledge)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=3),
        lambda part: st.lists(part) | st.dictionaries(st.text(max_size=9), part),
        max_leaves=8,
    )
)
def test_decode_knowledge__any_json_raises_only_what_is_caught(values):
    with pytest.raises(_DAMAGED):
        decode_knowledge(values)


def fits(value, wanted):
    """Tell whether a value is one that an annotation allows, numbers within their range."""
    origin, arguments = typing.get_origin(wanted), typing.get_args(wanted)
    if wanted is object:
        return True
    if wanted in (int, float) or origin is typing.Annotated:
        least, most = arguments[1] if arguments else (0, 1e9)
        return type(value) in (int, int if wanted is int else float) and least <= value <= most
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
    if is_dataclass(wanted):
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
    SMALL_CACHE = json.dumps(encode_knowledge(collect_knowledge(write_small(Path(place_of_small)))[0]))
OUT_OF_PLACE = [
    None,
    True,
    -1,
    -7.5,
    1.5,
    2,
    1e10,
    1e999,
    10**400,
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
    assert all(fits(getattr(knowledge, one.name), one.type) for one in fields(Knowledge) if one.name in _KEPT_FIELDS)
    return True


@settings(deadline=None, max_examples=300)
@given(data=st.data())
def test_decode_knowledge__a_forged_value_fits_its_place_or_the_cache_is_passed_over(data):
    values = json.loads(SMALL_CACHE)
    where, key = pick(values, data.draw)
    where[key] = data.draw(st.sampled_from(OUT_OF_PLACE))
    still_holds(json.dumps(values).encode())


@settings(deadline=None, max_examples=300)
@given(st.lists(st.tuples(st.integers(0, len(SMALL_CACHE) - 1), st.integers(0, 255)), min_size=1, max_size=4))
def test_decode_knowledge__whatever_bytes_change_every_value_fits_or_the_cache_is_passed_over(changes):
    body = bytearray(SMALL_CACHE.encode())
    for place, byte in changes:
        body[place] = byte
    still_holds(bytes(body))


@pytest.mark.parametrize("unit", sorted(shipped().sheets))
def test_decode_record__gives_back_what_each_unit_says_to_the_rules(unit):
    facts = unit_of(unit).expansion.facts
    assert facts == decode_record(UnitFacts, json.loads(json.dumps(encode_record(facts))))


def test_decode_record__a_key_that_is_no_name_is_refused():
    values = encode_record(unit_of("long5").expansion.facts)
    place = next(i for i, one in enumerate(fields(UnitFacts)) if one.name == "applied")
    values["UnitFacts"][place][0][0][0] = 3
    with pytest.raises(TypeError, match="no str"):
        decode_record(UnitFacts, values)
