"""What contradicts something else in a case, told at its own place and with that of the other."""

from collections.abc import Mapping

from shiftlore.basics.problems import Mark
from shiftlore.cases.case_records import Answer, Case, Known
from shiftlore.reading import Fields


class Clashes:
    """Holds the keys of one case against each other.

    Args:
        fields: the case's own keys; problems go where theirs go.
        marks: (key, member) -> where it stands.
        findings: the answers.
    """

    def __init__(
        self, fields: Fields, known: Known, marks: Mapping[tuple[str, ...], Mark], findings: Mapping[str, Answer]
    ):
        self.fields, self.known, self.marks, self.findings = fields, known, marks, findings

    def hold_number(self, name: str, mark: Mark, base: float, said: str) -> None:
        """Hold a number against the answers: it may not say otherwise than they do."""
        graded = self.known.grade_measured(name, base)
        if not graded:
            advice = "It is kept, but carries no weight; answer its finding, or state limits in a sheet of the unit."
            self.fields.add(
                mark, "034", f"{name} says nothing here: its limits are not known for this unit", advice, "warning"
            )
        for finding, grade in graded.items():
            answer = self.findings.get(finding)
            if answer is not None and answer.grade != grade:
                self._tell(mark, f"{name} of {said} means {finding}: {grade}", answer.mark, answer.grade)

    def tell(self, case: Case) -> None:
        """Tell what contradicts something else in the case, at its own place and with that of the other."""
        findings, known = case.findings, self.known
        shown = {key: one.mark for key, one in findings.items() if one.grade == "yes"}
        for name in case.complaint:
            self._hold_finding(self.marks[("complaint", name)], f"The complaint is {name}", name, None)
            shown.setdefault(name, self.marks[("complaint", name)])
        for name, mark in shown.items():
            for other in known.includes.get(name, ()):
                self._hold_finding(mark, f"{name} says {other} too", other, None, "warning")
        self._hold_scan(case)
        for answer in findings.values():
            finding = known.code_findings.get(answer.finding, answer.finding)
            if answer.grade == "yes" and finding != answer.finding:
                self._hold_finding(answer.mark, f"The code {answer.finding} means {finding}", finding, None)
            for other in known.excludes.get(answer.finding, ()) if answer.grade == "yes" else ():
                for said in findings.values():
                    if said.grade == "yes" and known.code_findings.get(said.finding, said.finding) == other:
                        self._tell(answer.mark, f"{answer.finding} says that there is no {other}", said.mark, "yes")
        for group, node in zip(case.either, self.fields.nodes("either"), strict=False):
            told = [findings[one.finding] for one in group if one.finding in findings]
            if len(told) == len(group) and all(one.grade == self._sound(one.finding) for one in told):
                self._tell(node.mark, "One of these should be there", told[0].mark, "no, as of all others")
        self._hold_onset(case)
        telling = {name: self.marks[("complaint", name)] for name in case.complaint}
        telling |= {key: one.mark for key, one in case.findings.items() if one.grade != self._sound(key)}
        self._hold_general(case, telling)
        self._hold_denied(telling)

    def _hold_denied(self, shown: Mapping[str, Mark]) -> None:
        """Hold signs against others that cannot be there at the same time: what does not move slips in no gear."""
        for name, others in self.known.denied_by.items():
            for other in (other for other in others if name in shown and other in shown):
                self._tell(shown[other], f"{other} says that there is no {name}", shown[name], "yes", "warning")

    def _hold_general(self, case: Case, shown: Mapping[str, Mark]) -> None:
        """Hold a general no against the particular signs that it denies; the particular ones count."""
        for general, parts in self.known.parts.items():
            answer = case.findings.get(general)
            if answer is not None and answer.grade == self._sound(general):
                for part in (part for part in parts if part in shown):
                    self._tell(
                        answer.mark, f"{general} is {answer.grade}", shown[part], f"that {part} is there", "warning"
                    )

    def _hold_scan(self, case: Case) -> None:
        """Hold a scan that found no code against codes of another kind, unless a check may have read these."""
        codes = [one for one in case.findings.values() if one.grade == "yes" and one.finding in self.known.codes]
        if any(item.id in self.known.checks for item in case.done):
            return
        for name, ruled_out in self.known.excludes.items():
            said = self.findings.get(name)
            others = [one for one in codes if self.known.code_findings.get(one.finding) not in ruled_out]
            if said is not None and said.grade == "yes" and others:
                says = f"{name} says that there is no {others[0].finding}"
                self._tell(said.mark, says, others[0].mark, "yes", "warning")

    def _hold_finding(self, mark: Mark, says: str, name: str, wanted: str | None, severity: str = "error") -> None:
        """Hold what stands for a finding against the answer to it; `wanted` None takes all but the sound one."""
        answer = self.findings.get(name)
        if answer is not None and (answer.grade == self._sound(name) if wanted is None else answer.grade != wanted):
            self._tell(mark, says, answer.mark, answer.grade, severity)

    def _sound(self, name: str) -> str:
        return self.known.findings.get(name, ("no",))[0]

    def _hold_onset(self, case: Case) -> None:
        if case.onset is None:
            return
        for name in case.onset.after:
            said, happened = case.background.get(name), self.known.event_says.get(name)
            if said is not None and happened is not None and said not in happened:
                self._tell(
                    self.marks[("after", name)], f"It began after {name}", self.marks[("background", name)], said
                )
        for name, wanted in self.known.onset_says.get(case.onset.how, {}).items():
            self._hold_finding(case.onset.mark, f"{case.onset.how} means {name}: {wanted}", name, wanted)
        began, now = case.onset.odometer_km, case.odometer_km
        if began is not None and now is not None and began > now and not case.odometer_at_least:
            at = self.fields.value_mark("odometer_km")
            self._tell(case.onset.mark, f"It began at {began:.0f} km", at, f"{now:.0f} km")

    def _tell(self, mark: Mark, says: str, other: Mark, grade: str, severity: str = "error") -> None:
        """Tell that two places cannot both be right."""
        what = f"{says}, but line {other.line}, column {other.column} says {grade}"
        self.fields.add(mark, "025", what, "Correct one of the two.", severity)
