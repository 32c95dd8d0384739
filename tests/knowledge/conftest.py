"""The small knowledge, to be spoiled in one place by each test."""

import pytest
from support.trade import ROOT, SMALL, write_small

from shiftlore.knowledge import collect_knowledge
from shiftlore.knowledge.forms import FORMS
from shiftlore.knowledge.intake import Intake, read_words
from shiftlore.knowledge.readers import read_record
from shiftlore.reading import read_yaml


@pytest.fixture
def folder(tmp_path):
    """Give a function that writes the clean folder with some files changed, and returns its path."""
    return lambda changes=None: write_small(tmp_path, "", changes)


@pytest.fixture
def told(folder):
    """Give a function that changes one text in one file and tells what the loader says to that."""

    def tell(name, old, new, code=None):
        assert SMALL[name].count(old) == 1, f"{old!r} must stand once in {name}"
        _, problems = collect_knowledge(folder({name: SMALL[name].replace(old, new)}))
        return [(str(one.mark), one.code, one.severity) for one in problems if code is None or one.code == code]

    return tell


@pytest.fixture(scope="session")
def words():
    """Give the words that came with the program."""
    node, problems = read_yaml(ROOT / "knowledge" / "words.yaml")
    return read_words(node, problems)


@pytest.fixture
def taken(words):
    """Give a function that reads one record of a kind from its text: the record, and what was told."""

    def take(kind, text):
        node, problems = read_yaml(text, "a.yaml")
        record = read_record(node, FORMS[kind], Intake(words, problems))
        return record, [(str(problem.mark), problem.code) for problem in problems]

    return take
