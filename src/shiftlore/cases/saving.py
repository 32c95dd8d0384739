"""Write a case as YAML that a person can go on editing, so that a crash or a full disk never leaves half a file."""

import json
import os
import re
import stat
from pathlib import Path

from shiftlore.basics.problems import CaseError, Mark, Problem
from shiftlore.basics.whole_files import new_file_mode, write_whole
from shiftlore.cases.records import FORMAT_VERSION, Answer, Case
from shiftlore.reading import FORBIDDEN, bare_meaning

_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_]*([ -][A-Za-z0-9_]+)*")
_YES_NO = ("yes", "no")
_OTHER_READERS = ("y", "n")


def render_case(case: Case) -> str:
    """Write a case as YAML text; keys that say nothing are left out."""
    lines = [f"shiftlore: {FORMAT_VERSION}", f"unit: {_text(case.unit)}", f"odometer_km: {_number(case.odometer_km)}"]
    if case.background:
        lines += ["background:", *(f"  {_text(key)}: {_answer_word(value)}" for key, value in case.background.items())]
    if case.complaint:
        lines.append(f"complaint: [{', '.join(map(_text, case.complaint))}]")
    if case.findings or case.unanswered:
        lines += ["findings:", *(f"  {_text(key)}: {_answer(answer)}" for key, answer in case.findings.items())]
        lines += [f"  {_text(key)}: null" for key in case.unanswered if key not in case.findings]
    if case.done:
        lines.append(f"done: [{', '.join(map(_text, case.done))}]")
    if case.access:
        lines.append(f"access: {_text(case.access)}")
    if case.budget is not None:
        lines.append(f"budget: {_number(case.budget)}")
    if case.asked:
        lines.append(f"asked: [{', '.join(map(_text, case.asked))}]")
    lines += [f"{key}: {_quoted(value)}" for key, value in (("shop", case.shop), ("note", case.note)) if value.strip()]
    return "\n".join(lines) + "\n"


def _answer(answer: Answer) -> str:
    if answer.doubt is None:
        return _answer_word(answer.grade)
    return f"{{is: {_answer_word(answer.grade)}, doubt: {_text(answer.doubt)}}}"


def _answer_word(word: str) -> str:
    """Write yes and no bare, because the place asks for them."""
    return word if word in _YES_NO else _text(word)


def _text(text: str) -> str:
    """Write a text bare where YAML leaves it alone (some readers also turn y and n), else in quotes."""
    is_safe = _PLAIN.fullmatch(text) and bare_meaning(text) is None and text.lower() not in _OTHER_READERS
    return text if is_safe else _quoted(text)


def _quoted(text: str) -> str:
    """Write a text in double quotes; JSON's escapes are YAML's too. Unprintable characters become spaces."""
    return json.dumps(FORBIDDEN.sub(" ", text), ensure_ascii=False)


def _number(value: float | None) -> str:
    if value is None:
        return "null"
    return str(int(value)) if value == int(value) else f"{value:.6f}".rstrip("0").rstrip(".")


def save_case(path: str | Path, case: Case) -> None:
    """Write a case to a file, whole or not at all.

    The text goes to a file beside it, is forced to disk, and takes the name over in one step. The mode of a
    file that was there is kept; a link is followed.

    Raises: CaseError: tells why the file cannot be written; what was there before is still there.
    """
    target = Path(os.path.realpath(path))
    try:
        _refuse_unwritable(target)
        write_whole(target, render_case(case).encode("utf-8"), _mode_for(target))
    except OSError as error:
        what = f"The case cannot be written: {error.strerror or error}"
        advice = "Choose another file or folder, or make room; nothing was changed."
        raise CaseError([Problem(Mark(str(path)), "C040", what, advice)]) from error


def _refuse_unwritable(target: Path) -> None:
    if target.is_dir():
        raise IsADirectoryError(0, "it is a folder")
    if target.exists() and not os.access(target, os.W_OK):
        raise PermissionError(0, "it is write-protected")


def _mode_for(target: Path) -> int:
    """Keep the mode of the file that is there; a new one gets what the user's mask allows."""
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except FileNotFoundError:
        return new_file_mode()
