"""Load the whole knowledge folder: every file read, every problem gathered, then one answer."""

from pathlib import Path

from shiftlore.basics.problems import KnowledgeError, Problem
from shiftlore.knowledge.cache import load_cached, save_cached
from shiftlore.knowledge.folders import KnowledgeFile, collect_files, find_knowledge
from shiftlore.knowledge.records import Knowledge


def load_knowledge(path: Path | str | None = None) -> Knowledge:
    """Load the trade, or tell everything that is wrong with it.

    Args:
        path: a knowledge folder; None takes the one that came with the program.
    Raises: KnowledgeError: carries every problem of severity ``error``; warnings raise nothing.
    """
    folder = find_knowledge() if path is None else Path(path)
    files, problems = collect_files(folder)
    if not problems:
        cached = load_cached(files)
        if cached is not None:
            return cached
    knowledge, more = _read_all(files)
    errors = [problem for problem in [*problems, *more] if problem.severity == "error"]
    if errors:
        raise KnowledgeError(errors)
    save_cached(files, knowledge)
    return knowledge


def collect_knowledge(path: Path | str | None = None) -> tuple[Knowledge, list[Problem]]:
    """Load as much of the trade as can be read, with every problem, warnings included.

    Args:
        path: a knowledge folder; None takes the one that came with the program.
    Returns: the knowledge, partial where problems are errors; the problems in the order of their places.
    """
    files, problems = collect_files(find_knowledge() if path is None else Path(path))
    knowledge, more = _read_all(files)
    return knowledge, sorted([*problems, *more], key=_place_order)


def _place_order(problem: Problem) -> tuple[str, int, int, str]:
    return problem.mark.file, problem.mark.line, problem.mark.column, problem.code


def _read_all(files: list[KnowledgeFile]) -> tuple[Knowledge, list[Problem]]:
    """Read without the cache; the readers are imported only then, which keeps a warm start short."""
    from shiftlore.knowledge.gathering import read_all

    return read_all(files)
