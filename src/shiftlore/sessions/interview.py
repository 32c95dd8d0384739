"""The interview as a state machine: the next question, an answer taken, an answer taken back. No input or output.

The whole state is the case itself: what was answered stands in its findings and background, what was asked (known or
not) in `asked`, the owner's own words in its note. So an interview that was cut off goes on from the file, and every
step gives a new interview that remembers the one before it.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property

from shiftlore.basics import UsageProblem
from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, CompiledUnit, compile_case
from shiftlore.knowledge import Knowledge
from shiftlore.sessions.choosing_questions import (
    LEAST_NATS,
    LEAST_NATS_WANTED,
    Candidate,
    list_cheap,
    look_minutes,
    rank_questions,
)
from shiftlore.sessions.questions import Choice, Question, Reply
from shiftlore.sessions.reasons import explain_question

UNIT, ODOMETER, COMPLAINT, CODES = "unit", "odometer_km", "complaint", "codes"
RECENT, REPLACED = "recent_events", "replaced_parts"
REPLACED_PREFIX = "replaced_"
OPENING_BACKGROUNDS = ("service_record", "usage")
EARLY_LOOKS = ("fluid_level", "fluid_colour", "fluid_smell_burnt")
"""What is looked at before anything else, whatever the complaint (common practice)."""
MOST_QUESTIONS = 14
"""After so many adaptive questions the owner has had enough (judgement); more can be asked for."""
ANY = "_any"
"""How the ids of general questions end: whether any shift is harsh, beside which shifts are."""
FEWEST_CODES = 3
"""A check that reads as many codes is asked for all of them in one line."""
MOST_READINGS = 8
"""Graded readings asked for after one check (judgement)."""
MOST_LISTED = 14
"""Signs listed after one check: what still fits a small terminal."""
LEAST_READING_NATS = 0.002
"""A reading of a check that was made is asked for unless it tells less than this (judgement)."""
KIND_LABELS = {
    "step": "Not known: an automatic with a converter and gears",
    "step-rwd": "Not known: an automatic with a converter and gears, lengthwise (rear or all-wheel drive)",
    "step-fwd": "Not known: an automatic with a converter and gears, crosswise (front or all-wheel drive)",
    "cvt": "Not known: a variator with a belt or chain, no gears",
    "dct": "Not known: two clutches, shifts like a manual gearbox",
}
CODE_GROUP, SUMMARY_GROUPS = "codes", ("codes_unnamed", "codes_read")
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
        previous: the interview before the last answer of this sitting, for going back.
        extra: how many adaptive questions beyond the usual number were asked for.
        check: id of the check whose findings are being entered, or "".
    """

    knowledge: Knowledge
    compile_for: Callable[[str], CompiledUnit]
    case: Case
    proposed: tuple[Proposal, ...] = ()
    extra: int = 0
    check: str = ""
    previous: "Interview | None" = field(default=None, compare=False, repr=False)

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
        return self._ask_opening() or self._ask_early_look() or self._ask_codes() or self._ask_adaptive()

    def _is_open(self, key: str) -> bool:
        return key not in self.case.asked

    def _ask_unit(self) -> Question:
        sheets = self.knowledge.sheets.values()
        known = [sheet for sheet in sheets if not sheet.kind_only]
        kinds = [sheet for sheet in sheets if sheet.kind_only]
        choices = tuple(
            Choice(sheet.id, KIND_LABELS.get(sheet.id, sheet.label) if sheet.kind_only else sheet.label)
            for sheet in [*known, *kinds]
        )
        return Question(UNIT, "choice", "Which transmission is it?", choices, optional=False,
                        why="The gears and elements to ask about follow from it.", cost="nothing")

    def _ask_opening(self) -> Question | None:
        if self._is_open(COMPLAINT) and not self.case.complaint:
            return Question(COMPLAINT, "words", "What does the owner complain of? Say it in plain words.",
                            cost="nothing", why="The complaint comes first; everything else is asked because of it.")
        if self._is_open(ODOMETER) and self.case.odometer_km is None:
            return Question(ODOMETER, "number", "How many kilometres has it run?", cost="nothing",
                            why="Worn parts are likelier on a vehicle that has run far.")
        for name in OPENING_BACKGROUNDS:
            if self._is_open(name) and name not in self.case.background and name in self.knowledge.backgrounds:
                return self._ask_background(name)
        for name in (RECENT, REPLACED):
            if self._is_open(name):
                return self._ask_events(name)
        return None

    def _ask_early_look(self) -> Question | None:
        """Ask for what everybody looks at first: level, colour and smell of the fluid."""
        nodes = self.compiled.expansion.findings
        for key in EARLY_LOOKS:
            if key in nodes and self._is_open(key) and key not in self.compiled.evidence:
                return self.make_question(Candidate((key,), 0.0, 0.0))
        return None

    def _ask_codes(self) -> Question | None:
        if not self._is_open(CODES) or any("code" in key or key[:1] in "PCBU" for key in self.case.findings):
            return None
        text = (
            "Which trouble codes are stored? Write them (P0732 ...); or none by generic scan, or none by module scan; "
            "or ? if it was not scanned."
        )
        why = "A code of a circuit outranks every hydraulic cause; a ratio code says the reverse."
        return Question(CODES, "words", text, cost="nothing, if it has been scanned", why=why)

    def _ask_background(self, name: str) -> Question:
        record = self.knowledge.backgrounds[name]
        choices = tuple(Choice(key, record.grade_labels.get(key, key)) for key in record.shares)
        return Question(name, "choice", record.ask, choices, (name,), cost="nothing",
                        why="How a vehicle was kept and used makes some faults likelier than others.")

    def _ask_events(self, name: str) -> Question:
        """Ask in one go for what happened, or for which parts were replaced without cure."""
        names = [
            key for key, record in self.knowledge.backgrounds.items()
            if tuple(record.shares) == ("no", "yes") and key not in self.case.background
            and key.startswith(REPLACED_PREFIX) == (name == REPLACED)
        ]
        choices = tuple(Choice(key, self.knowledge.backgrounds[key].label) for key in names)
        if name == RECENT:
            text, why = "Is any of this so?", "After recent work the work is suspected first."
        else:
            text, why = "Was any of this done already without curing it?", "A part that is new is suspected less."
        return Question(name, "which", text, choices, tuple(names), cost="nothing", why=why)

    @cached_property
    def _candidates(self) -> list[Candidate]:
        return rank_questions(self.compiled, list_cheap(self.compiled, self.case.asked))

    def _ask_adaptive(self) -> Question | None:
        if self._count_asked() >= MOST_QUESTIONS + self.extra:
            return None
        best = next((one for one in self._candidates if self._is_worth_asking(one)), None)
        return None if best is None else self.make_question(best)

    def _is_worth_asking(self, candidate: Candidate) -> bool:
        least = LEAST_NATS_WANTED if self.extra or candidate.separates else LEAST_NATS
        return candidate.nats >= least and not self._is_settled(candidate)

    def _is_settled(self, candidate: Candidate) -> bool:
        """Tell whether the general question is settled by the particular ones, or these by a general no."""
        key = candidate.findings[0]
        record = self.compiled.expansion.finding_records[key]
        general = self.case.findings.get(record.id + ANY)
        particulars = self.compiled.expansion.of_template.get(key.removesuffix(ANY), ()) if key.endswith(ANY) else ()
        return (
            key.removesuffix(ANY) in self.case.asked
            or any(part in self.compiled.evidence for part in particulars)
            or (general is not None and general.grade == "no")
        )

    def _count_asked(self) -> int:
        """Count the adaptive questions put so far; one about several gears counts once."""
        asked, records = set(self.case.asked), self.compiled.expansion.finding_records
        start = self.case.asked.index(CODES) + 1 if CODES in asked else 0
        later = [key for key in self.case.asked[start:] if key in records]
        return len({records[key].id if records[key].id in asked else key for key in later})

    def make_question(self, candidate: Candidate) -> Question:
        """Put a candidate into words: a yes/no or graded question, or one that covers several instances."""
        why = explain_question(self.compiled, candidate)
        records, nodes = self.compiled.expansion.finding_records, self.compiled.expansion.findings
        key = candidate.findings[0]
        record = records[key]
        cost = self._say_cost(key)
        if len(candidate.findings) > 1:
            choices = tuple(Choice(member, nodes[member].label) for member in candidate.findings)
            known = [nodes[member].label for member in self.compiled.expansion.of_template.get(record.id, ())
                     if member in self.compiled.evidence and member not in candidate.findings]
            text = record.ask + (f" (Asked already: {', '.join(known)}.)" if known else "")
            return Question(record.id, "which", text, choices, candidate.findings, why, cost)
        grades = nodes[key].grades
        choices = YES_NO if grades == ("no", "yes") else tuple(
            Choice(grade, record.grade_labels.get(grade, grade)) for grade in grades
        )
        text = record.ask if record.scope.each is None else f"{nodes[key].label}: is it so?"
        if record.scope.each is not None and choices is not YES_NO:
            text = f"{nodes[key].label}: what was read?"
        return Question(key, "choice", text, choices, (key,), why, cost)

    def _say_cost(self, finding: str) -> str:
        """Say what an answer costs: a question costs nothing, a look some minutes if it was not taken yet."""
        way = self.compiled.expansion.finding_records[finding].got_by
        if way in ("owner", "history") or self.check:
            return "nothing"
        return f"a look of {look_minutes(self.compiled).get(finding, 0):.0f} min, if it was not taken yet"

    def _confirm(self) -> Question:
        choices = tuple(Choice(f"{key}={grade}", self._say(key, grade)) for key, grade in self.proposed)
        return Question("confirm", "confirm", "I understood this. Is it right?", choices,
                        why="Nothing is taken into the case that you have not seen.", cost="nothing")

    def _say(self, key: str, grade: str) -> str:
        """Say an answer in words: a finding's or a background's."""
        if key in self.knowledge.backgrounds:
            record = self.knowledge.backgrounds[key]
            return f"{record.label}: {record.grade_labels.get(grade, grade)}"
        return self.compiled.expansion.name_answer(key, grade)

    def _ask_of_check(self) -> Question | None:
        """Ask for what a check has shown: codes in one line, readings one by one, all other signs in one list."""
        asked, nodes = self.case.asked, self.compiled.expansion.findings
        reveals = self.compiled.expansion.reveals.get(self.check, ())
        open_now = [key for key in reveals if key not in self.compiled.evidence and key not in asked]
        codes = tuple(key for key in open_now if self._is_code(key))
        if len(codes) >= FEWEST_CODES:
            return Question(CODES, "words", "Which codes did it show? Write them (P0732 ...), or none.", (), codes,
                            "Codes that it did not show count as absent.", "nothing")
        ranked = [] if not open_now else rank_questions(self.compiled, open_now)
        graded = [one for one in ranked if nodes[one.findings[0]].grades != ("no", "yes")]
        read = sum(1 for key in reveals if key in asked and nodes[key].grades != ("no", "yes"))
        if graded and graded[0].nats >= LEAST_READING_NATS and read < MOST_READINGS:
            return self.make_question(graded[0])
        others = [one for one in ranked if one not in graded]
        signs = [key for one in others for key in one.findings][:MOST_LISTED]
        is_absurd = len(signs) == 1 and others[0].nats == 0.0
        if not signs or is_absurd or self.check in asked:
            return None
        return self._ask_signs(sorted(signs, key=list(reveals).index))

    def _is_code(self, finding: str) -> bool:
        record = self.compiled.expansion.finding_records[finding]
        return record.group.startswith(CODE_GROUP) and record.grades == ("no", "yes")

    def _ask_signs(self, signs: list[str]) -> Question:
        """Ask for the yes/no signs of a check; a single one is a question of its own."""
        if len(signs) == 1:
            return self.make_question(Candidate((signs[0],), 0.0, 0.0))
        nodes, label = self.compiled.expansion.findings, self.compiled.expansion.checks[self.check].label
        choices = tuple(Choice(key, nodes[key].label) for key in signs)
        return Question(self.check, "which", f"{label}: what did it show?", choices, tuple(signs),
                        "Whatever is not picked counts as not there.", "nothing")

    def answer(self, question: Question, reply: Reply) -> "Interview":
        """Take an answer and give the interview that follows.

        Raises: UsageProblem: nothing can be made of it; the caller asks again.
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
            return self._with(self._take_codes(case, question, reply))
        if question.kind == "words":
            return self._with(replace(case, note="; ".join(text for text in (case.note, reply.text) if text)))
        if question.members and question.members[0] in self.knowledge.backgrounds:
            return self._with(self._take_background(case, question, reply))
        return self._with(self._take_findings(case, question, reply))

    def _take_codes(self, case: Case, question: Question, reply: Reply) -> Case:
        """Take stored codes, or that there are none, by the scan that was named; a check's other codes are absent."""
        codes = dict.fromkeys(code.upper() for code in CODE_PATTERN.findall(reply.text))
        more = {code: Answer(code, "yes", reply.doubt) for code in codes}
        if not codes:
            if not NO_CODES.search(reply.text.lower()):
                raise UsageProblem("Write codes such as P0732 or U0100, or none, or ? if it is not known.")
            module = "module" in reply.text.lower() or NONE_BY_MODULE in question.members
            name = NONE_BY_MODULE if module else NONE_BY_GENERIC
            more = {name: Answer(name, "yes", reply.doubt)} if name in self.compiled.expansion.findings else {}
        shown = {self.compiled.unit.aliases.get(code, code) for code in more}
        absent = {key: Answer(key, "no", reply.doubt) for key in question.members
                  if codes and key not in shown and not self._is_summary(key)}
        return replace(case, findings={**case.findings, **absent, **more})

    def _is_summary(self, finding: str) -> bool:
        """Tell whether a finding follows from the codes themselves: none at all, or some of a kind."""
        record = self.compiled.expansion.finding_records[finding]
        return bool(record.stands_for) or record.group in SUMMARY_GROUPS

    def _asked_by(self, question: Question) -> tuple[str, ...]:
        own = (question.id,) if question.id not in question.members else ()
        return tuple(key for key in (*own, *question.members) if key not in self.case.asked)

    def _with(self, case: Case) -> "Interview":
        return replace(self, case=case, proposed=(), previous=self)

    @property
    def unread_words(self) -> str:
        """Give the owner's words if nothing was taken from them yet: an interview was cut off in between."""
        case = self.case
        return case.note if COMPLAINT in case.asked and not case.complaint and not case.findings else ""

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
        asked = [*self.case.asked, *(key for key in kept if key not in self.case.asked)]
        if is_complaint and not kept and COMPLAINT in asked:
            asked.remove(COMPLAINT)
        case = replace(
            self.case, findings=findings, complaint=tuple(complaint), asked=tuple(asked), background=background
        )
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
        """Begin to enter what a check has shown; what nobody knew before is asked again."""
        unknown = set(self.compiled.expansion.reveals[check]) - set(self.compiled.evidence)
        asked = tuple(key for key in self.case.asked if key not in unknown and key != check)
        return replace(self, check=check, proposed=(), previous=self, case=replace(self.case, asked=asked))

    def finish_check(self) -> "Interview":
        """Note that the check has been made; the vehicle is then in the state of disassembly that it needs."""
        done = (*self.case.done, self.check) if self.check not in self.case.done else self.case.done
        access = self.knowledge.checks[self.check].access
        return replace(self, check="", case=replace(self.case, done=done, access=access))

    def note_jobs(self, jobs: tuple[str, ...]) -> "Interview":
        """Note that jobs were done and did not cure it; the vehicle is closed up again for the road test."""
        done = tuple(dict.fromkeys((*self.case.done, *jobs)))
        closed = next(key for key, level in self.knowledge.access.items() if level.parent is None)
        return replace(self, case=replace(self.case, done=done, access=closed), previous=self)

    def ask_more(self, count: int = 5) -> "Interview":
        """Allow some more cheap questions."""
        return replace(self, extra=self.extra + count)

    def back(self) -> "Interview":
        """Take the last question's answer back, so that it is asked again."""
        if self.proposed and not (self.previous and self.case.asked[-1:] == (COMPLAINT,)):
            return replace(self, proposed=())
        return self.previous or self._back_from_file()

    def _back_from_file(self) -> "Interview":
        """Take back what was answered in an earlier sitting, as far as the file tells what belongs together."""
        if not self.case.asked:
            return replace(self, proposed=())
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
        if last in self.case.complaint and COMPLAINT in self.case.asked:
            return set(self.case.asked[self.case.asked.index(COMPLAINT):])
        if last in self.knowledge.backgrounds and last not in OPENING_BACKGROUNDS:
            name = REPLACED if last.startswith(REPLACED_PREFIX) else RECENT
            if name in self.case.asked:
                return set(self.case.asked[self.case.asked.index(name):])
        record = self.compiled.expansion.finding_records.get(last)
        if record is not None and record.id in self.case.asked:
            return set(self.case.asked[self.case.asked.index(record.id):])
        return {last}
