"""Read a case from YAML or JSON, and tell everything in it that nothing can be made of."""

import re
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

from shiftlore.basics.problems import CaseError, Mark, Problem
from shiftlore.cases.records import FORMAT_VERSION, HIGHEST_BUDGET, HIGHEST_ODOMETER_KM, Answer, Case, Known
from shiftlore.reading import CASE_BYTES, REQUIRED, Fields, Node, answer_of, known_words, problem_at, quoted, read_yaml

# One letter for the system and four hexadecimal digits: the form of SAE J2012 and ISO 15031-6.
_CODE = re.compile(r"[PBCU][0-3][0-9A-F]{3}")
_ENDINGS = (".yaml", ".yml", ".json")


def peek_unit(source: str | Path) -> str:
    """Say which unit a case speaks of, without judging the rest; "" where that cannot be told."""
    node, _ = read_yaml(_opened(source), None, "C", CASE_BYTES)
    return "" if node is None else _unit_text(node)


def read_case(source: str | Path, known: Known, file: str | None = None) -> Case:
    """Read a case against what its unit knows (`peek_unit` names it), or tell everything that is wrong with it.

    Args:
        source: a path, or the text itself.
        known: what a case of its unit may speak of; of a unit that does not exist, at least `units`.
        file: name shown in marks; a path names itself.
    Returns: the case; `warnings` holds what could be used all the same.
    Raises: CaseError: carries every problem of severity ``error``.
    """
    node, problems = read_yaml(_opened(source), file, "C", CASE_BYTES)
    if node is None:
        raise CaseError(problems)
    case = _CaseReader(node, problems, known).read()
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        raise CaseError(sorted(errors, key=lambda problem: (problem.mark.line, problem.mark.column)))
    return case


def is_code(name: str) -> bool:
    """Tell whether a word has the form of a trouble code, in any letter case."""
    return _CODE.fullmatch(name.upper()) is not None


def _opened(source: str | Path) -> str | Path:
    """Take a one-line text that ends like a file name, or names a file, as a path."""
    if isinstance(source, Path) or "\n" in source or source.lstrip().startswith("{"):
        return source
    try:
        is_path = source.lower().endswith(_ENDINGS) or Path(source).is_file()
    except (OSError, ValueError):
        return source
    return Path(source) if is_path else source


def _unit_text(node: Node) -> str:
    unit = node.get("unit") if node.kind == "mapping" else None
    return unit.text if unit is not None and unit.kind == "scalar" else ""


