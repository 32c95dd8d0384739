"""What all tests share: arrays are small, so one thread of the linear algebra library, as the command line has it."""

import gc
import os
from collections.abc import Iterator
from typing import Any

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # on arrays this small more only wait
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ["XDG_DATA_HOME"] = os.path.join(os.path.dirname(os.path.abspath(__file__)), "no-such-folder")
"""Lest what whoever runs the tests has gathered counts: no casebook is there."""
os.environ.pop("SHIFTLORE_CASEBOOK", None)

BESIDE = {
    **dict.fromkeys(("tests/test_docs.py", "tests/cli/test_validate.py"), "tests/ranking"),
    **dict.fromkeys(("tests/test_package.py", "tests/advising/test_explaining.py"), "tests/compiling"),
    "tests/cli/test_practise.py": "tests/practising",
}
"""Files that share with another room what takes its time: the review of all cards, the general library, drives."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Give each room to one process, and each file of the large or loose ones: what its tests share is made once."""
    from xdist.scheduler import LoadScopeScheduling

    class Scheduling(LoadScopeScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            file = nodeid.split("::", 1)[0]
            room = file.rpartition("/")[0]
            return BESIDE.get(file) or (file if room in ("tests", "tests/cli", "tests/advising") else room)

    return Scheduling(config, log)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Collect without the collector of garbage, which would walk millions of syntax trees again and again."""
    gc.disable()
    yield
    gc.enable()
    gc.freeze()
