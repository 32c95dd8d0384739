"""Values, records and the numbers that these may hold; the numbers are checked where a record is read back from bytes."""

import math
import pickle
from functools import cached_property

import msgspec
import numpy as np
import pytest

from shiftlore.basics import Mark
from shiftlore.basics.structs import MOST, Count, Positive, Record, Share, Signed, Unsigned, Value


class Told(Record, frozen=True):
    """A record for these tests."""

    name: str
    share: Share
    marks: tuple[Mark, ...] = ()


class Row(Value, frozen=True, eq=False, dict=True):
    """A value for these tests."""

    numbers: np.ndarray
    _unit: str = ""

    def __post_init__(self) -> None:
        if not len(self.numbers):
            raise ValueError("no number")

    @cached_property
    def total(self) -> float:
        """Their sum."""
        return float(self.numbers.sum())


ROW = Row(np.array([1.0, 2.0]), _unit="mm")
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


def test_value__what_it_works_out_is_kept_and_not_handed_on() -> None:
    first = ROW.total
    assert ROW.total is first
    assert (6.0, "mm") == (ROW.vary(numbers=2 * ROW.numbers).total, ROW.vary(numbers=ROW.numbers)._unit)


def test_value__of_arrays_is_itself_alone() -> None:
    same = ROW.vary()
    assert (True, False, 2) == (ROW == ROW, ROW == same, len({ROW, same, ROW}))


def test_value__its_fields_never_change() -> None:
    with pytest.raises(AttributeError):
        ROW.numbers = np.zeros(1)  # type: ignore[misc]


def test_vary__what_comes_out_is_checked_like_what_is_made_new() -> None:
    with pytest.raises(ValueError, match="no number"):
        ROW.vary(numbers=np.zeros(0))


def test_value__goes_to_another_process_and_works_it_out_there() -> None:
    there = pickle.loads(pickle.dumps(ROW))
    assert (["numbers", "_unit"], 3.0) == ([*there.__struct_fields__], there.total)


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
