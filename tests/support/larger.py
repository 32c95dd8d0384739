"""Write a knowledge of several times the size: copies of all causes, states, findings, checks and jobs beside the shipped ones.

A copy keeps its areas, backgrounds, tools and prices; its ids get a number behind them wherever they stand, so its links are
its own. An id that something else has too is numbered where it is given, not where it is named.
"""

import re
import shutil
from pathlib import Path

from shiftlore.knowledge import list_ids
from support.trade import ROOT

COPIED = ("causes", "states", "findings", "checks", "jobs")
OTHERS = ("areas", "backgrounds", "cautions", "prices", "access", "follow_ups")
ALSO_WORDS = {"overhaul", "failsafe"}  # a kind of job, and gears
_ID = re.compile(r"(\bid: )?\b([a-z][a-z0-9]*(?:_[a-z0-9]+)*)\b")


def write_larger(folder: Path, times: int) -> Path:
    """Write the shipped knowledge and `times - 1` copies of it into a folder, without what only tests or reads words."""
    shipped = ROOT / "knowledge"
    left_out = shutil.ignore_patterns("textbook", "sayings", "_*")
    shutil.copytree(shipped, folder, ignore=left_out, dirs_exist_ok=True)
    ids = set(list_ids(shipped, COPIED))
    shared = ids & {*list_ids(shipped, OTHERS), *ALSO_WORDS}
    for number in range(2, times + 1):
        for path in (path for kind in COPIED for path in (shipped / kind).rglob("*.yaml") if path.name[0] != "_"):
            text = path.read_text(encoding="utf-8")
            name = path.relative_to(shipped)
            target = folder / name.with_stem(f"{name.stem}_n{number}")
            target.write_text(_number(text, ids, shared, f"_n{number}"), encoding="utf-8")
    return folder


def _number(text: str, ids: set[str], shared: set[str], behind: str) -> str:
    """Put a number behind every id that is the copy's own."""

    def one(found: re.Match[str]) -> str:
        own = found[2] in ids and (found[1] or found[2] not in shared)
        return found[0] + behind if own else found[0]

    return _ID.sub(one, text)
