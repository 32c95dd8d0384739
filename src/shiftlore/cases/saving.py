"""A case as YAML that a person can go on editing, and its file while somebody works on it.

It is saved with its comments, whole or not at all, and never over what was changed in it meanwhile.
"""

import json
import re
import stat
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from shiftlore.basics.problems import CaseError, Mark, Problem, ShiftloreError, printable
from shiftlore.basics.quantities import as_thousands
from shiftlore.basics.whole_files import new_file_mode, read_bounded, try_place, write_whole
from shiftlore.cases.case_records import FORMAT_VERSION, Answer, Case, Done, Onset, Outcome
from shiftlore.cases.reading import is_code
from shiftlore.reading import CASE_BYTES, FORBIDDEN, bare_meaning, carry_over

_PLAIN = re.compile(r"[A-Za-z_][A-Za-z0-9_]*([ -][A-Za-z0-9_]+)*")
_YES_NO = ("yes", "no")
_OTHER_READERS = ("y", "n")


def render_case(case: Case) -> str:
    """Write a case as YAML text; keys that say nothing are left out."""
    lines = [f"shiftlore: {FORMAT_VERSION}", f"unit: {_text(case.unit)}"]
    if case.speeds is not None:
        lines.append(f"speeds: {case.speeds}")
    if case.layout:
        lines.append(f"layout: {_text(case.layout)}")
    lines.append(f"odometer_km: {_odometer(case)}")
    if case.background:
        lived = {
            key: Answer(key, grade, case.background_doubts.get((key, grade))) for key, grade in case.background.items()
        }
        lines += ["background:", *_answers(lived)]
    if case.onset is not None:
        lines.append(f"onset: {_onset(case.onset)}")
    if case.complaint:
        lines.append(f"complaint: {_listed(case.complaint)}")
    if case.findings or case.unanswered:
        lines += ["findings:", *_answers(case.findings)]
        lines += [f"  {_text(key)}: null" for key in case.unanswered if key not in case.findings]
    if case.either:
        lines += ["either:", *(f"- [{', '.join(map(_either_member, group))}]" for group in case.either)]
    if case.measured:
        values = ((key, _number(item.value), _text(item.unit)) for key, item in case.measured.items())
        lines += ["measured:", *(f"  {_text(key)}: {{value: {value}, unit: {unit}}}" for key, value, unit in values)]
    if any(item != Done(item.id) for item in case.done):
        lines += ["done:", *(f"- {_done(item)}" for item in case.done)]
    elif case.done:
        lines.append(f"done: {_listed(case.done_ids)}")
    if case.access:
        lines.append(f"access: {_text(case.access)}")
    if case.budget is not None:
        lines.append(f"budget: {_number(case.budget)}")
    if case.asked:
        lines.append(f"asked: {_listed(case.asked)}")
    if case.outcome is not None:
        lines.append(f"outcome: {_outcome(case.outcome)}")
    if case.said:
        lines += ["said:", *(f"- {_quoted(text)}" for text in case.said)]
    lines += [f"{key}: {_quoted(value)}" for key, value in (("shop", case.shop), ("note", case.note)) if value.strip()]
    return "\n".join(lines) + "\n"


def render_case_as_json(case: Case) -> str:
    """Write a case as JSON text, with the same keys."""
    from shiftlore.reading import render_as_json

    return render_as_json(render_case(case))


def _answers(answers: Mapping[str, Answer]) -> list[str]:
    return [f"  {_text(key)}: {_answer(answer)}" for key, answer in answers.items()]


def _answer(answer: Answer) -> str:
    if answer.doubt is None and not answer.when:
        return _answer_word(answer.grade)
    doubt = (f"doubt: {_text(answer.doubt)}",) if answer.doubt is not None else ()
    when = (f"when: {_listed(answer.when)}",) if answer.when else ()
    return _braced(f"is: {_answer_word(answer.grade)}", *doubt, *when)


def _either_member(answer: Answer) -> str:
    bare = answer == Answer(answer.finding, "yes")
    return _text(answer.finding) if bare else _braced(f"{_text(answer.finding)}: {_answer(answer)}")


def _done(item: Done) -> str:
    """Write what was done as its id, or as a mapping where something came of it."""
    if item == Done(item.id):
        return _text(item.id)
    numbers = (("after_km", item.after_km), ("after_days", item.after_days))
    parts = [f"job: {_text(item.id)}", *([f"result: {_text(item.result)}"] if item.result else [])]
    parts += [f"{key}: {_number(value)}" for key, value in numbers if value is not None]
    if item.found_after:
        inner = (f"{_text(key)}: {_answer(answer)}" for key, answer in item.found_after.items())
        parts.append(f"found_after: {_braced(*inner)}")
    return _braced(*parts)