class _CaseReader:
    """Reads the keys of one case; gathers problems and places."""

    def __init__(self, node: Node, problems: list[Problem], known: Known):
        self.fields = Fields(node, problems, "case")
        self.problems = problems
        self.known = known
        self.marks: dict[tuple[str, ...], Mark] = {}
        self.unanswered: list[str] = []

    def read(self) -> Case:
        """Read every key in turn."""
        self._version()
        findings = self._findings()
        case = Case(
            unit=self._one_of("unit", self.known.units, REQUIRED),
            odometer_km=self.fields.number("odometer_km", 0, HIGHEST_ODOMETER_KM, None),
            background=self._background(),
            complaint=self._complaint(findings),
            findings=findings,
            done=tuple(self._ids("done", {*self.known.checks, *self.known.jobs}, "check or job")),
            access=self._one_of("access", self.known.access, None) or "",
            budget=self.fields.number("budget", 0, HIGHEST_BUDGET, None),
            asked=tuple(text for text, _ in self.fields.marked_list("asked")),
            note=self.fields.text("note", ""),
            shop=self.fields.text("shop", ""),
            unanswered=tuple(self.unanswered),
        )
        self.marks |= {(key,): self.fields.value_mark(key) for key in self.fields.keys()}  # noqa: SIM118
        self.fields.finish()
        warnings = tuple(problem for problem in self.problems if problem.severity == "warning")
        return replace(case, marks=self.marks, warnings=warnings)

    def _version(self) -> None:
        if not self.fields.has("shiftlore"):
            what = "The case does not say which format it is written in"
            advice = f"Begin it with the line: shiftlore: {FORMAT_VERSION}"
            self.fields.add(self.fields.mark, "030", what, advice, "warning")
            return
        version = self.fields.whole("shiftlore", low=1)
        if version > FORMAT_VERSION:
            what = f"Format {version} is newer than this program"
            advice = f"Write shiftlore: {FORMAT_VERSION}, or use a newer version."
            self.fields.add(self.fields.value_mark("shiftlore"), "031", what, advice)

    def _one_of(self, key: str, choices: Collection[str], default: object) -> str:
        text = self.fields.text(key, default)
        if text and text not in choices:
            self.fields.add(
                self.fields.value_mark(key), "014", f"Unknown {key} {quoted(text)}", known_words(text, choices)
            )
        return text

    def _ids(self, key: str, choices: Collection[str], kind: str) -> list[str]:
        found = []
        for text, mark in self.fields.marked_list(key):
            if text in choices:
                found.append(text)
                self.marks[(key, text)] = mark
            else:
                self.fields.add(mark, "020", f"There is no {kind} {quoted(text)}", known_words(text, choices))
        return found

    def _background(self) -> dict[str, str]:
        found = {}
        for name, mark, node in self.fields.pairs("background"):
            self.marks[("background", name)] = mark
            if name not in self.known.backgrounds:
                self.fields.add(
                    mark, "020", f"There is no background {quoted(name)}", known_words(name, self.known.backgrounds)
                )
                continue
            answer = None if node.is_null else answer_of(node, self.problems)
            if answer is not None and self._is_among(answer, self.known.backgrounds[name], node, name):
                found[name] = answer
        return found

    def _complaint(self, answered: Collection[str]) -> tuple[str, ...]:
        """Read what the owner came with; each must be a finding that yes answers, or whose grade is given."""
        found = []
        for text, mark in self.fields.marked_list("complaint"):
            name, grades = self._named(text, mark)
            if grades is None:
                continue
            if "yes" not in grades and name not in answered:
                what = f"{name} has grades, so the complaint does not say which"
                self.fields.add(mark, "022", what, f"Add it under findings with one of: {', '.join(grades)}.")
            elif name in found:
                self.fields.add(mark, "018", f"{name} stands here twice", "Keep one of the two.")
            else:
                found.append(name)
                self.marks[("complaint", name)] = mark
        return tuple(found)

    def _findings(self) -> dict[str, Answer]:
        found: dict[str, Answer] = {}
        for written, mark, node in self.fields.pairs("findings"):
            name, grades = self._named(written, mark)
            if grades is None:
                continue
            if name in found or name in self.unanswered:
                self.fields.add(mark, "018", f"{name} is answered twice", "Keep one of the two.")
                continue
            self.marks[("findings", name)] = mark
            if node.is_null:
                self.unanswered.append(name)
                continue
            answer = self._answer(name, grades, node, mark)
            if answer is not None:
                found[name] = answer
        return found

    def _named(self, written: str, mark: Mark) -> tuple[str, tuple[str, ...] | None]:
        """Give the finding's id, or the code in capitals, with its grades; None where nothing carries it."""
        name = self.known.aliases.get(written, written)
        if name in self.known.findings:
            return name, self.known.findings[name]
        if is_code(written):
            code = written.upper()
            if code not in self.known.codes:
                advice = "It is kept, but carries no weight; answer the finding that it stands for."
                self.fields.add(mark, "032", f"The code {code} says nothing to the knowledge", advice, "warning")
            return code, ("no", "yes")
        grades = self.known.grades_elsewhere(name)
        if grades is not None:
            advice = "It is kept, but carries no weight here; see whether the unit is right."
            self.fields.add(mark, "033", f"{quoted(written)} does not stand on this unit", advice, "warning")
            return name, grades
        self.fields.add(
            mark, "020", f"There is no finding {quoted(written)}", known_words(written, self.known.findings)
        )
        return written, None

    def _answer(self, name: str, grades: tuple[str, ...], node: Node, mark: Mark) -> Answer | None:
        if node.kind != "mapping":
            grade = answer_of(node, self.problems)
            return Answer(name, grade, None, mark) if grade and self._is_among(grade, grades, node, name) else None
        fields = Fields(node, self.problems, "answer")
        grade = fields.read("is", REQUIRED, None, lambda value: answer_of(value, self.problems))
        doubt = fields.word("doubt", self.known.doubts, None)
        fields.finish()
        if grade is None or not self._is_among(grade, grades, node.get("is") or node, name):
            return None
        return Answer(name, grade, doubt, mark)

    def _is_among(self, answer: str, choices: Collection[str], node: Node, name: str) -> bool:
        if answer in choices:
            return True
        advice = f"Write one of: {', '.join(choices)}."
        self.problems.append(problem_at(node, "014", f"{quoted(answer)} is no answer to {name}", advice))
        return False
