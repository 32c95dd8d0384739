"""The interview as a state machine: the next question, an answer taken, an answer taken back. No input or output.

The whole state is the case itself: what was answered stands in its findings and background, what was asked (known or
not) in `asked`, the owner's own words in its note. So an interview that was cut off goes on from the file, and every
step gives a new interview that remembers the one before it.
"""

from dataclasses import dataclass, field, replace
from functools import cached_property

from shiftlore.cases import Answer, Case, Done
from shiftlore.compiling import CompiledCase, compile_case, compile_unit
from shiftlore.knowledge import Knowledge
from shiftlore.sessions.choosing_questions import (
    LEAST_NATS,
    LEAST_NATS_WANTED,
    Asking,
    explain_question,
    list_cheap,
    look_minutes,
    rank_questions,
)
from shiftlore.sessions.opening import (
    CODES,
    COMPLAINT,
    ODOMETER,
    RECENT,
    REPLACED,
    UNIT,
    ask_codes,
    ask_opening,
    ask_unit,
    list_code_findings,
    take_codes,
)
from shiftlore.sessions.questions import Choice, Question, Reply

MOST_QUESTIONS = 14
"""After so many adaptive questions the owner has had enough (judgement); more can be asked for."""
FEWEST_CODES = 3
"""A check that reads as many codes is asked for all of them in one line."""
MOST_READINGS = 8
"""Graded readings asked for after one check (judgement)."""
MOST_LISTED = 14
"""Signs listed after one check: what still fits a small terminal."""
LEAST_READING_NATS = 0.002
"""A reading of a check that was made is asked for unless it tells less than this (judgement)."""
YES_NO = (Choice("yes", "yes"), Choice("no", "no"))
Proposal = tuple[str, str]


