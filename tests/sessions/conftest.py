"""Sessions that begin alike share the way there: what is compiled for a case, and the steps chosen for it."""

from collections.abc import Iterator

import pytest
from support.trade import share_cases


@pytest.fixture(autouse=True, scope="module")
def cases_once() -> Iterator[None]:
    """Work each case out once a process."""
    with pytest.MonkeyPatch.context() as patch:
        share_cases(patch)
        yield
