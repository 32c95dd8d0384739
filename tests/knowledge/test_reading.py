"""The reader of this room is the one reader."""

import shiftlore.reading
from shiftlore.knowledge import reading


def test_reading__hands_on_the_one_reader():
    assert all(getattr(reading, name) is getattr(shiftlore.reading, name) for name in reading.__all__)