@dataclass(frozen=True)
class Interview:
    """One interview.

    Args:
        knowledge: the trade.
        case: everything answered so far; its unit is "" before it is known.
        proposed: findings read out of free text, waiting to be confirmed: (finding, grade).
        previous: the interview before the last answer of this sitting, for going back.
        extra: how many adaptive questions beyond the usual number were asked for.
        check: id of the check whose findings are being entered, or "".
    """

    knowledge: Knowledge
    case: Case
    proposed: tuple[Proposal, ...] = ()
    extra: int = 0
    check: str = ""
    previous: "Interview | None" = field(default=None, compare=False, repr=False)

    @cached_property
    def compiled(self) -> CompiledCase:
        """The case as a network and evidence."""
        return compile_case(compile_unit(self.knowledge, self.case.vehicle), self.case)

    @cached_property
    def question(self) -> Question | None:
        """The next question, or None when the cheap ones are done."""
        if not self.case.unit:
            return ask_unit(self.knowledge)
        if self.proposed:
            return self._confirm()
        if self.check:
            return self._ask_of_check()
        first = ask_opening(self.knowledge, self.case) or self._ask_early_look() or ask_codes(self.compiled)
        return first or self._ask_adaptive()

    def _ask_early_look(self) -> Question | None:
        """Ask for what everybody looks at first, whatever the complaint."""
        records = self.compiled.expansion.finding_records
        places = {key: record.early_look for key, record in records.items() if record.early_look is not None}
        for key in sorted(places, key=places.__getitem__):
            if key not in self.case.asked and key not in self.compiled.told:
                return self.make_question(Asking((key,), 0.0, 0.0))
        return None

    @cached_property
    def _askings(self) -> list[Asking]:
        return rank_questions(self.compiled, list_cheap(self.compiled, self.case.asked))

    def _ask_adaptive(self) -> Question | None:
        if self._count_asked() >= MOST_QUESTIONS + self.extra:
            return None
        best = next((one for one in self._askings if self._is_worth_asking(one)), None)
        return None if best is None else self.make_question(best)

    def _is_worth_asking(self, asking: Asking) -> bool:
        least = LEAST_NATS_WANTED if self.extra or asking.separates else LEAST_NATS
        return asking.nats >= least and not self._is_settled(asking)

    def _is_settled(self, asking: Asking) -> bool:
        """Tell whether the general question is settled by the particular ones, or these by a general no."""
        expansion, key = self.compiled.expansion, asking.findings[0]
        record = expansion.finding_records[key]
        parts = [part for name in record.general_of for part in expansion.of_template.get(name, ())]
        general = (
            answer
            for name, answer in self.case.findings.items()
            if answer.grade == "no" and name in expansion.finding_records
        )
        return (
            any(name in self.case.asked for name in (key, *record.general_of))
            or any(part in self.compiled.told for part in parts)
            or any(record.id in expansion.finding_records[answer.finding].general_of for answer in general)
        )

    def _count_asked(self) -> int:
        """Count the adaptive questions put so far; one about several gears counts once."""
        asked, records = set(self.case.asked), self.compiled.expansion.finding_records
        start = self.case.asked.index(CODES) + 1 if CODES in asked else 0
        later = [key for key in self.case.asked[start:] if key in records]
        return len({records[key].id if records[key].id in asked else key for key in later})

    def make_question(self, asking: Asking) -> Question:
        """Put a asking into words: a yes/no or graded question, or one that covers several instances."""
        expansion, key = self.compiled.expansion, asking.findings[0]
        record, nodes = expansion.finding_records[key], expansion.findings
        why, cost = explain_question(self.compiled, asking), self._say_cost(key)
        if len(asking.findings) > 1:
            choices = tuple(Choice(member, nodes[member].label) for member in asking.findings)
            members = [member for member in expansion.of_template.get(record.id, ()) if member not in asking.findings]
            known = [nodes[member].label for member in members if member in self.compiled.told]
            text = record.ask + (f" (Asked already: {', '.join(known)}.)" if known else "")
            return Question(record.id, "which", text, choices, asking.findings, why, cost)
        choices, text, grades = YES_NO, f"{nodes[key].label}: is it so?", nodes[key].grades
        if grades != ("no", "yes"):
            choices = tuple(Choice(grade, record.grade_labels.get(grade, grade)) for grade in grades)
            text = f"{nodes[key].label}: what was read?"
        text = record.ask if record.scope.each is None else text
        return Question(key, "choice", text, choices, (key,), why, cost)

    def _say_cost(self, finding: str) -> str:
        """Say what an answer costs: a question costs nothing, a look some minutes if it was not taken yet."""
        way = self.compiled.expansion.finding_records[finding].got_by
        if way in ("owner", "history") or self.check:
            return "nothing"
        return f"a look of {look_minutes(self.compiled).get(finding, 0):.0f} min, if it was not taken yet"

    def _confirm(self) -> Question:
        choices = tuple(Choice(f"{key}={grade}", self._say(key, grade)) for key, grade in self.proposed)
        why = "Nothing is taken into the case that you have not seen."
        return Question("confirm", "confirm", "I understood this. Is it right?", choices, why=why)

    def _say(self, key: str, grade: str) -> str:
        """Say an answer in words: a finding's or a background's."""
        if key in self.knowledge.backgrounds:
            record = self.knowledge.backgrounds[key]
            return f"{record.label}: {record.grade_labels.get(grade, grade)}"
        return self.compiled.expansion.name_answer(key, grade)

    def _ask_of_check(self) -> Question | None:
        """Ask for what a check has shown: codes in one line, readings one by one, all other signs in one list."""
        asked, nodes = self.case.asked, self.compiled.expansion.findings
        reveals = list(self.compiled.expansion.reveals.get(self.check, ()))
        open_now = [key for key in reveals if key not in self.compiled.told and key not in asked]
        records, told = self.compiled.expansion.finding_records, list_code_findings(self.knowledge)
        codes = tuple(key for key in open_now if records[key].id in told)
        if len(codes) >= FEWEST_CODES:
            text = "Which codes did it show? Write them (P0732 ...), or none."
            why = "Codes that it did not show count as absent."
            return Question(CODES, "words", text, members=codes, why=why)
        ranked = rank_questions(self.compiled, open_now) if open_now else []
        graded = [one for one in ranked if nodes[one.findings[0]].grades != ("no", "yes")]
        read = sum(1 for key in reveals if key in asked and nodes[key].grades != ("no", "yes"))
        if graded and graded[0].nats >= LEAST_READING_NATS and read < MOST_READINGS:
            return self.make_question(graded[0])
        others = [one for one in ranked if one not in graded]
        signs = [key for one in others for key in one.findings][:MOST_LISTED]
        is_absurd = len(signs) == 1 and others[0].nats == 0.0
        if not signs or is_absurd or self.check in asked:
            return None
        if len(signs) == 1:
            return self.make_question(Asking((signs[0],), 0.0, 0.0))
        signs.sort(key=reveals.index)
        choices = tuple(Choice(key, nodes[key].label) for key in signs)
        text = f"{self.compiled.expansion.checks[self.check].label}: what did it show?"
        why = "Whatever is not picked counts as not there."
        return Question(self.check, "which", text, choices, tuple(signs), why)

    def answer(self, question: Question, reply: Reply) -> "Interview":
        """Take an answer and give the interview that follows.

        Raises: UsageProblem: nothing can be made of it; the caller asks again.
        """
        if question.id == UNIT:
            return self._with(replace(self.case, unit=reply.keys[0]))
        if question.kind == "confirm":
            return self._take_confirmed(reply)
        named = question.members if question.id in question.members else (question.id, *question.members)
        case = replace(self.case, asked=(*self.case.asked, *(key for key in named if key not in self.case.asked)))
        if not reply.known:
            return self._with(case)
        if question.id == ODOMETER:
            return self._with(replace(case, odometer_km=float(reply.text)))
        if question.id == CODES:
            return self._with(take_codes(self.compiled, case, question, reply))
        if question.kind == "words":
            return self._with(replace(case, note="; ".join(text for text in (case.note, reply.text) if text)))
        if question.kind == "which":
            given = {key: "yes" if key in reply.keys else "no" for key in question.members}
        else:
            given = {question.id: reply.keys[0]}
        if question.members and question.members[0] in self.knowledge.backgrounds:
            return self._with(replace(case, background={**case.background, **given}))
        answers = {key: Answer(key, grade, reply.doubt) for key, grade in given.items()}
        return self._with(replace(case, findings={**case.findings, **answers}))

    def _with(self, case: Case) -> "Interview":
        return replace(self, case=case, proposed=(), previous=self)

    @property
    def unread_words(self) -> str:
        """Give the owner's words if nothing was taken from them yet: an interview was cut off in between."""
        case = self.case
        return case.note if COMPLAINT in case.asked and not case.complaint and not case.findings else ""

    def _take_confirmed(self, reply: Reply) -> "Interview":
        """Put confirmed findings into the case: yes answers become complaints as long as there are none."""
        kept = dict(key.split("=", 1) for key in reply.keys)
        is_complaint = not self.case.findings and not self.case.complaint
        findings, background = dict(self.case.findings), dict(self.case.background)
        complaint = list(self.case.complaint)
        for key, grade in kept.items():
            if key in self.knowledge.backgrounds:
                background[key] = grade
            elif is_complaint and grade == "yes" and self.compiled.expansion.finding_records[key].complaint:
                complaint.append(key)
            else:
                findings[key] = Answer(key, grade, reply.doubt)
        asked = [*self.case.asked, *(key for key in kept if key not in self.case.asked)]
        if is_complaint and not kept and COMPLAINT in asked:
            asked.remove(COMPLAINT)
        case = replace(self.case, asked=tuple(asked), complaint=tuple(complaint), background=background)
        return self._with(replace(case, findings=findings))

    def answers_to(self, key: str) -> tuple[str, ...]:
        """List what a finding or a background of this unit may be answered with; nothing for any other id."""
        if key in self.knowledge.backgrounds:
            return tuple(self.knowledge.backgrounds[key].shares)
        node = self.compiled.expansion.findings.get(key)
        return () if node is None else node.grades

    def propose(self, found: tuple[Proposal, ...]) -> "Interview":
        """Hold findings that were read out of free text, to be confirmed next; those already answered drop out."""
        taken = {*self.compiled.told, *self.case.background}
        new = tuple(dict.fromkeys(item for item in found if item[0] not in taken))
        return replace(self, proposed=new)

    def start_check(self, check: str) -> "Interview":
        """Begin to enter what a check has shown; what nobody knew before is asked again."""
        unknown = set(self.compiled.expansion.reveals[check]) - self.compiled.told
        asked = tuple(key for key in self.case.asked if key not in unknown and key != check)
        return replace(self, check=check, proposed=(), previous=self, case=replace(self.case, asked=asked))

    def finish_check(self) -> "Interview":
        """Note that the check has been made; the vehicle is then in the state of disassembly that it needs."""
        access = self.knowledge.checks[self.check].access
        return replace(self, check="", case=replace(self.case.with_done(Done(self.check)), access=access))

    def note_jobs(self, jobs: tuple[str, ...]) -> "Interview":
        """Note that jobs were done and did not cure it; the vehicle is closed up again for the road test."""
        case = self.case.with_done(*map(Done, jobs))
        return replace(self, case=replace(case, access=""), previous=self)

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
        taken, case = self._last_group(), self.case
        case = replace(
            case,
            asked=tuple(key for key in case.asked if key not in taken),
            findings={key: value for key, value in case.findings.items() if key not in taken},
            background={key: value for key, value in case.background.items() if key not in taken},
            complaint=tuple(key for key in case.complaint if key not in taken),
            odometer_km=None if ODOMETER in taken else case.odometer_km,
        )
        return replace(self, case=case)

    def _last_group(self) -> set[str]:
        """Find all that was answered together with the last thing asked."""
        asked = self.case.asked
        background = self.knowledge.backgrounds.get(asked[-1])
        record = self.compiled.expansion.finding_records.get(asked[-1])
        heads = [COMPLAINT] if asked[-1] in self.case.complaint else []
        if background is not None and background.opening is None:
            heads.append(REPLACED if background.replaced else RECENT)
        heads += [] if record is None else [record.id]
        start = next((asked.index(head) for head in heads if head in asked), -1)
        return set(asked[start:])
