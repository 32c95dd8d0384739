"""The version."""

import re

import shiftlore
from shiftlore.version import __version__


def test_version__is_said_once_and_has_three_parts() -> None:
    assert re.fullmatch(r"\d+\.\d+\.\d+", __version__)
    assert __version__ == shiftlore.__version__
