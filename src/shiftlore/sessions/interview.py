"""The interview as a state machine: the next question, an answer taken, an answer taken back. No input or output.

The whole state is the case itself: what was answered stands in its findings and background, what was asked (known or
not) in `asked`. So an interview that was cut off goes on from the file, and every step gives a new interview.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_case
from shiftlore.knowledge import Knowledge
from shiftlore.sessions.choosing_questions import Candidate, list_cheap, rank_questions
from shiftlore.sessions.questions import Choice, Question, Reply
from shiftlore.sessions.reasons import explain_question

UNIT, ODOMETER, COMPLAINT, CODES = "unit", "odometer_km", "complaint", "codes"
RECENT, REPLACED = "recent_events", "replaced_parts"
REPLACED_PREFIX = "replaced_"
OPENING_BACKGROUNDS = ("service_record", "usage")
MOST_QUESTIONS = 14
"""After so many adaptive questions the owner has had enough (judgement); more can be asked for."""
LEAST_NATS = 0.02
"""Below this a cheap question is expected to change nothing that matters (judgement)."""
CODE_PATTERN = re.compile(r"\b[PBCUpbcu][0-3][0-9A-Fa-f]{3}\b")
NO_CODES = re.compile(r"\b(no|none|clean|nothing)\b")
NONE_BY_GENERIC, NONE_BY_MODULE = "no_codes_generic_scan", "no_codes_module_scan"
YES_NO = (Choice("yes", "yes"), Choice("no", "no"))
Proposal = tuple[str, str]


@dataclass(frozen=True)
class Interview:
    """One interview.

    Args:
        knowledge: the trade.
        compile_for: gives the compiled unit of an id, from memory if it is known.
        case: everything answered so far; its unit is "" before it is known.
        proposed: findings read out of free text, waiting to be confirmed: (finding, grade).
        extra: how many adaptive questions beyond the usual number were asked for.
        check: id of the check whose findings are being entered, or "".
    """

    knowledge: Knowledge
    compile_for: Callable[[str], CompiledUnit]
    case: Case
    proposed: tuple[Proposal, ...] = ()
    extra: int = 0
    check: str = ""

    @cached_property
    def compiled(self) -> CompiledCase:
        """The case as a network and evidence."""
        return compile_case(self.compile_for(self.case.unit), self.case)

    @cached_property
    def question(self) -> Question | None:
        """The next question, or None when the cheap ones are done."""
        if not self.case.unit:
            return self._ask_unit()
        if self.proposed:
            return self._confirm()
        if self.check:
            return self._ask_of_check()
        return self._ask_opening() or self._ask_adaptive()

    def _is_open(self, key: str) -> bool:
        return key not in self.case.asked

    def _ask_unit(self) -> Question:
        sheets = self.knowledge.sheets.values()
        known = [sheet for sheet in sheets if not sheet.kind_only]
        kinds = [sheet for sheet in sheets if sheet.kind_only]
        choices = tuple(Choice(sheet.id, sheet.label) for sheet in [*known, *kinds])
        return Question(UNIT, "choice", "Which transmission is it?", choices, optional=False,
                        why="The gears and elements to ask about follow from it.", cost="nothing")

    def _ask_opening(self) -> Question | None:
        if self._is_open(ODOMETER) and self.case.odometer_km is None:
            return Question(ODOMETER, "number", "How far has it gone, in kilometres?", cost="nothing",
                            why="What wears out with distance is likelier in a vehicle that has gone far.")
        if self._is_open(COMPLAINT) and not self.case.complaint:
            return Question(COMPLAINT, "words", "What does the owner complain of? Say it in plain words.",
                            cost="nothing", why="The complaint comes first; everything else is asked because of it.")
        for name in OPENING_BACKGROUNDS:
            if self._is_open(name) and name not in self.case.background and name in self.knowledge.backgrounds:
                return self._ask_background(name)
        for name in (RECENT, REPLACED):
            if self._is_open(name):
                return self._ask_events(name)
        if self._is_open(CODES) and not any("code" in key or key[:1] in "PCBU" for key in self.case.findings):
            text = "Which trouble codes are stored? Write them (P0732 ...), or none by generic scan, or none by module scan."
            why = "A circuit code outranks every hydraulic cause; a ratio code says the reverse."
            return Question(CODES, "words", text, cost="a scan, if it has been done", why=why)
        return None

    def _ask_background(self, name: str) -> Question:
        record = self.knowledge.backgrounds[name]
        choices = tuple(Choice(key, record.grade_labels.get(key, key)) for key in record.shares)
        return Question(name, "choice", record.ask, choices, (name,), cost="nothing",
                        why="The vehicle's life makes some faults likelier than others.")

    def _ask_events(self, name: str) -> Question:
        """Ask in one go for what happened, or for which parts were replaced without cure."""
        names = [
            key for key, record in self.knowledge.backgrounds.items()
            if tuple(record.shares) == ("no", "yes") and key not in self.case.background
            and key.startswith(REPLACED_PREFIX) == (name == REPLACED)
        ]
        choices = tuple(Choice(key, self.knowledge.backgrounds[key].label) for key in names)
        if name == RECENT:
            text, why = "Does any of this hold?", "After recent work the work is suspected first."
        else:
            text, why = "Was any of this done since it began, without cure?", "A part that is new is suspected less."
        return Question(name, "which", text, choices, tuple(names), cost="nothing", why=why)

    @cached_property
    def _candidates(self) -> list[Candidate]:
        return rank_questions(self.compiled, list_cheap(self.compiled, self.case.asked))

    def _ask_adaptive(self) -> Question | None:
        asked = sum(1 for key in self.case.asked if key in self.compiled.expansion.findings or key in self._templates)
        if asked >= MOST_QUESTIONS + self.extra or not self._candidates:
            return None
        best = self._candidates[0]
        return None if best.nats < LEAST_NATS else self.make_question(best)

    @property
    def _templates(self) -> set[str]:
        return {record.id for record in self.knowledge.findings.values() if record.scope.each}

    def make_question(self, candidate: Candidate) -> Question:
        """Put a candidate into words: a yes/no or graded question, or one that covers several instances."""
        why = explain_question(self.compiled, candidate)
        records, nodes = self.compiled.expansion.finding_records, self.compiled.expansion.findings
        record = records[candidate.findings[0]]
        cost = "nothing" if record.got_by in ("owner", "history") else "a look"
        if len(candidate.findings) > 1:
            choices = tuple(Choice(key, nodes[key].label) for key in candidate.findings)
            return Question(record.id, "which", record.ask, choices, candidate.findings, why, cost)
        key = candidate.findings[0]
        grades = nodes[key].grades
        choices = YES_NO if grades == ("no", "yes") else tuple(
            Choice(grade, record.grade_labels.get(grade, grade)) for grade in grades
        )
        text = record.ask if record.scope.each is None else f"{nodes[key].label}: is it so?"
        return Question(key, "choice", text, choices, (key,), why, cost)

    def _confirm(self) -> Question:
        choices = tuple(Choice(f"{key}={grade}", self._say(key, grade)) for key, grade in self.proposed)
        return Question("confirm", "confirm", "I understood this. Is it right?", choices,
                        why="Nothing is taken into the case that you have not seen.", cost="nothing")

    def _say(self, key: str, grade: str) -> str:
        """Say an answer in words: a finding's or a background's."""
        if key in self.knowledge.backgrounds:
            record = self.knowledge.backgrounds[key]
            return f"{record.label}: {record.grade_labels.get(grade, grade)}"
        labels = self.compiled.expansion.finding_records[key].grade_labels
        return f"{self.compiled.expansion.findings[key].label}: {labels.get(grade, grade)}"

    def _ask_of_check(self) -> Question | None:
        """Ask for what a check has shown, the most telling first."""
        reveals = self.compiled.expansion.reveals.get(self.check, ())
        open_now = [key for key in reveals if key not in self.compiled.evidence and key not in self.case.asked]
        if not open_now:
            return None
        return self.make_question(rank_questions(self.compiled, open_now)[0])

    def answer(self, question: Question, reply: Reply) -> "Interview":
        """Take an answer and give the interview that follows.

        Raises: ValueError: a number that is none; the caller asks again.
        """
        if question.id == UNIT:
            return self._with(replace(self.case, unit=reply.keys[0]))
        if question.kind == "confirm":
            return self._take_confirmed(reply)
        case = replace(self.case, asked=(*self.case.asked, *self._asked_by(question)))
        if not reply.known:
            return self._with(case)
        if question.id == ODOMETER:
            return self._with(replace(case, odometer_km=float(reply.text)))
        if question.id == CODES:
            return self._with(self._take_codes(case, reply))
        if question.kind == "words":
            return self._with(case)
        if question.members and question.members[0] in self.knowledge.backgrounds:
            return self._with(self._take_background(case, question, reply))
        return self._with(self._take_findings(case, question, reply))

    def _take_codes(self, case: Case, reply: Reply) -> Case:
        """Take stored codes, or that there are none, by the scan that was named."""
        codes = dict.fromkeys(code.upper() for code in CODE_PATTERN.findall(reply.text))
        known = self.compiled.unit.aliases
        more = {code: Answer(code, "yes", reply.doubt) for code in codes if code in self.knowledge.codes or code in known}
        if not codes and NO_CODES.search(reply.text.lower()):
            name = NONE_BY_MODULE if "module" in reply.text.lower() else NONE_BY_GENERIC
            more = {name: Answer(name, "yes", reply.doubt)} if name in self.compiled.expansion.findings else {}
        return replace(case, findings={**case.findings, **more})

    def _asked_by(self, question: Question) -> tuple[str, ...]:
        own = (question.id,) if question.id not in question.members else ()
        return tuple(key for key in (*own, *question.members) if key not in self.case.asked)

    def _with(self, case: Case) -> "Interview":
        return replace(self, case=case, proposed=())

    def _take_background(self, case: Case, question: Question, reply: Reply) -> Case:
        if question.kind == "which":
            more = {key: "yes" if key in reply.keys else "no" for key in question.members}
        else:
            more = {question.id: reply.keys[0]}
        return replace(case, background={**case.background, **more})

    def _take_findings(self, case: Case, question: Question, reply: Reply) -> Case:
        if question.kind == "which":
            more = {key: Answer(key, "yes" if key in reply.keys else "no", reply.doubt) for key in question.members}
        else:
            more = {question.id: Answer(question.id, reply.keys[0], reply.doubt)}
        return replace(case, findings={**case.findings, **more})

    def _take_confirmed(self, reply: Reply) -> "Interview":
        """Put confirmed findings into the case: yes answers become complaints as long as there are none."""
        kept = dict(key.split("=", 1) for key in reply.keys)
        is_complaint = not self.case.findings and not self.case.complaint
        findings = dict(self.case.findings)
        complaint = list(self.case.complaint)
        background = dict(self.case.background)
        for key, grade in kept.items():
            if key in self.knowledge.backgrounds:
                background[key] = grade
                continue
            record = self.compiled.expansion.finding_records[key]
            if is_complaint and grade == "yes" and record.complaint:
                complaint.append(key)
            else:
                findings[key] = Answer(key, grade, reply.doubt)
        asked = (*self.case.asked, *(key for key in kept if key not in self.case.asked))
        case = replace(self.case, findings=findings, complaint=tuple(complaint), asked=asked, background=background)
        return self._with(case)

    def answers_to(self, key: str) -> tuple[str, ...]:
        """List what a finding or a background of this unit may be answered with; nothing for any other id."""
        if key in self.knowledge.backgrounds:
            return tuple(self.knowledge.backgrounds[key].shares)
        node = self.compiled.expansion.findings.get(key)
        return () if node is None else node.grades

    def propose(self, found: tuple[Proposal, ...]) -> "Interview":
        """Hold findings that were read out of free text, to be confirmed next; those already answered drop out."""
        taken = {*self.compiled.evidence, *self.case.background}
        new = tuple(dict.fromkeys(item for item in found if item[0] not in taken))
        return replace(self, proposed=new)

    def start_check(self, check: str) -> "Interview":
        """Begin to enter what a check has shown."""
        return replace(self, check=check)

    def finish_check(self) -> "Interview":
        """Note that the check has been made; the vehicle is then in the state of disassembly that it needs."""
        done = (*self.case.done, self.check) if self.check not in self.case.done else self.case.done
        access = self.knowledge.checks[self.check].access
        return replace(self, check="", case=replace(self.case, done=done, access=access))

    def ask_more(self, count: int = 5) -> "Interview":
        """Allow some more cheap questions."""
        return replace(self, extra=self.extra + count)

    def back(self) -> "Interview":
        """Take the last question's answer back, so that it is asked again."""
        if self.proposed:
            return replace(self, proposed=())
        if not self.case.asked:
            return replace(self, case=replace(self.case, unit="", complaint=(), odometer_km=None))
        last = self.case.asked[-1]
        taken = self._last_group(last)
        case = self.case
        return replace(self, case=replace(
            case,
            asked=tuple(key for key in case.asked if key not in taken),
            findings={key: value for key, value in case.findings.items() if key not in taken},
            background={key: value for key, value in case.background.items() if key not in taken},
            complaint=tuple(key for key in case.complaint if key not in taken),
            odometer_km=None if ODOMETER in taken else case.odometer_km,
        ))

    def _last_group(self, last: str) -> set[str]:
        """Find all that was answered together with the last thing asked."""
        if last in self.knowledge.backgrounds and last not in OPENING_BACKGROUNDS:
            name = REPLACED if last.startswith(REPLACED_PREFIX) else RECENT
            if name in self.case.asked:
                return set(self.case.asked[self.case.asked.index(name):])
        record = self.compiled.expansion.finding_records.get(last)
        if record is not None and record.id in self.case.asked:
            return set(self.case.asked[self.case.asked.index(record.id):])
        return {last}
