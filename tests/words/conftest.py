"""The small knowledge folder, for the words."""

from dataclasses import replace

import pytest
from support.sayings import few
from support.trade import write_small


@pytest.fixture
def folder(tmp_path):
    """Give a function that writes the clean folder with some files changed, and returns its path."""
    return lambda changes=None: write_small(tmp_path, "", changes)


@pytest.fixture
def trade_of_one():
    """Give the trade with one finding that is said in two ways."""
    return replace(
        few(),
        findings={"slips": few().findings["slips"]},
        backgrounds={},
        sayings={"en": {"slips": {"yes": ("it slips",), "no": ("pulls well",)}}},
    )