def _outcome(outcome: Outcome) -> str:
    """Write the end of a case; what nobody knows is left out."""
    jobs = [f"jobs: {_listed(outcome.jobs)}"] if outcome.jobs else []
    numbers = ((name, getattr(outcome, name)) for name in ("minutes", "spent", "after_km"))
    known = [f"{name}: {_number(value)}" for name, value in numbers if value is not None]
    words = {name: getattr(outcome, name) for name in ("confirmed", "result", "closed_on", "id")}
    told = {name: f"{name}: {_text(word)}" for name, word in words.items() if word}
    parts = [f"causes: {_listed(outcome.causes)}", told.pop("confirmed", ""), *jobs, told.pop("result", ""), *known]
    return _braced(*(part for part in (*parts, *told.values()) if part))


def _onset(onset: Onset) -> str:
    parts = [f"after: {_listed(onset.after)}"] if onset.after else []
    parts += [f"how: {_text(onset.how)}"] if onset.how else []
    parts += [f"odometer_km: {_number(onset.odometer_km)}"] if onset.odometer_km is not None else []
    return _braced(*parts)


def _odometer(case: Case) -> str:
    known = case.odometer_at_least and case.odometer_km is not None
    return _braced(f"at_least: {_number(case.odometer_km)}") if known else _number(case.odometer_km)


def _listed(texts: Iterable[str]) -> str:
    return f"[{', '.join(map(_text, texts))}]"


def _braced(*parts: str) -> str:
    return f"{{{', '.join(parts)}}}"


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
    text = str(int(value)) if value == int(value) else f"{value:.6f}".rstrip("0").rstrip(".")
    return f"{text}0" if as_thousands(text) else text


def save_text(path: str | Path, text: str) -> None:
    """Write a case's text to its file, whole or not at all.

    The text goes to a file beside it, is forced to disk, and takes the name over in one step. The mode of a
    file that was there is kept; a link is followed.

    Raises: CaseError: tells why the file cannot be written; what was there before is still there.
    """
    try:
        target = try_place(Path(path))
        write_whole(target, text.encode("utf-8"), _mode_for(target))
    except OSError as error:
        what = f"The case cannot be written: {error.strerror or error}"
        advice = "Choose another file or folder, or make room; nothing was changed."
        raise CaseError([Problem(Mark(printable(str(path))), "C040", what, advice)]) from error


def _mode_for(target: Path) -> int:
    """Keep the mode of the file that is there; a new one gets what the user's mask allows."""
    try:
        return stat.S_IMODE(target.stat().st_mode)
    except FileNotFoundError:
        return new_file_mode()


_HOW_IT_WAS = "# What could not be kept in its place:\n"


class CaseChanged(ShiftloreError):
    """The file is no longer as it was last seen here; nothing was written."""


class CaseFile:
    """The file of one case, as it was when it was last read or written here.

    Args:
        path: where it stands, or shall stand.
        read: reads a case from a text.
    """

    def __init__(self, path: Path, read: Callable[[str], Case]):
        self.path, self.read = path, read
        self.text: str | None = None
        self.case = Case("")
        self._written = ("", self.case)

    def open(self) -> Case | None:
        """Read the case that is there; None where there is none.

        Raises: CaseError: with every problem of the case.
        """
        self.text = self._on_disk()
        if self.text is not None:
            self.case = self.read(self.text)
            self._written = self.text, self.case
        return None if self.text is None else self.case

    def save(self, case: Case) -> None:
        """Write a case that came from this one; what a person wrote beside it stays.

        Raises: CaseChanged: the file was changed meanwhile; `open` reads it again. CaseError: it cannot be written.
        """
        if case == self.case and self.text is not None:
            return
        if self._on_disk() != self.text:
            raise CaseChanged(f"{self.path} was changed from outside meanwhile.")
        text = self._write_over(case)
        save_text(self.path, text)
        self.text, self.case, self._written = text, case, (text, case)

    def move_to(self, path: Path) -> None:
        """Go on in another file, where none is yet; what was written beside the case goes along."""
        self.path, self.text = path, None

    def _write_over(self, case: Case) -> str:
        """Give the text with what has changed; where it would then say something else, the case anew, with the text below.

        The text is what was last read or written, even if somebody has taken the file away.
        """
        after = render_case(case)
        before, said = (self.text, self.case) if self.text is not None else self._written
        if not before:
            return after
        try:
            text = carry_over(before, render_case(said), after, lambda key: key.upper() if is_code(key) else key)
            if self._says(text) == self._says(after):
                return text
        except ValueError:
            pass
        return after + _HOW_IT_WAS + "".join(f"# {line}\n" for line in before.splitlines())

    def _says(self, text: str) -> Case | None:
        """Read a text; None where that cannot be."""
        try:
            return self.read(text)
        except CaseError:
            return None

    def _on_disk(self) -> str | None:
        """Give what stands in the file; None where there is none, "" where it is no text of a case."""
        try:
            return read_bounded(self.path, CASE_BYTES).decode("utf-8").replace("\r\n", "\n")
        except FileNotFoundError:
            return None
        except (OSError, UnicodeDecodeError):
            return ""
