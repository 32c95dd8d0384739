"""A round of practice on disk: which vehicle it is and what was done, so that it goes on, or is played again, to the byte."""

import json
import stat
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from shiftlore.basics import CaseError, Mark, Problem, ShiftloreError, UsageProblem
from shiftlore.basics.problems import printable
from shiftlore.basics.whole_files import new_file_mode, read_bounded, try_place, write_whole
from shiftlore.practising.exercises import HARDEST, Exercise, Wish
from shiftlore.practising.rounds import KINDS, Move, Round, replay
from shiftlore.reading import CASE_BYTES, FORBIDDEN, Fields, read_yaml

FORMAT = 1
HIGHEST_SEED = 2**53
ANOTHER = (
    "The rules or prices have changed since this practice was begun, so its vehicle is another now. Begin a new one: give "
    "another file."
)


@dataclass(frozen=True, slots=True)
class Practice:
    """What a practice file holds.

    Args:
        mark: tells the vehicle from any other; "" before it was drawn.
        acts: what was done, in order.
        finished_on: when it ended, as ISO 8601 writes it, or "".
    """

    wish: Wish
    mark: str = ""
    acts: tuple[Move, ...] = ()
    finished_on: str = ""

    def with_acts(self, acts: Sequence[Move]) -> "Practice":
        """Give the same practice with these acts."""
        return replace(self, acts=tuple(acts))


def render_practice(practice: Practice) -> str:
    """Write a practice as YAML text."""
    wish = practice.wish
    lines = [
        "# A round of practice: shiftlore practise goes on with it. What the vehicle has follows from the seed.",
        f"shiftlore_practice: {FORMAT}",
        f"unit: {_quote(wish.unit)}",
        f"level: {wish.level}",
        f"area: {_quote(wish.area)}",
        f"seed: {wish.seed}",
        *([f"repair: {_quote(wish.repair)}"] if wish.repair else []),
        f"vehicle: {_quote(practice.mark)}",
        "acts:" if practice.acts else "acts: []",
    ]
    for act in practice.acts:
        ids = ", ".join(map(_quote, act.ids))
        lines.append(f"- {{do: {act.kind}, ids: [{ids}]}}")
    if practice.finished_on:
        lines.append(f"finished_on: {_quote(practice.finished_on)}")
    return "\n".join(lines) + "\n"


def _quote(text: str) -> str:
    """Write a text in double quotes; JSON's escapes are YAML's too."""
    return json.dumps(FORBIDDEN.sub(" ", text), ensure_ascii=False)


def read_practice(source: Path | str, name: str = "practice") -> Practice:
    """Read a practice, or tell everything that is wrong with it.

    Args:
        source: a file, or its text; name: what problems call a text.
    Raises: CaseError: carries every problem, each with its place and what to write instead.
    """
    node, problems = read_yaml(source, name if isinstance(source, str) else str(source), "R", CASE_BYTES)
    if node is None or problems:
        raise CaseError(problems)
    fields = Fields(node, problems, "practice")
    fields.whole("shiftlore_practice", FORMAT, FORMAT)
    wish = Wish(
        fields.text("unit"),
        fields.whole("level", 1, HARDEST),
        fields.whole("seed", 0, HIGHEST_SEED),
        fields.text("area", ""),
        fields.text("repair", ""),
    )
    mark = fields.text("vehicle", "")
    acts = []
    for one in fields.records("acts", "act"):
        acts.append(Move(one.word("do", KINDS), one.words_list("ids")))
        one.finish()
    finished_on = fields.text("finished_on", "")
    fields.finish()
    if problems:
        raise CaseError(problems)
    return Practice(wish, mark, tuple(acts), finished_on)


def load_practice(path: Path) -> Practice | None:
    """Read the practice of a file; None where there is none.

    Raises: CaseError: it is none, with every problem. ShiftloreError: it cannot be read.
    """
    try:
        text = read_bounded(path, CASE_BYTES).decode("utf-8")
    except FileNotFoundError:
        return None
    except UnicodeDecodeError as error:
        raise ShiftloreError(
            f"{printable(str(path))} is no text. Give the file of a practice, or a new name."
        ) from error
    except OSError as error:
        raise ShiftloreError(f"{printable(str(path))} cannot be read: {error.strerror or error}.") from error
    return read_practice(text if "\n" in text else text + "\n", str(path))


def save_practice(path: Path, practice: Practice) -> None:
    """Write a practice to its file, whole or not at all.

    Raises: CaseError: tells why it cannot be written; what was there before is still there.
    """
    try:
        target = try_place(path)
        mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else new_file_mode()
        write_whole(target, render_practice(practice).encode("utf-8"), mode)
    except OSError as error:
        what = f"The practice cannot be written: {error.strerror or error}"
        advice = "Choose another file or folder, or make room; nothing was changed."
        raise CaseError([Problem(Mark(printable(str(path))), "R040", what, advice)]) from error


def resume(exercise: Exercise, practice: Practice) -> Round:
    """Give the round that a practice stands at.

    Raises: UsageProblem: its vehicle is another under these rules, or an act cannot have been done.
    """
    if practice.mark and practice.mark != exercise.mark:
        raise UsageProblem(ANOTHER)
    try:
        return replay(exercise, practice.acts)
    except UsageProblem as problem:
        raise UsageProblem(
            f"What stands in this practice cannot have been done: {problem} Give another file."
        ) from None
