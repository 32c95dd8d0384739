"""Read a case from YAML or JSON, and tell everything in it that nothing can be made of."""

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

from shiftlore.basics.problems import CaseError, Mark, Problem
from shiftlore.basics.quantities import QUANTITIES, kind_of, say_bounds, to_base
from shiftlore.cases.case_records import (
    CAME_BACK,
    EITHER,
    ENTERING,
    FORMAT_VERSION,
    HIGHEST_BUDGET,
    HIGHEST_ODOMETER_KM,
    LAYOUTS,
    LONGEST_DAYS,
    MOST_SPEEDS,
    ONSETS,
    RESULTS,
    Answer,
    Case,
    Done,
    Known,
    Measured,
    Onset,
    Outcome,
    Vehicle,
)
from shiftlore.cases.clashes import Clashes
from shiftlore.reading import (
    CASE_BYTES,
    CODE_FORM,
    REQUIRED,
    Fields,
    Node,
    answer_of,
    known_words,
    problem_at,
    quoted,
    read_yaml,
    text_of,
)

_ENDINGS = (".yaml", ".yml", ".json")
_OF_THE_UNIT = ("014", "020", "022", "026", "032", "033")
"""Problems with names that a unit knows."""


def peek_vehicle(source: str | Path, file: str | Path | None = None) -> Vehicle:
    """Say which unit a case speaks of, without judging the rest; its unit is "" where that cannot be told."""
    opened = _opened(source)
    node, _ = read_yaml(opened, None, "C", CASE_BYTES)
    return peek_node(node, _folder_of(opened, file))


def peek_node(node: Node | None, folder: str = "") -> Vehicle:
    """Say which unit a case that stands in nodes speaks of, as `peek_vehicle`."""
    if node is None or node.kind != "mapping":
        return Vehicle("")
    fields = Fields(node, [], "case")
    speeds, layout = fields.whole("speeds", 1, MOST_SPEEDS, None), fields.word("layout", LAYOUTS, "")
    unit = fields.get("unit")
    name = unit.text if unit is not None and unit.kind == "scalar" else ""
    return Vehicle(name, speeds, layout, folder)


def read_case(source: str | Path, known: Known, file: str | Path | None = None) -> Case:
    """Read a case against what its unit knows (`peek_vehicle` names it), or tell everything that is wrong with it.

    Args:
        source: a path, or the text itself.
        known: what a case of its unit may speak of; of a unit that does not exist, at least `units`.
        file: name shown in marks; a path names itself. A text that comes out of a path sees other files from there.
    Returns: the case; `warnings` holds what could be used all the same.
    Raises: CaseError: carries every problem of severity ``error``.
    """
    opened = _opened(source)
    node, problems = read_yaml(opened, None if file is None else str(file), "C", CASE_BYTES)
    if node is None:
        raise CaseError(problems)
    return read_node(node, problems, known, _folder_of(opened, file))


def read_node(node: Node, problems: list[Problem], known: Known, folder: str = "") -> Case:
    """Read a case that stands in nodes already, as `read_case`.

    Args:
        problems: what was wrong with the text; what is wrong with the case comes to it.
    Raises: CaseError: carries every problem of severity ``error``.
    """
    case = _CaseReader(node, problems, known).read(folder)
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors:
        raise CaseError(sorted(errors, key=lambda problem: (problem.mark.line, problem.mark.column)))
    return case


def is_code(name: str) -> bool:
    """Tell whether a word has the form of a trouble code, in any letter case."""
    return CODE_FORM.fullmatch(name.upper()) is not None


def _opened(source: str | Path) -> str | Path:
    """Take a one-line text that ends like a file name, or names a file, as a path."""
    if isinstance(source, Path) or "\n" in source or source.lstrip().startswith("{"):
        return source
    try:
        is_path = source.lower().endswith(_ENDINGS) or Path(source).is_file()
    except (OSError, ValueError):
        return source
    return Path(source) if is_path else source


def _folder_of(source: str | Path, file: str | Path | None) -> str:
    return next((str(one.parent) for one in (source, file) if isinstance(one, Path)), "")


