"""Load the whole knowledge folder: every file read, every problem gathered, then one answer."""

from operator import attrgetter
from pathlib import Path

from shiftlore.basics.problems import KnowledgeError, Problem
from shiftlore.knowledge.files import collect_files, find_knowledge, hash_files, load_cached, save_cached
from shiftlore.knowledge.rulebook import READ_FROM, SHIPPED, Knowledge


def load_knowledge(path: Path | str | None = None) -> Knowledge:
    """Load the trade, or tell everything that is wrong with it.

    Args:
        path: a knowledge folder; None takes the one that came with the program.
    Raises: KnowledgeError: carries every problem of severity ``error``; warnings raise nothing.
    """
    folder = find_knowledge() if path is None else Path(path)
    is_shipped = folder.resolve() == find_knowledge()
    files, problems = collect_files(folder)
    mark = hash_files(files)
    knowledge = None if problems else load_cached(mark)
    if knowledge is None:
        from shiftlore.knowledge.gathering import read_all  # brings the readers, which a warm start does without

        knowledge, more = read_all(files)
        errors = [problem for problem in [*problems, *more] if problem.severity == "error"]
        if errors:
            raise KnowledgeError(errors)
        save_cached(mark, knowledge)
    knowledge.worked_out.update({SHIPPED: is_shipped, READ_FROM: mark})
    return knowledge


def collect_knowledge(path: Path | str | None = None) -> tuple[Knowledge, list[Problem]]:
    """Load as much of the trade as can be read, with every problem, warnings included.

    Args:
        path: a knowledge folder; None takes the one that came with the program.
    Returns: the knowledge, partial where problems are errors; the problems in the order of their places.
    """
    from shiftlore.knowledge.gathering import read_all

    files, problems = collect_files(find_knowledge() if path is None else Path(path))
    knowledge, more = read_all(files)
    by_place = attrgetter("mark.file", "mark.line", "mark.column", "code")
    return knowledge, sorted([*problems, *more], key=by_place)
