"""The small knowledge folder, for the words."""

import pytest
from support.trade import write_small


@pytest.fixture
def folder(tmp_path):
    """Give a function that writes the clean folder with some files changed, and returns its path."""
    return lambda changes=None: write_small(tmp_path, "", changes)
