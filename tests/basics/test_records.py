"""Records and the numbers that they may hold; the numbers are checked where a record is read back from bytes."""

import math
import pickle

import msgspec
import pytest

from shiftlore.basics import Mark
from shiftlore.basics.records import MOST, Count, Positive, Record, Share, Signed, Unsigned


class Told(Record, frozen=True):
    """A record for these tests."""

    name: str
    share: Share
    marks: tuple[Mark, ...] = ()


TOLD = Told("slips", 0.25, (Mark("a.yaml", 3, 5),))


def read_as(kind: object, value: object) -> object:
    return msgspec.msgpack.decode(msgspec.msgpack.encode(value), type=kind)


def test_record__its_fields_never_change() -> None:
    with pytest.raises(AttributeError):
        TOLD.share = 0.5  # type: ignore[misc]


def test_record__equal_fields_make_equal_records_that_serve_as_keys() -> None:
    assert {TOLD: 1} == {Told("slips", 0.25, (Mark("a.yaml", 3, 5),)): 1}
    assert TOLD != Told("slips", 0.25)


def test_vary__changes_some_fields_of_a_copy() -> None:
    assert Told("flares", 0.25, TOLD.marks) == TOLD.vary(name="flares")
    assert "slips" == TOLD.name


def test_vary__a_field_that_is_not_there_is_refused() -> None:
    with pytest.raises(TypeError, match="colour"):
        TOLD.vary(colour="red")


def test_record__goes_to_another_process_and_comes_back() -> None:
    assert TOLD == pickle.loads(pickle.dumps(TOLD))


def test_record__at_rest_it_is_the_list_of_its_values() -> None:
    assert ["slips", 0.25, [["a.yaml", 3, 5]]] == msgspec.msgpack.decode(msgspec.msgpack.encode(TOLD))
    assert TOLD == read_as(Told, ["slips", 0.25, [["a.yaml", 3, 5]]])


@pytest.mark.parametrize(
    ("kind", "value"),
    [(Share, 0.0), (Share, 1.0), (Signed, -MOST), (Unsigned, 0.0), (Unsigned, MOST), (Positive, 1e-9), (Count, 0)],
)
def test_numbers__at_the_edge_of_their_range_are_read(kind: object, value: float) -> None:
    assert value == read_as(kind, value)


@pytest.mark.parametrize(
    ("kind", "value"),
    [(Share, 1.0001), (Share, -0.1), (Signed, 2 * MOST), (Unsigned, -1e-9), (Positive, 0.0), (Count, -1), (Count, 1.5)],
)
def test_numbers__out_of_their_range_are_refused(kind: object, value: float) -> None:
    with pytest.raises(ValueError, match="Expected"):
        read_as(kind, value)


@pytest.mark.parametrize("kind", [Share, Signed, Unsigned, Positive])
@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_numbers__what_is_no_number_is_refused(kind: object, value: float) -> None:
    with pytest.raises(ValueError, match="Expected"):
        read_as(kind, value)
