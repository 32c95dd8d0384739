"""The examples in the docstrings, run as they stand there."""

import doctest
from importlib import import_module
from pathlib import Path

import pytest

SOURCE = Path(__file__).parents[1] / "src"
WITH_EXAMPLES = [path for path in sorted(SOURCE.rglob("*.py")) if ">>> " in path.read_text(encoding="utf-8")]
LEAST_EXAMPLES = 15


def module_of(path: Path):
    """Import the module of a file."""
    return import_module(".".join(path.relative_to(SOURCE).with_suffix("").parts))


@pytest.mark.parametrize("path", WITH_EXAMPLES, ids=lambda path: path.relative_to(SOURCE / "shiftlore").as_posix())
def test_docstrings__show_what_happens(path: Path) -> None:
    """Source: doctest of the standard library."""
    failed, tried = doctest.testmod(module_of(path))
    assert 0 == failed and 0 < tried


def test_docstrings__enough_of_them_hold_an_example() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    assert LEAST_EXAMPLES <= sum(len(test.examples) for path in WITH_EXAMPLES for test in finder.find(module_of(path)))