class _CaseReader:
    """Reads the keys of one case; gathers problems and places."""

    def __init__(self, node: Node, problems: list[Problem], known: Known):
        self.fields = Fields(node, problems, "case")
        self.problems = problems
        self.known = known
        self.marks: dict[tuple[str, ...], Mark] = {}
        self.unanswered: list[str] = []

    def read(self, folder: str) -> Case:
        """Read every key in turn; the folder is where the case's own unit sheet is seen from."""
        self._version()
        findings = self._findings()
        self.clashes = Clashes(self.fields, self.known, self.marks, findings)
        odometer_km, at_least = self._odometer()
        background, background_doubts = self._background()
        case = Case(
            unit=self._unit(),
            speeds=self.fields.whole("speeds", 1, MOST_SPEEDS, None),
            layout=self.fields.word("layout", LAYOUTS, ""),
            odometer_km=odometer_km,
            odometer_at_least=at_least,
            background=background,
            background_doubts=background_doubts,
            onset=self._onset(),
            complaint=self._complaint(findings),
            findings=findings,
            measured=self._measured(),
            either=self._either(),
            done=self._done(),
            outcome=self._outcome(),
            access=self._one_of("access", self.known.access, None) or "",
            budget=self.fields.number("budget", 0, HIGHEST_BUDGET, None),
            asked=self._asked(),
            said=self.fields.words_list("said"),
            note=self.fields.text("note", ""),
            shop=self.fields.text("shop", ""),
            unanswered=tuple(self.unanswered),
            folder=folder,
        )
        self.marks |= {(key,): self.fields.value_mark(key) for key in self.fields.keys()}  # noqa: SIM118
        self.clashes.tell(case)
        for key, (what, advice) in self.known.misfits.items():
            self.fields.add(self.fields.value_mark(key), "024", what, advice)
        for item, advice in ((one, self.known.tell_foreign(one.id)) for one in case.done):
            if advice:
                self.fields.add(item.mark, "033", f"{quoted(item.id)} is no work on this unit", advice, "warning")
        self.fields.finish()
        if case.unit and case.unit not in self.known.units:
            self._forgive_names()
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

    def _unit(self) -> str:
        unit = self.fields.text("unit", REQUIRED)
        if unit.lower().endswith(_ENDINGS) and unit not in self.known.units:
            advice = "Write its path as seen from this file, or the id of a unit."
            self.fields.add(self.fields.value_mark("unit"), "014", f"There is no unit sheet {quoted(unit)}", advice)
        elif unit and unit not in self.known.units:
            self._tell_among("unit", unit, self.known.units)
        return unit

    def _forgive_names(self) -> None:
        """Of a unit that is not known no name can be judged: only the unit is wrong."""
        at = self.fields.value_mark("unit")
        self.problems[:] = [item for item in self.problems if item.mark == at or item.code[1:] not in _OF_THE_UNIT]

    def _one_of(self, key: str, choices: Collection[str], default: object) -> str:
        text = self.fields.text(key, default)
        if text and text not in choices:
            self._tell_among(key, text, choices)
        return text

    def _tell_among(self, key: str, text: str, choices: Collection[str]) -> None:
        advice = known_words(text, choices)
        self.fields.add(self.fields.value_mark(key), "014", f"Unknown {key} {quoted(text)}", advice)

    def _asked(self) -> tuple[str, ...]:
        """Read what was asked; a word that names no question is told, and asks it again."""
        found, known = [], self.known
        if not self.fields.has("asked"):
            return ()
        names = {*known.asks, *known.findings, *known.elsewhere, *known.backgrounds, *known.checks}
        for text, mark in self.fields.marked_list("asked"):
            members = [part.partition("=")[0] for part in text.removeprefix(ENTERING).split(EITHER)]
            wrong = [
                part for part in members if part not in names and known.aliases.get(part) is None and not is_code(part)
            ]
            if wrong:
                what = f"There is no question {quoted(wrong[0])}, so it does not count as asked"
                self.fields.add(mark, "026", what, known_words(wrong[0], names), "warning")
            found.append(text)
        return tuple(found)

    def _odometer(self) -> tuple[float | None, bool]:
        """Read the distance: a number, or `{at_least: number}`."""
        node = self.fields.get("odometer_km")
        if node is None or node.kind != "mapping":
            return self.fields.number("odometer_km", 0, HIGHEST_ODOMETER_KM, None), False
        fields = Fields(node, self.problems, "distance")
        value = fields.number("at_least", 0, HIGHEST_ODOMETER_KM, REQUIRED)
        fields.finish()
        return value, True

    def _listed(self, fields: Fields, key: str, choices: Collection[str], kind: str) -> tuple[str, ...]:
        """Read a list of ids, each among the choices."""
        found = []
        for text, mark in fields.marked_list(key):
            if text in choices:
                found.append(text)
                self.marks[(key, text)] = mark
            else:
                self._unknown(mark, kind, text, choices)
        return tuple(found)

    def _unknown(self, mark: Mark, kind: str, text: str, choices: Collection[str]) -> None:
        self.fields.add(mark, "020", f"There is no {kind} {quoted(text)}", known_words(text, choices))

    def _done(self) -> tuple[Done, ...]:
        """Read what was done; the same job may stand there again where it is said what came of it the time before."""
        found, last = list[Done](), dict[str, Done]()
        for node in self.fields.nodes("done"):
            item = self._done_item(node)
            if item is not None and item.id in last and last[item.id].result not in RESULTS[1:]:
                advice = f"Keep one; of a job done twice say what came of the first: {' or '.join(RESULTS[1:])}."
                self.fields.add(item.mark, "018", f"{quoted(item.id)} stands twice in this list", advice)
            elif item is not None:
                found.append(item)
                last[item.id], self.marks[("done", item.id)] = item, item.mark
        return tuple(found)

    def _done_item(self, node: Node) -> Done | None:
        """Read what was done: an id, or a job with its result."""
        if node.kind != "mapping":
            text = text_of(node, self.problems, "a check or job")
            choices = {*self.known.checks, *self.known.jobs}
            if text is not None and text not in choices:
                self._unknown(node.mark, "check or job", text, choices)
                return None
            return None if text is None else Done(text, mark=node.mark)
        fields = Fields(node, self.problems, "job done")
        job, result = fields.text("job"), fields.word("result", RESULTS, "")
        after_km = fields.number("after_km", 0, HIGHEST_ODOMETER_KM, None)
        after_days = fields.number("after_days", 0, LONGEST_DAYS, None)
        found_after, _ = self._answers(fields, "found_after")
        fields.finish()
        if job and job not in self.known.jobs:
            self._unknown(fields.value_mark("job"), "job", job, self.known.jobs)
            return None
        for key, value in (("after_km", after_km), ("after_days", after_days)):
            if value is not None and result != CAME_BACK:
                advice = f"Write result: {CAME_BACK}, or leave {key} out."
                fields.add(fields.value_mark(key), "023", f"{key} tells when the fault came back", advice)
        if found_after and result not in RESULTS[1:]:
            what = "found_after tells what was found while the fault is still there after the job"
            advice = f"Write result: {' or '.join(RESULTS[1:])}, or move these answers to findings."
            fields.add(fields.value_mark("found_after"), "023", what, advice)
        if not job:
            return None
        mark = fields.value_mark("job")
        return Done(job, result, after_km=after_km, after_days=after_days, mark=mark, found_after=found_after)

    def _onset(self) -> Onset | None:
        fields = self.fields.mapping("onset")
        if fields is None:
            return None
        after = self._listed(fields, "after", self.known.events, "background that something may begin after,")
        how = fields.word("how", ONSETS, "")
        began = Onset(after, how, fields.number("odometer_km", 0, HIGHEST_ODOMETER_KM, None), fields.mark)
        fields.finish()
        return began

    def _measured(self) -> dict[str, Measured]:
        found = {}
        for name, mark, node in self.fields.pairs("measured"):
            self.marks[("measured", name)] = mark
            units = self.known.measures.get(name)
            if units is None:
                self._unknown(mark, "measurement", name, self.known.measures)
                continue
            fields = Fields(node, self.problems, "measured value")
            value = fields.number("value")
            unit = fields.word("unit", units, units[0] if len(units) == 1 else REQUIRED)
            fields.finish()
            kind = kind_of(unit)
            quantity, base = QUANTITIES[kind], to_base(kind, value, unit)
            if not quantity.low <= base <= quantity.high:
                advice = f"Write a number {say_bounds(kind, unit)}, or another unit."
                fields.add(fields.value_mark("value"), "016", f"{value:g} {unit} cannot be", advice)
            elif unit in units:
                self.clashes.hold_number(name, mark, base, f"{value:g} {unit}")
            found[name] = Measured(value, unit, mark)
        return found

    def _either(self) -> tuple[tuple[Answer, ...], ...]:
        """Read lists of answers of which one was said: an id for yes, or a mapping of one id and its answer."""
        groups = []
        for node in self.fields.nodes("either"):
            members: list[Answer] = []
            for member in Fields.list_of(node, self.problems):
                answer = self._either_member(member)
                if answer is not None and self._stands_already(answer, members):
                    self.fields.add(answer.mark, "018", f"{answer.finding} stands here twice", "Keep one of the two.")
                elif answer is not None:
                    members.append(answer)
            if len({answer.finding in self.known.backgrounds for answer in members}) > 1:
                advice = "Make two lists of it: one of findings, one of backgrounds."
                self.fields.add(node.mark, "023", "Findings and backgrounds stand in one either-or", advice)
            if len(members) == 1 and len(node.items) == 1:
                advice = "Name at least two answers, or write it under findings."
                self.fields.add(node.mark, "023", "Only one answer stands here, so it is no either-or", advice)
            if members:
                groups.append(tuple(members))
        return tuple(groups)

    def _stands_already(self, answer: Answer, members: Collection[Answer]) -> bool:
        """Tell whether an either-or holds this answer; of a finding, not of a background, it may hold several grades."""
        same = [other for other in members if other.finding == answer.finding]
        return any(answer.finding in self.known.backgrounds or other.grade == answer.grade for other in same)

    def _either_member(self, node: Node) -> Answer | None:
        """Read one of several answers: an id that yes answers, or a mapping of an id to its answer."""
        written, mark, value = self._single_pair(node)
        lived = self.known.backgrounds.get(written)
        name, grades = (written, lived) if lived else self._named(written, mark) if written else ("", None)
        if grades is None:
            return None
        if value is not None:
            answer = self._answer(name, grades, value, mark, False)
        elif "yes" in grades:
            answer = Answer(name, "yes", None, mark)
        else:
            advice = f"Write {{{name}: {grades[-1]}}}, with one of: {', '.join(grades)}."
            self.fields.add(mark, "022", f"{name} has grades, so it does not say which", advice)
            return None
        if answer is not None and answer.grade == grades[0]:
            advice = "Name answers that show something; what is not there goes under findings or background."
            self.fields.add(mark, "023", f"{quoted(answer.grade)} says that {name} is not there", advice)
            return None
        return answer

    def _single_pair(self, node: Node) -> tuple[str, Mark, Node | None]:
        if node.kind != "mapping":
            return text_of(node, self.problems, "a finding") or "", node.mark, None
        pairs = Fields(node, self.problems, "answer").own_pairs()
        if len(node.pairs) != 1:
            self.fields.add(node.mark, "023", "One answer belongs here", "Give each answer a dash of its own.")
        return pairs[0] if pairs else ("", node.mark, None)

    def _outcome(self) -> Outcome | None:
        fields = self.fields.mapping("outcome")
        if fields is None:
            return None
        from shiftlore.cases.outcomes import read_outcome  # few cases are closed

        causes = self._listed(fields, "causes", self.known.causes, "cause")
        return read_outcome(fields, causes, self._listed(fields, "jobs", self.known.jobs, "job"))

    def _background(self) -> tuple[dict[str, str], dict[tuple[str, str], str]]:
        found, doubts = {}, {}
        for name, mark, node in self.fields.pairs("background"):
            self.marks[("background", name)] = mark
            if name not in self.known.backgrounds:
                self._unknown(mark, "background", name, self.known.backgrounds)
                continue
            answer = None if node.is_null else self._answer(name, self.known.backgrounds[name], node, mark, False)
            if answer is not None:
                found[name] = answer.grade
                if answer.doubt is not None:
                    doubts[(name, answer.grade)] = answer.doubt
        return found, doubts

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
                severity = "warning" if name in self.known.aliases.values() else "error"
                self.fields.add(mark, "018", f"{name} stands here twice", "Keep one of the two.", severity)
            else:
                found.append(name)
                self.marks[("complaint", name)] = mark
        return tuple(found)

    def _findings(self) -> dict[str, Answer]:
        found, self.unanswered = self._answers(self.fields, "findings")
        return found

    def _answers(self, fields: Fields, key: str) -> tuple[dict[str, Answer], list[str]]:
        """Read answers to findings, and the findings that stand there without an answer."""
        pairs = fields.pairs(key)
        found, unanswered = self._read_pairs(pairs)
        if fields is self.fields:
            self.marks |= {(key, self.known.aliases.get(name, name)): mark for name, mark, _ in pairs}
        return found, unanswered

    def _read_pairs(self, pairs: list[tuple[str, Mark, Node]]) -> tuple[dict[str, Answer], list[str]]:
        found: dict[str, Answer] = {}
        unanswered: list[str] = []
        for written, mark, node in pairs:
            name, grades = self._named(written, mark)
            if grades is None:
                continue
            if name in found or name in unanswered:
                same = name in self.known.aliases.values() and self._answer(name, grades, node, mark) == found.get(name)
                severity = "warning" if same else "error"
                self.fields.add(mark, "018", f"{name} is answered twice", "Keep one of the two.", severity)
            elif node.is_null:
                unanswered.append(name)
            else:
                answer = self._answer(name, grades, node, mark)
                if answer is not None:
                    found[name] = answer
        return found, unanswered

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
        grades = self.known.elsewhere.get(name)
        if grades is not None:
            advice = "It is kept, but carries no weight here; see whether the unit is right."
            self.fields.add(mark, "033", f"{quoted(written)} does not stand on this unit", advice, "warning")
            return name, grades
        self.fields.add(
            mark, "020", f"There is no finding {quoted(written)}", known_words(written, self.known.findings)
        )
        return written, None

    def _answer(
        self, name: str, grades: tuple[str, ...], node: Node, mark: Mark, with_when: bool = True
    ) -> Answer | None:
        """Read an answer, bare or with how sure it is and under which conditions it shows."""
        if node.kind != "mapping":
            grade = answer_of(node, self.problems)
            return Answer(name, grade, None, mark) if grade and self._is_among(grade, grades, node, name) else None
        fields = Fields(node, self.problems, "answer")
        grade = fields.read("is", REQUIRED, None, lambda value: answer_of(value, self.problems))
        doubt = fields.word("doubt", self.known.doubts, None)
        when = self._listed(fields, "when", self.known.conditions, "condition") if with_when else ()
        fields.finish()
        if grade is None or not self._is_among(grade, grades, node.get("is") or node, name):
            return None
        if when and grade == grades[0]:
            advice = "Leave when out, or answer what does show."
            fields.add(fields.value_mark("when"), "023", f"{name} is {quoted(grade)}, so it shows at no time", advice)
        return Answer(name, grade, doubt, mark, when)

    def _is_among(self, answer: str, choices: Collection[str], node: Node, name: str) -> bool:
        if answer in choices:
            return True
        advice = f"Write one of: {', '.join(choices)}."
        self.problems.append(problem_at(node, "014", f"{quoted(answer)} is no answer to {name}", advice))
        return False
