"""Records are frozen."""

from dataclasses import FrozenInstanceError

import pytest

from shiftlore.knowledge import Strength


def test_strength__cannot_be_changed():
    strength = Strength(0.5, 10)
    with pytest.raises(FrozenInstanceError):
        strength.p = 0.6
