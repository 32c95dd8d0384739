"""What all tests share: arrays are small, so one thread of the linear algebra library, as the command line has it."""

import os
from typing import Any

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # on arrays this small more only wait
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ["XDG_DATA_HOME"] = os.path.join(os.path.dirname(os.path.abspath(__file__)), "no-such-folder")
"""Lest what whoever runs the tests has gathered counts: no casebook is there."""
os.environ.pop("SHIFTLORE_CASEBOOK", None)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Give each file to one process: what its tests share is made once."""
    from xdist.scheduler import LoadFileScheduling

    return LoadFileScheduling(config, log)
