"""Tests that start process upon process: they run where `SHIFTLORE_LONG` is set, and skip themselves elsewhere."""

import os

import pytest

long_run = pytest.mark.skipif("SHIFTLORE_LONG" not in os.environ, reason="many processes; set SHIFTLORE_LONG to run it")
