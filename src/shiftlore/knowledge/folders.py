"""Find the knowledge folder and its files, each with the kind of record that it holds."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from shiftlore.basics.problems import Mark, Problem

# Folder -> key of the list in its files; None where a file is one record.
FOLDERS = {
    "causes": None,
    "states": "states",
    "findings": "findings",
    "codes": "codes",
    "checks": "checks",
    "jobs": "jobs",
    "units": None,
    "textbook": None,
    "language": None,
    "retired": None,
}
# File in the knowledge folder itself -> key of its list; None where the file is one record.
FILES = {
    "words.yaml": None,
    "shop.yaml": None,
    "areas.yaml": "areas",
    "backgrounds.yaml": "backgrounds",
    "access.yaml": "access",
    "follow_ups.yaml": "follow_ups",
    "cautions.yaml": "cautions",
    "prices.yaml": "prices",
}


# Words of the owner's page: read by `phrases` alone, when a page is asked for.
PHRASES_FOLDER = "phrases"


@dataclass(frozen=True, slots=True)
class KnowledgeFile:
    """One file to read.

    Args:
        kind: folder name, or file name without its ending: what it holds.
        list_key: key of the list of records in it, or None where the file is one record.
        name: path below the knowledge folder, as shown in marks.
        content: its bytes, or None where it could not be read.
    """

    kind: str
    list_key: str | None
    name: str
    path: Path
    content: bytes | None


def find_knowledge() -> Path:
    """Give the folder that came with the program: inside the installed package, or beside `src`."""
    packaged = Path(__file__).resolve().parents[1] / "_knowledge"
    return packaged if packaged.is_dir() else Path(__file__).resolve().parents[3] / "knowledge"


def collect_files(folder: Path) -> tuple[list[KnowledgeFile], list[Problem]]:
    """Read the bytes of every knowledge file, in the order of their names.

    Returns: the files; and a problem for each YAML file that stands where nothing reads it.
    """
    if not folder.is_dir():
        return [], [
            Problem(
                Mark(str(folder)),
                "K001",
                "There is no such knowledge folder",
                "Give the path of a folder that has causes, states and findings in it.",
            )
        ]
    files, problems = [], []
    for name in _yaml_names(str(folder), ""):
        kind = _kind_of(name)
        if kind is None:
            problems.append(_stray(name))
        else:
            path = folder / name
            files.append(KnowledgeFile(kind[0], kind[1], name, path, _bytes_of(path)))
    return files, problems


def _yaml_names(folder: str, below: str) -> Iterator[str]:
    """Name every YAML file below the folder; names that begin with a dot or underscore are passed over."""
    with os.scandir(folder) as entries:
        members = sorted(entries, key=lambda entry: entry.name)
    for entry in members:
        if entry.name.startswith((".", "_")) or (not below and entry.name == PHRASES_FOLDER):
            continue
        if entry.is_dir(follow_symlinks=False):
            yield from _yaml_names(entry.path, f"{below}{entry.name}/")
        elif entry.name.endswith((".yaml", ".yml")):
            yield below + entry.name


def _kind_of(name: str) -> tuple[str, str | None] | None:
    parts = name.split("/")
    if not name.endswith(".yaml"):
        return None
    if len(parts) == 1:
        return (name[: -len(".yaml")], FILES[name]) if name in FILES else None
    return (parts[0], FOLDERS[parts[0]]) if parts[0] in FOLDERS else None


def _stray(name: str) -> Problem:
    from shiftlore.reading import known_words  # only where something is wrong: it brings the YAML parser

    if name.endswith(".yml"):
        return Problem(Mark(name), "K030", "Nothing reads a file that ends in .yml", "Rename it to end in .yaml.")
    known = [*FILES, *(f"{folder}/" for folder in FOLDERS)]
    first = name.split("/")[0] + ("/" if "/" in name else "")
    return Problem(Mark(name), "K030", "Nothing reads a file of this name or in this folder", known_words(first, known))


def _bytes_of(path: Path) -> bytes | None:
    try:
        with open(path, "rb") as stream:
            return stream.read()
    except OSError:
        return None
