"""A case's file while somebody works on it: saved with its comments, and never over what was changed in it meanwhile."""

from collections.abc import Callable
from pathlib import Path

from shiftlore.basics.problems import CaseError, ShiftloreError
from shiftlore.basics.whole_files import read_bounded
from shiftlore.cases.case_records import Case
from shiftlore.cases.reading import is_code
from shiftlore.cases.saving import render_case, save_text
from shiftlore.reading import CASE_BYTES, carry_over

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

    def open(self) -> Case | None:
        """Read the case that is there; None where there is none.

        Raises: CaseError: with every problem of the case.
        """
        self.text = self._on_disk()
        if self.text is not None:
            self.case = self.read(self.text)
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
        self.text, self.case = text, case

    def _write_over(self, case: Case) -> str:
        """Give the text with what has changed; where it would then say something else, the case anew, with the text below."""
        after = render_case(case)
        if self.text is None:
            return after
        try:
            text = carry_over(self.text, render_case(self.case), after, _one_name)
            if self._says(text) == self._says(after):
                return text
        except ValueError:
            pass
        return after + _HOW_IT_WAS + "".join(f"# {line}\n" for line in self.text.splitlines())

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


def _one_name(key: str) -> str:
    return key.upper() if is_code(key) else key
