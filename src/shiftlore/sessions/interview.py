"""The interview as a state machine: the next question, an answer taken, an answer taken back. No input or output.

The whole state is the case itself: what was answered stands in its findings and background, what was asked (known or
not) in `asked`, the owner's own words in `said`. So an interview that was cut off goes on from the file, and every
step gives a new interview that remembers the one before it.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from shiftlore.basics.quantities import kind_of, to_base
from shiftlore.cases import CODES, COMPLAINT, ENTERING, LOOKS, ODOMETER, RECENT, REPLACED, Answer, Case, Done, Measured
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
from shiftlore.sessions.first_questions import (
    UNIT,
    ask_complaint,
    ask_first,
    ask_life,
    ask_unit,
    ask_what_it_has,
    hold_last_word,
    list_code_findings,
    list_events,
    shows_wrong,
    take_codes,
)
from shiftlore.sessions.questions import Choice, Proposal, Question, Reply, join_keys

QUESTIONS_AT_ONCE = 5
"""So many questions, then the ranking; more only if asked for: an owner at the counter bears no more (judgement)."""
FEWEST_CODES = 3
"""A check that reads as many codes is asked for all of them in one line."""
MOST_READINGS = 8
"""Graded readings asked for after one check (judgement)."""
MOST_LISTED = 14
"""Signs listed after one check: what still fits a small terminal."""
LEAST_READING_NATS = 0.002
"""A reading of a check that was made is asked for unless it tells less than this (judgement)."""
YES_NO = (Choice("yes", "yes"), Choice("no", "no"))


@dataclass(frozen=True)
class Interview:
    """One interview.

    Args:
        knowledge: the trade.
        case: everything answered so far; its unit is "" before it is known.
        proposed: read out of free text, waiting to be confirmed; unread: words of it that were not understood.
        left: how many questions may still be asked before the ranking.
        wanted: whether the questions were asked for, so that less telling ones are put too.
        check: id of the check whose findings are being entered, or "".
        listed: the signs of that check's list, as they were numbered.
        previous: the interview before the last answer of this sitting, for going back.
    """

    knowledge: Knowledge
    case: Case
    proposed: tuple[Proposal, ...] = ()
    unread: tuple[str, ...] = ()
    left: int = QUESTIONS_AT_ONCE
    wanted: bool = False
    check: str = ""
    listed: tuple[str, ...] = ()
    previous: "Interview | None" = field(default=None, compare=False, repr=False)

    @cached_property
    def compiled(self) -> CompiledCase:
        """The case as a network and evidence."""
        return compile_case(compile_unit(self.knowledge, self.case.vehicle), self.case)

    @cached_property
    def question(self) -> Question | None:
        """The next question, or None when it is time for the ranking and a check."""
        if not self.case.unit:
            return ask_unit(self.knowledge)
        if self.proposed:
            return self._confirm()
        if self.check:
            return self._ask_of_check()
        if (complaint := ask_complaint(self.case)) is not None:
            return complaint
        if self.left <= 0:
            return None
        first = ask_first(self.compiled)
        if first is None and self.wanted:
            first = ask_life(self.knowledge, self.case)
        return first or self._ask_adaptive()

    @cached_property
    def given(self) -> Mapping[str, str]:
        """What was answered, codes resolved: finding -> answer."""
        return {answer.finding: answer.grade for answer in self.compiled.all_answers}

    @cached_property
    def leaders(self) -> Mapping[str, float]:
        """The causes as they stand now, most probable first: id -> probability."""
        named = zip(self.compiled.causes, self.compiled.causes_now, strict=True)
        return dict(sorted(((cause, float(p)) for cause, p in named), key=lambda item: -item[1]))

    def _ask_adaptive(self) -> Question | None:
        askings = rank_questions(self.compiled, list_cheap(self.compiled, self.case.asked))
        best = next(filter(self._is_worth_asking, askings), None)
        return ask_what_it_has(self.compiled, best) or (self.make_question(best) if best else None)

    def _is_worth_asking(self, asking: Asking) -> bool:
        least = LEAST_NATS_WANTED if self.wanted or asking.separates else LEAST_NATS
        return asking.nats >= least and not self._is_settled(asking)

    def _is_settled(self, asking: Asking) -> bool:
        """Tell whether the general question is settled by the particular ones, or these by a general no."""
        expansion, key = self.compiled.expansion, asking.findings[0]
        record = expansion.finding_records[key]
        parts = [part for name in record.general_of for part in expansion.of_template.get(name, ())]
        general = (name for name, grade in self.given.items() if grade == "no")
        return (
            any(name in self.case.asked for name in (key, *record.general_of))
            or any(part in self.compiled.told for part in parts)
            or any(record.id in expansion.finding_records[name].general_of for name in general)
        )

    def make_question(self, asking: Asking) -> Question:
        """Put a asking into words: a yes/no or graded question, or one that covers several instances."""
        expansion, key = self.compiled.expansion, asking.findings[0]
        record, nodes = expansion.finding_records[key], expansion.findings
        why, cost = explain_question(self.compiled, asking), self._say_cost(key)
        if len(asking.findings) > 1:
            choices = tuple(Choice(member, nodes[member].label, self._mark(member)) for member in asking.findings)
            members = [member for member in expansion.of_template.get(record.id, ()) if member not in asking.findings]
            known = [nodes[member].label for member in members if member in self.compiled.told]
            text = record.ask + (f" (Asked already: {', '.join(known)}.)" if known else "")
            return Question(record.id, "which", text, choices=choices, members=asking.findings, why=why, cost=cost)
        choices, text, grades = YES_NO, f"{nodes[key].label}: is it so?", nodes[key].grades
        if grades != ("no", "yes"):
            choices = tuple(Choice(grade, record.grade_labels.get(grade, grade)) for grade in grades)
            text = f"{nodes[key].label}: what was read?"
        text = record.ask if record.scope.each is None else text
        return Question(key, "choice", text, choices=choices, members=(key,), why=why, cost=cost)

    def _mark(self, finding: str) -> str:
        """Give what is typed for a finding about one gear or one shift: 3, R, 2-3; "" for all others."""
        expansion, record = self.compiled.expansion, self.compiled.expansion.finding_records[finding]
        instance = finding.removeprefix(f"{record.id}_")
        is_numbered = any(item.id.isdecimal() for item in expansion.instances.get(record.scope.each or "", ()))
        is_pair = all(part.isdecimal() for part in instance.split("_")) and "_" in instance
        return instance.replace("_", "-").upper() if record.scope.each and (is_numbered or is_pair) else ""

    def _say_cost(self, finding: str) -> str:
        """Say what an answer costs: a question costs nothing, a look some minutes if it was not taken yet."""
        way = self.compiled.expansion.finding_records[finding].got_by
        if way in ("owner", "history") or self.check:
            return "nothing"
        return f"a look of {look_minutes(self.compiled).get(finding, 0):.0f} min, if it was not taken yet"

    def _confirm(self) -> Question:
        choices = []
        for one in self.proposed:
            before = None if one.measured else self._answer_to(one.key)
            said = self.say_either(one.either) if one.either else self.say(one.key, one.grade)
            when = f"when {' and '.join(one.when)}" if one.when else ""
            text = said + "".join(f", {word}" for word in (when, one.doubt) if word)
            instead = self.say(one.key, before).rsplit(": ", 1)[-1] if before is not None else ""
            choices.append(
                Choice(f"{one.key}={one.grade}", text.replace("_", " ") + f" (not {instead})" * bool(instead))
            )
        why = "Nothing is taken into the case that you have not seen."
        if self.unread:
            why = f"Not understood, and kept only as your words: {'; '.join(self.unread)}."
        return Question("confirm", "confirm", "I understood this. Is it right?", tuple(choices), why=why)

    def _answer_to(self, key: str) -> str | None:
        """Give the answer that the case holds, or None."""
        if key == ODOMETER:
            return None if self.case.odometer_km is None else f"{self.case.odometer_km:.0f}"
        return self.given.get(key, self.case.background.get(key))

    def say_either(self, answers: Iterable[Answer]) -> str:
        """Say answers of which one was said, not which; a plain yes by the label alone."""
        said = ((self.say(one.finding, one.grade), one.grade) for one in answers)
        return f"Either {', or '.join(text.rsplit(': ', 1)[0] if grade == 'yes' else text for text, grade in said)}"

    def say(self, key: str, grade: str) -> str:
        """Say an answer in words: a finding's, a background's, the distance, or a code that means nothing here."""
        if key == ODOMETER:
            return f"Distance: {float(grade):,.0f} km"
        if grade[:1].isdigit() or grade[:1] == "-":
            return f"{key.replace('_', ' ').capitalize()}: {grade}"
        if key in self.knowledge.backgrounds:
            record = self.knowledge.backgrounds[key]
            return f"{record.label}: {record.grade_labels.get(grade, grade)}"
        finding = self.compiled.unit.aliases.get(key, key)
        name = f"{key}: {grade}" if key != finding or finding not in self.compiled.expansion.findings else ""
        if finding in self.compiled.expansion.findings:
            said = self.compiled.expansion.name_answer(finding, grade)
            return f"{key} ({said.rsplit(': ', 1)[0]}): {grade}" if name else said
        return name

    def _ask_of_check(self) -> Question | None:
        """Ask for what a check has shown: codes in one line, readings one by one, all other signs in one list."""
        asked, nodes = self.case.asked, self.compiled.expansion.findings
        reveals = list(dict.fromkeys(self.compiled.expansion.reveals.get(self.check, ())))
        open_now = [key for key in reveals if key not in self.compiled.told and key not in asked]
        records, told = self.compiled.expansion.finding_records, list_code_findings(self.knowledge)
        codes = tuple(key for key in open_now if records[key].id in told)
        if len(codes) >= FEWEST_CODES:
            known = [key for key in reveals if records[key].id in told and self.given.get(key) == "yes"]
            besides = f" besides what is known ({', '.join(nodes[key].label for key in known)})" if known else ""
            text = f"Which codes did it show{besides}? Write them (P0732 ...), or none."
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
        if len(signs) == 1 and not self.listed:
            return self.make_question(Asking((signs[0],), 0.0, 0.0))
        return self._list_signs(self.listed or tuple(sorted(signs, key=reveals.index)), open_now)

    def _list_signs(self, listed: tuple[str, ...], open_now: list[str]) -> Question:
        """Ask for the signs of a list; each keeps its number while others are answered."""
        label = self.compiled.expansion.findings
        left = [(place, key) for place, key in enumerate(listed, 1) if key in open_now]
        choices = tuple(Choice(key, label[key].label, str(place)) for place, key in left)
        text = f"{self.compiled.expansion.checks[self.check].label}: what did it show?"
        members = tuple(key for _, key in left)
        return Question(
            self.check, "which", text, choices=choices, members=members, why="What you leave out is recorded as no."
        )

    def answer(self, question: Question, reply: Reply) -> "Interview":
        """Take an answer and give the interview that follows.

        Raises: UsageProblem: nothing can be made of it; the caller asks again.
        """
        if question.id == UNIT:
            return self._with(replace(self.case, unit=reply.keys[0]))
        if question.kind == "confirm":
            return self._take_confirmed(reply)
        named = question.members if question.id in question.members else (question.id, *question.members)
        if question.kind == "each":
            named = (question.id, *(key.split("=", 1)[0] for key in reply.keys))
        case = replace(self.case, asked=(*self.case.asked, *(key for key in named if key not in self.case.asked)))
        return self._with(self._take(question, reply, case), self.left - (question.id != COMPLAINT and not self.check))

    def _take(self, question: Question, reply: Reply, case: Case) -> Case:
        """Write an answer into the case; "not known" writes nothing."""
        if not reply.known:
            return case
        if question.id == ODOMETER:
            return replace(case, odometer_km=float(reply.text))
        if question.id == CODES:
            return take_codes(self.compiled, case, question, reply)
        if question.kind == "words":
            return add_words(case, reply.text)
        if question.kind == "each":
            given = dict(key.split("=", 1) for key in reply.keys)
        elif question.kind == "which":
            picked = {key: "yes" for key in question.members if key in reply.keys}
            given = {key: "no" for key in question.members if reply.rest_known} | picked
        else:
            given = {question.id: reply.keys[0]}
        if question.members and question.members[0] in self.knowledge.backgrounds:
            return _with_backgrounds(case, given, reply.doubt)
        return case.with_findings({key: Answer(key, grade, reply.doubt) for key, grade in given.items()})

    def _with(self, case: Case, left: int | None = None) -> "Interview":
        left = self.left if left is None else left
        case = replace(case, either=tuple(group for group in case.either if not self._is_denied(group, case)))
        is_checking = bool(self.check)
        case = hold_last_word(self.compiled, self.case, case, is_checking=is_checking) if self.case.unit else case
        return replace(self, case=case, proposed=(), unread=(), left=left, listed=self._on_screen, previous=self)

    def _is_denied(self, group: Iterable[Answer], case: Case) -> bool:
        """Tell whether all answers of an either-or have been denied since: the last word counts."""
        nodes, found = self.compiled.expansion.findings if self.case.unit else {}, case.findings
        keys = [one.finding for one in group]
        return all(key in nodes and key in found and found[key].grade == nodes[key].grades[0] for key in keys)

    @property
    def _on_screen(self) -> tuple[str, ...]:
        """The signs of the check's list, once it has been shown."""
        question = self.question
        return self.listed or (question.members if question and question.id == self.check else ())

    @property
    def unread_words(self) -> str:
        """Give the owner's words if nothing was taken from them yet: an interview was cut off in between."""
        case = self.case
        return (
            "; ".join(case.said)
            if COMPLAINT in case.asked and not (case.complaint or case.findings or case.either)
            else ""
        )

    def keep_words(self, text: str) -> "Interview":
        """Keep words that nothing was read from; the question stands."""
        return replace(self, case=add_words(self.case, text))

    def _take_confirmed(self, reply: Reply) -> "Interview":
        """Put what was confirmed into the case, in place of what was answered before.

        Yes answers become complaints as long as there are none.
        """
        kept = [one for one in self.proposed if f"{one.key}={one.grade}" in reply.keys]
        records, had = self.compiled.expansion.finding_records, self.case.complaint
        is_complaint = not shows_wrong(self.compiled, self.case) or any(f"{one}=no" in reply.keys for one in had)
        new = tuple(one.key for one in kept if one.key not in self.case.asked)
        case = replace(self.case, asked=(*self.case.asked, *new))
        for one in kept:
            if one.either:
                case = replace(case, either=(*case.either, one.either))
            elif one.measured is not None:
                case = self._with_number(case, one.key, one.measured)
            elif one.key == ODOMETER:
                case = replace(case, odometer_km=float(one.grade))
            elif one.key in self.knowledge.backgrounds:
                case = _with_backgrounds(case, {one.key: one.grade}, one.doubt or reply.doubt)
            else:
                answer = Answer(one.key, one.grade, one.doubt or reply.doubt, when=one.when)
                if is_complaint and one.grade == "yes" and one.key in records and records[one.key].complaint:
                    case = replace(case, complaint=(*case.complaint, one.key))
                    if answer == Answer(one.key, one.grade):
                        continue
                case = self._without(case, one).with_findings({one.key: answer})
        if is_complaint and not shows_wrong(self.compiled, case):
            case = replace(case, asked=tuple(key for key in case.asked if key != COMPLAINT))
        return self._with(add_note(case, "; ".join(self.unread)))

    def _with_number(self, case: Case, name: str, measured: Measured) -> Case:
        """Put a measured number into a case, in place of answers that say otherwise."""
        told = self.grade_number(name, measured)
        kept = {key: one for key, one in case.findings.items() if told.get(key, one.grade) == one.grade}
        return replace(case, measured={**case.measured, name: measured}, findings=kept)

    def say_number(self, name: str, measured: Measured) -> str:
        """Say a measured number, and what it answers here."""
        told = self.grade_number(name, measured)
        says = ", ".join(self.say(*pair) for pair in told.items()) or "its limits are not known here"
        return f"{self.say(name, f'{measured.value:g} {measured.unit}')} ({says})"

    def grade_number(self, name: str, measured: Measured) -> Mapping[str, str]:
        """Give what a measured number answers on this unit: finding -> grade."""
        return self.compiled.unit.dials.grade(name, to_base(kind_of(measured.unit), measured.value, measured.unit))

    def take_number(self, finding: str, measured: Measured) -> "Interview | None":
        """Take a number as what a finding was measured at; None where no number of that unit answers it."""
        dials = self.compiled.unit.dials
        names = [name for name, found in dials.by_name.items() if any(dial.finding == finding for dial in found)]
        name = next((name for name in names if measured.unit in dials.units[name]), None)
        if name is None:
            return None
        asked = [key for key in self.grade_number(name, measured) if key not in self.case.asked]
        case = replace(self._with_number(self.case, name, measured), asked=(*self.case.asked, *asked))
        return self._with(case, self.left - bool(asked and not self.check))

    def _without(self, case: Case, new: Proposal) -> Case:
        """Take out what a correction contradicts: the complaint, or a code that says the opposite."""
        if self.given.get(new.key) in (None, new.grade):
            return case
        aliases = self.compiled.unit.aliases
        kept = {
            key: answer for key, answer in case.findings.items() if aliases.get(key, key) != new.key or key == new.key
        }
        numbers = {name: one for name, one in case.measured.items() if new.key not in self.grade_number(name, one)}
        complaint = tuple(key for key in case.complaint if key != new.key)
        return replace(case, findings=kept, complaint=complaint, measured=numbers)

    def propose(self, found: tuple[Proposal, ...], unread: tuple[str, ...] = ()) -> "Interview":
        """Hold what was read out of free text, to be confirmed next, with what still waits; what is known so drops out."""
        new = {one.key: one for one in (*self.proposed, *found) if not self._is_known(one)}
        unread = tuple(dict.fromkeys((*self.unread, *unread))) if self.proposed else unread
        return replace(self, proposed=tuple(new.values()), unread=unread, listed=self._on_screen)

    def _is_known(self, said: Proposal) -> bool:
        if said.either:
            return said.either in self.case.either or any(
                self._answer_to(one.finding) == one.grade for one in said.either
            )
        return self._answer_to(said.key) == said.grade

    def take_codes(self, codes: Mapping[str, str | None]) -> "Interview":
        """Take trouble codes that were read: code -> doubt."""
        case = self.case.with_findings({code: Answer(code, "yes", doubt) for code, doubt in codes.items()})
        asked = (*case.asked, *(code for code in codes if code not in case.asked))
        return replace(self._with(replace(case, asked=asked)), proposed=self.proposed, unread=self.unread)

    def start_check(self, check: str) -> "Interview":
        """Begin to enter what a check has shown, after what waits to be confirmed; what nobody knew before is asked again."""
        unknown = set(self.compiled.expansion.reveals[check]) - self.compiled.told
        asked = tuple(key for key in self.case.asked if key not in {*unknown, check, ENTERING + check})
        case = replace(self.case, asked=(*asked, ENTERING + check))
        return replace(self, check=check, listed=(), previous=self, case=case)

    def finish_check(self) -> "Interview":
        """Note that the check has been made; the vehicle is then in the state of disassembly that it needs."""
        case = self.case.with_done(Done(self.check))
        asked = tuple(key for key in case.asked if key != ENTERING + self.check)
        case = replace(case, asked=asked, access=self.knowledge.checks[self.check].access)
        return replace(self, check="", listed=(), left=0, case=case)

    def resume(self) -> "Interview":
        """Go on where the last sitting ended: at a check half entered, at the questions, or at the steps."""
        asked, records = self.case.asked, self.compiled.expansion.finding_records
        begun = [key.removeprefix(ENTERING) for key in asked if key.startswith(ENTERING)]
        known = [check for check in begun if check in self.compiled.expansion.checks]
        # What stands before the first question came out of the owner's words; a look's answers are one question.
        first = next((place for place, key in enumerate(asked) if key in (CODES, RECENT, LOOKS)), len(asked))
        looks = (key for key, record in records.items() if record.early_look is not None)
        besides = {COMPLAINT, *self.knowledge.backgrounds, *self.case.complaint, *looks}
        put = {records[key].id if key in records else key for key in asked[first:] if key not in besides}
        left = 0 if self.case.done else max(0, QUESTIONS_AT_ONCE - len(put))
        return replace(self, check=known[-1] if known else "", left=left)

    def note_jobs(self, results: tuple[Done, ...]) -> "Interview":
        """Note that jobs were done and what came of them; the vehicle is closed up again for the road test."""
        case = replace(self.case.with_done(*results), access="")
        return replace(self, case=case, left=0, previous=self)

    def set_budget(self, budget: float | None) -> "Interview":
        """Note what the owner will spend, in the shop's currency."""
        return replace(self, case=replace(self.case, budget=budget), listed=self._on_screen, previous=self)

    def ask_more(self, count: int = QUESTIONS_AT_ONCE) -> "Interview":
        """Allow some more cheap questions."""
        return replace(self, left=count, wanted=True)

    def back(self) -> "Interview":
        """Take the last question's answer back, so that it is asked again."""
        if self.proposed and not (self.previous and self.case.asked[-1:] == (COMPLAINT,)):
            return replace(self, proposed=(), unread=())
        if self.previous is not None:
            before = self.previous
            return before if before.question is not None else replace(before, left=1)
        return self._back_from_file()

    def _back_from_file(self) -> "Interview":
        """Take back what was answered in an earlier sitting, as far as the file tells what belongs together."""
        if not self.case.asked:
            return replace(self, proposed=())
        taken, case = self._last_group(), self.case
        made = [check for check in case.done_ids if taken & set(self.compiled.expansion.reveals.get(check, ()))]
        case = replace(
            case,
            asked=tuple(key for key in case.asked if key not in taken),
            findings={key: value for key, value in case.findings.items() if key not in taken},
            background={key: value for key, value in case.background.items() if key not in taken},
            complaint=tuple(key for key in case.complaint if key not in taken),
            odometer_km=None if ODOMETER in taken else case.odometer_km,
            either=tuple(group for group in case.either if join_keys(group) not in taken),
        )
        again = replace(self, case=case, left=max(1, self.left))
        return again.start_check(made[-1]) if made and not self.check else again

    def _last_group(self) -> set[str]:
        """Find all that was answered together with the last thing asked: back to the name of the question, if it is one."""
        asked, records, last = self.case.asked, self.compiled.expansion.finding_records, self.case.asked[-1]
        groups = {head: {*list_events(self.knowledge, head)} for head in (RECENT, REPLACED)}
        groups[COMPLAINT] = set(self.case.complaint) if last in self.case.complaint else set()
        groups[LOOKS] = {key for key, record in records.items() if record.early_look is not None}
        groups |= {check: set(self.compiled.expansion.reveals.get(check, ())) for check in self.case.done_ids}
        if last in records:
            groups[records[last].id] = set(self.compiled.expansion.of_template.get(records[last].id, ()))
        for head, members in groups.items():
            if last in members and head in asked and set(asked[asked.index(head) + 1 :]) <= members:
                return set(asked[asked.index(head) :])
        return {last}


def add_words(case: Case, text: str) -> Case:
    """Keep the owner's own words, unless they stand there already; a bare number or a single letter is none."""
    return case if not text.lstrip(" ,.0123456789")[1:] or text in case.said else replace(case, said=(*case.said, text))


def add_note(case: Case, text: str) -> Case:
    """Add words to the case's note, unless they stand there already."""
    return case if not text or text in case.note else replace(case, note="; ".join(filter(None, (case.note, text))))


def _with_backgrounds(case: Case, given: Mapping[str, str], doubt: str | None) -> Case:
    """Put answers of the vehicle's life into a case, each as sure as the last word on it."""
    doubts = {pair: word for pair, word in case.background_doubts.items() if pair not in given.items()}
    doubts |= dict.fromkeys(given.items(), doubt) if doubt else {}
    return replace(case, background={**case.background, **given}, background_doubts=doubts)
