"""The desk as a state machine: what is on the screen, and what follows from a line that is typed at it.

Nothing is read or printed here. Nothing is written into a case that was not plainly said: an empty line answers nothing,
words are confirmed first, a number belongs to what is on the screen, and what is taken back is named.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from shiftlore.advising import closing_first, name_jobs
from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.cases import CAME_BACK, CODES, COMPLAINT, CURED, Case, Done
from shiftlore.sessions.interview import Interview
from shiftlore.sessions.naming_steps import find_steps
from shiftlore.sessions.questions import (
    LONGEST_LINE,
    NAME_FIRST,
    NOT_DONE,
    NOTHING_NEW,
    Command,
    Proposal,
    Question,
    Reply,
    find_codes,
    find_number,
    parse_reply,
    read_command,
    read_result,
    read_said,
    says_more_than_codes,
    tie_to_proposed,
    what_to_type,
)
from shiftlore.sessions.said_again import read_again
from shiftlore.sessions.telling_clashes import tell_clashes, tell_done

if TYPE_CHECKING:
    from shiftlore.advising import NextStep
    from shiftlore.knowledge import Caution

NOTHING_LEFT = "No cheap question is left that would tell anything. The checks would."
NOTHING_WRONG = (
    "That tells nothing that is wrong. Say what is, such as: slips in second when hot; no reverse. Or answer ?."
)
NO_LIMIT = "It is kept, but no limit is known on this unit: say which answer it means."
BUDGET = re.compile(r"budget\s+(?:is\s+)?(?:(none)|\D{0,4}?(\d[\d,.' ]*)\D{0,4})", re.IGNORECASE)
KNOWN_ALREADY = "Known already: "
_BOTH = re.compile(r"(?P<answer>y|yes|n|no)\s*[,.;:-]\s*(?P<words>.*[^\W\d]{3}.*)", re.IGNORECASE)
STORED_NOW = "None of that is taken as stored now. Write the codes that are, or none, or ? if it is not known."
RESULTS = ("it is done, and the complaint is gone", "it is done, and the complaint is still there",
           "it is done, and the complaint came back (3 after 2 weeks, 3 after 500 km)",
           "it is done, but not tried yet", "it is not done")  # fmt: skip
SAY_RESULT = f"Write 1 to {len(RESULTS)}, or: gone, still there, came back after 2 weeks, done, not done."
NOTHING_TYPED = "Nothing was typed, so nothing was done."
SURE = "Go on with it all the same? Write y, or b to leave it."
MOST_TOLD = 4
Keep = Callable[[Case], None]


@dataclass(frozen=True, slots=True)
class StepEntry:
    """A step that was chosen, to be made and entered.

    Args:
        check: id of the check, or "" for a job; jobs: ids of the jobs that are done together.
        how: how it is done; cautions: what to mind, in full; closing: money and minutes of what must be closed first.
        against: what is known and forbids it, or "".
        recorded: whether it gives a log that the program can read.
    """

    check: str
    jobs: tuple[str, ...]
    label: str
    how: str = ""
    cautions: tuple[str, ...] = ()
    closing: tuple[float, float] = (0.0, 0.0)
    against: str = ""
    recorded: bool = False


@dataclass(frozen=True)
class Desk:
    """What is on the screen.

    Args:
        interview: what is known, and what is asked next.
        at_steps: the steps are on the screen although a question waits.
        offers: what a number names: the steps, or what words may have meant.
        entry: a step that waits for what came of it, or for a word that it may be done.
        is_over: the vehicle is cured.
    """

    interview: Interview
    at_steps: bool = False
    offers: tuple[StepEntry, ...] = ()
    entry: StepEntry | None = None
    is_over: bool = False

    @property
    def question(self) -> Question | None:
        """The question on the screen, if it is one."""
        return None if self.at_steps or self.entry else self.interview.question


@dataclass(frozen=True, slots=True)
class Turn:
    """What follows from a line: the desk, what to tell, and what to show: a screen, what words mean, an opened check."""

    desk: Desk
    says: tuple[str, ...] = ()
    shows: Command | None = None
    explain: str = ""
    opened: StepEntry | None = None


def open_desk(interview: Interview) -> Desk:
    """Begin, or go on where the last sitting ended: words not yet confirmed, a check half entered."""
    if not interview.case.unit:
        return Desk(interview)
    interview = interview.resume()
    if text := interview.unread_words:
        found, unread = read_said(interview.compiled, text)
        proposed = interview.propose(found, unread)
        return Desk(proposed if proposed.proposed else interview.back())
    return Desk(interview)


def take_in(desk: Desk, case: Case) -> Desk:
    """Give the desk with a case that was changed from outside; what was answered before is taken back from the case."""
    return replace(desk, interview=replace(desk.interview, case=case, previous=None), offers=())


def offer_steps(desk: Desk, steps: "Sequence[NextStep]") -> Desk:
    """Let the numbers on the screen name these steps."""
    return replace(desk, offers=tuple(_enter(desk.interview, step.kind, step.together) for step in steps))


def take_line(desk: Desk, line: str, keep: Keep = lambda case: None) -> Turn:
    """Make out what was typed, and give what follows; what nothing can be made of is told, and the screen stands.

    Args:
        keep: called with the case that holds the answer before anything is worked out with it. What is refused after
            all is not in the case of the desk that is given.
    """
    text = " ".join(line[:LONGEST_LINE].split())
    try:
        turn = _obey(desk, text) or _take_text(desk, text, keep)
        keep(turn.desk.interview.case)
        if turn.desk.interview.case.unit:
            turn.desk.interview.compiled.faults_now  # noqa: B018 - it must fit with the rest before anything else is asked
        return _settle(replace(turn, says=(*turn.says, *tell_clashes(desk.interview, turn.desk.interview))))
    except (UsageProblem, ImpossibleEvidence) as problem:
        return Turn(desk, (str(problem),))


def _obey(desk: Desk, text: str) -> Turn | None:
    """Follow a command; None where the line is none."""
    command, interview = read_command(text), desk.interview
    word, _, rest = text.partition(" ")
    if word.lower() == "explain" and rest:
        offer = desk.offers[int(rest) - 1] if rest.isdecimal() and 1 <= int(rest) <= len(desk.offers) else None
        return Turn(desk, explain=(offer.check or offer.jobs[0]) if offer else rest)
    if command is None:
        return None
    if command is Command.BACK:
        return _go_back(desk)
    if command in (Command.STOP, Command.HELP) or (command is Command.WHY and desk.question):
        return Turn(desk, shows=command)
    if not interview.case.unit:
        raise UsageProblem(NAME_FIRST)
    if command is Command.CHECKS:
        return Turn(replace(desk, at_steps=True, entry=None, offers=()), shows=command)
    if command is Command.MORE:
        if desk.question is not None and not interview.proposed:
            raise UsageProblem("A question is open already; here it is again.")
        more = interview.ask_more()
        if more.question is None:
            raise UsageProblem(NOTHING_LEFT)
        return Turn(replace(desk, interview=more, at_steps=False, entry=None))
    return Turn(desk, shows=command)


def _go_back(desk: Desk) -> Turn:
    """Leave a step that was opened, or take the last answer back and say which."""
    if desk.entry is not None:
        return Turn(replace(desk, entry=None, at_steps=True), (f"Left: {desk.entry.label}. Nothing was entered.",))
    if desk.at_steps and desk.interview.question is not None:
        return Turn(replace(desk, at_steps=False))
    before, after = desk.interview, desk.interview.back()
    if before.proposed and not after.proposed:
        return Turn(replace(desk, interview=after), ("Nothing of that was taken.",))
    if before.check and not after.check:
        label = before.compiled.expansion.checks[before.check].label
        return Turn(Desk(after, at_steps=True), (f"Left: {label}. It does not count as made.",))
    told = tell_changes(after, after.case, before.case)
    says = f"Taken back: {told}." if told else "There is nothing to take back." if before.case == after.case else ""
    return Turn(Desk(after), (says,) if says else ())


def _take_text(desk: Desk, text: str, keep: Keep) -> Turn:
    """Take what is no command: codes, a result, an answer, a step, or words."""
    question, interview = desk.question, desk.interview
    if not text:
        if desk.at_steps and interview.question is not None:
            return Turn(replace(desk, at_steps=False))
        raise UsageProblem(NOTHING_TYPED if question is None else str(_refuse(question)))
    codes = find_codes(text) if interview.case.unit and not (question and question.id == CODES) else {}
    if codes:
        return _heard(desk, interview.take_codes(codes))
    word, _, rest = text.partition(" ")
    if word.lower() == "say" and rest:
        return _take_words(desk, rest)
    if interview.case.unit and (match := BUDGET.fullmatch(text)):
        budget = None if match[1] else float(re.sub(r"[,.' ](?=\d{3}\b)", "", match[2]).strip(" .,"))
        return _heard(desk, interview.set_budget(budget))
    if desk.entry is not None:
        return _take_outcome(desk, desk.entry, text)
    if interview.case.unit and not (question and question.id == COMPLAINT) and _corrects(interview, text):
        return _take_words(desk, text)
    if (
        question
        and question.kind == "confirm"
        and (tied := tie_to_proposed(interview.compiled, interview.proposed, text))
    ):
        return Turn(replace(desk, interview=replace(interview, proposed=tied)))
    if question is not None and question.is_yes_no and (turn := _take_both(desk, question, text, keep)):
        return turn
    if question is None:
        return _take_at_steps(desk, text)
    number, words = find_number(text)
    if number is not None and not words and question.kind == "choice":
        following = interview.take_number(question.id, number)
        if following is not None:
            turn = _heard(desk, following)
            is_graded = question.id in following.given
            return turn if is_graded else replace(turn, says=(*turn.says, NO_LIMIT))
    try:
        return _take_reply(desk, question, parse_reply(question, text), keep)
    except UsageProblem as problem:
        if not interview.case.unit or not re.search(r"[^\W\d]{3}", text):
            raise
        try:
            return _take_spoken(desk, text)
        except UsageProblem as said:
            raise (said if str(said).startswith(KNOWN_ALREADY) else problem) from None


def _take_both(desk: Desk, question: Question, text: str, keep: Keep) -> Turn | None:
    """Take a yes or no with words behind it: "no, reverse works" answers, and its words are confirmed next.

    Words that say the answer themselves, or correct what was said before, are all that is taken. None where there are no words.
    Raises: UsageProblem: nothing can be made of the words.
    """
    match, interview = _BOTH.fullmatch(text), desk.interview
    if match is None or not interview.case.unit:
        return None
    found, unread = read_said(interview.compiled, match["words"])
    if not found:
        raise UsageProblem(f'"{match["words"]}" was not understood. {what_to_type(question)}')
    if any(one.key in question.members or _is_new_answer(interview, one) for one in found):
        return _take_words(desk, text)
    turn = _take_reply(desk, question, parse_reply(question, match["answer"]), keep)
    following = turn.desk.interview.propose(found, unread)
    return replace(turn, desk=replace(turn.desk, interview=following)) if following.proposed else turn


def _is_new_answer(interview: Interview, one: Proposal) -> bool:
    """Tell whether something else was answered before."""
    return interview.given.get(one.key, one.grade) != one.grade


def _corrects(interview: Interview, text: str) -> bool:
    """Tell whether words say only that something is sound of which something else was answered before: "no whine"."""
    nodes = interview.compiled.expansion.findings
    found, _ = read_said(interview.compiled, text)
    sound = [one for one in found if one.key in nodes and one.grade == nodes[one.key].grades[0]]
    return len(sound) == len(found) and any(_is_new_answer(interview, one) for one in sound)


def _refuse(question: Question) -> UsageProblem:
    """Give what an empty line is answered with."""
    try:
        parse_reply(question, "")
    except UsageProblem as problem:
        return problem
    raise AssertionError("an empty line answers nothing")


def _take_reply(desk: Desk, question: Question, reply: Reply, keep: Keep) -> Turn:
    """Take an answer; a complaint's words are read at once, to be confirmed next."""
    interview = desk.interview
    if question.id == CODES and not question.members and says_more_than_codes(reply.text):
        following = interview.answer(question, Reply(known=False)).propose(*read_said(interview.compiled, reply.text))
        if not following.proposed:
            raise UsageProblem(STORED_NOW)
        return Turn(replace(desk, interview=following))
    following = interview.answer(question, reply)
    if question.id == COMPLAINT and reply.known:
        keep(following.case)
        found, unread = read_said(following.compiled, reply.text)
        following = following.propose(found, unread)
        if not following.proposed:
            return Turn(replace(desk, interview=interview.keep_words(reply.text)), (NOTHING_NEW,))
    turn, asks_again = _heard(desk, following), following.question
    is_open = question.kind == "confirm" and bool(reply.keys) and asks_again is not None and asks_again.id == COMPLAINT
    return replace(turn, says=(*turn.says, NOTHING_WRONG)) if is_open else turn


def _take_words(desk: Desk, text: str) -> Turn:
    """Read findings out of words; they are confirmed next."""
    interview = desk.interview
    if not interview.case.unit:
        raise UsageProblem(NAME_FIRST)
    text = re.sub(r"^(?:no|yes|sorry)\s*[,.;:]\s*", "", text, flags=re.IGNORECASE)
    found, unread = read_said(interview.compiled, text)
    found, unread = (found, unread) if found else (read_again(interview, text), ())
    following = interview.propose(found, unread)
    if following.proposed == interview.proposed:
        known = ", ".join(interview.say(one.key, one.grade) for one in found)
        raise UsageProblem(f"{KNOWN_ALREADY}{known}." if known else NOTHING_NEW)
    return Turn(replace(desk, interview=following, at_steps=False, entry=None))


def _heard(desk: Desk, following: Interview) -> Turn:
    """Say what was taken."""
    told = tell_changes(following, desk.interview.case, following.case)
    return Turn(replace(desk, interview=following, offers=()), (f"Noted: {told}.",) if told else ())


def _take_at_steps(desk: Desk, text: str) -> Turn:
    """Take what is typed under the steps: a number, or words."""
    if text == "?" and desk.interview.question is not None:
        return Turn(replace(desk, at_steps=False, offers=()))
    if text == "?":
        raise UsageProblem("No question is open. Write h for what can be typed here.")
    if text.isdecimal():
        if not 1 <= int(text) <= len(desk.offers):
            raise UsageProblem(
                f"Write a number from 1 to {len(desk.offers)}, the name of a check or job, or h for help."
            )
        return _choose(desk, desk.offers[int(text) - 1])
    return _take_spoken(desk, text)


def _take_spoken(desk: Desk, text: str) -> Turn:
    """Take words: what came of the last job, the name of a check or job, or what was found."""
    interview, result = desk.interview, read_result(text)
    last = _last_jobs(interview)
    if last and result is not None and result.result and (desk.question is None or result.result == CAME_BACK):
        return _note(desk, last, result)
    steps, is_clear = find_steps(interview.compiled, text)
    offers = tuple(_enter(interview, kind, ids) for kind, ids in steps)
    if not is_clear:
        try:
            return _take_words(desk, text)
        except UsageProblem:
            if not offers or desk.question is not None:
                raise
    if is_clear and len(offers) == 1:
        return _choose(desk, offers[0])
    lines = (f"  {place}  {'Check' if offer.check else 'Job'}: {offer.label}" for place, offer in enumerate(offers, 1))
    return Turn(replace(desk, offers=offers, at_steps=True), ("Which one is meant?", *lines))


def _choose(desk: Desk, entry: StepEntry) -> Turn:
    """Open a step: a check is entered at once, unless what is known forbids it."""
    if entry.check and not entry.against:
        return Turn(Desk(desk.interview.start_check(entry.check)), opened=entry)
    return Turn(replace(desk, entry=entry, at_steps=True))


def _enter(interview: Interview, kind: str, ids: tuple[str, ...]) -> StepEntry:
    """Make a check or jobs ready to be opened."""
    compiled, says = interview.compiled, interview.knowledge.cautions
    if kind == "check":
        check = compiled.expansion.checks[ids[0]]
        cautions = tuple(says[caution].says for caution in check.cautions)
        against = ", ".join(
            interview.say(*pair) for key in check.cautions for pair in _forbidding(interview, says[key])
        )
        return StepEntry(
            check.id,
            (),
            check.label,
            how=check.how,
            cautions=cautions,
            closing=closing_first(compiled, check.id),
            against=against,
            recorded=check.recorded,
        )
    jobs = [compiled.expansion.jobs[job] for job in ids]
    cautions = tuple(says[caution].says for caution in dict.fromkeys(key for job in jobs for key in job.cautions))
    return StepEntry("", ids, name_jobs(compiled, ids), " ".join(job.says for job in jobs), cautions)


def _forbidding(interview: Interview, caution: "Caution") -> list[tuple[str, str]]:
    """List the answers that a caution does not go with."""
    templates = interview.compiled.expansion.of_template
    nodes = interview.compiled.expansion.findings
    names = [key for name in caution.forbidden_by for key in templates.get(name, (name,)) if key in interview.given]
    return [(key, interview.given[key]) for key in names if interview.given[key] != nodes[key].grades[0]]


def _take_outcome(desk: Desk, entry: StepEntry, text: str) -> Turn:
    """Take what came of a job, or that a check is made against what is known."""
    if entry.check:
        if text.lower() not in ("y", "yes"):
            raise UsageProblem(SURE)
        return _choose(replace(desk, entry=None), replace(entry, against=""))
    word, _, rest = text.partition(" ")
    numbered = {"1": "gone", "2": "still there", "3": "came back", "4": "done", "5": NOT_DONE}
    result = read_result(f"{numbered.get(word, word)} {rest}".strip())
    if result is None:
        raise UsageProblem(SAY_RESULT)
    if result.id == NOT_DONE:
        return _go_back(desk)
    return _note(desk, entry.jobs, result)


def _note(desk: Desk, jobs: tuple[str, ...], result: Done) -> Turn:
    """Write down what came of jobs."""
    following = desk.interview.note_jobs(tuple(replace(result, id=job) for job in jobs))
    turn = _heard(Desk(desk.interview, at_steps=True), following)
    return replace(turn, desk=replace(turn.desk, is_over=result.result == CURED))


def _last_jobs(interview: Interview) -> tuple[str, ...]:
    """Name the jobs that were done last, all that have the same result."""
    jobs = [item for item in interview.case.done if item.id not in interview.compiled.expansion.checks]
    last = [item.id for item in jobs if item.result == jobs[-1].result]
    return tuple(last)


def _settle(turn: Turn) -> Turn:
    """Finish a check of which nothing is left to ask."""
    interview = turn.desk.interview
    if not interview.check or interview.question is not None:
        return turn
    label = interview.compiled.expansion.checks[interview.check].label
    return replace(turn, desk=Desk(interview.finish_check()), says=(*turn.says, f"Entered: {label}."))


def tell_changes(interview: Interview, before: Case, after: Case) -> str:
    """Say in words what one case holds that the other does not: answers, distance, what was done."""
    told = (
        [] if after.odometer_km == before.odometer_km or after.odometer_km is None else [f"{after.odometer_km:,.0f} km"]
    )
    old, new = _answers(before), _answers(after)
    if after.budget != before.budget:
        told.append("no budget" if after.budget is None else f"budget {after.budget:,.0f}")
    told += [
        interview.say_number(name, one) for name, one in after.measured.items() if before.measured.get(name) != one
    ]
    told += [interview.say_either(group) for group in after.either if group not in before.either]
    told += _list_short(interview, {key: answer for key, answer in new.items() if old.get(key) != answer})
    told += [f"no longer: {interview.say(key, one.grade)}" for key, one in before.findings.items() if key not in new]
    held = [replace(item, found_after={}) for item in before.done]
    changed = [item for item in after.done if replace(item, found_after={}) not in held]
    return "; ".join([*told, *(tell_done(interview, item) for item in changed)])


def _list_short(interview: Interview, answers: Mapping[str, tuple[str, str]]) -> list[str]:
    """Say answers in words; of many the denied ones only by their number."""
    said = {key: interview.say(key, grade) + doubt for key, (grade, doubt) in answers.items()}
    loud = [text for key, text in said.items() if answers[key][0] != "no"]
    quiet = len(said) - len(loud)
    if len(said) <= MOST_TOLD or not quiet:
        return list(said.values())
    return [*loud, f"the other {quiet}: no" if loud else f"all {quiet}: no"]


def _answers(case: Case) -> Mapping[str, tuple[str, str]]:
    """List all answers of a case with their conditions and doubt: complaint, findings, those found after a job, background."""
    found = {key: ("yes", "") for key in case.complaint}
    for answers in (case.findings, *(item.found_after for item in case.done)):
        for key, one in answers.items():
            when = f"when {' and '.join(one.when)}" if one.when else ""
            beside = ", ".join(filter(None, (when, one.doubt))).replace("_", " ")
            found[key] = one.grade, f" ({beside})" if beside else ""
    doubts = {pair: f" ({doubt.replace('_', ' ')})" for pair, doubt in case.background_doubts.items()}
    return found | {key: (grade, doubts.get((key, grade), "")) for key, grade in case.background.items()}


def recap(interview: Interview, everything: bool = False) -> tuple[str, ...]:
    """Say in a few lines what is known of a case: complaint, answers, work done, the likeliest causes."""
    case, expansion = interview.case, interview.compiled.expansion
    complaint = "; ".join(expansion.findings[key].label for key in case.complaint if key in expansion.findings)
    rest = {key: answer for key, answer in _answers(case).items() if key not in case.complaint}
    known = [*map(interview.say_either, case.either), *(interview.say_number(*one) for one in case.measured.items())]
    known += [interview.say(key, grade) + doubt for key, (grade, doubt) in rest.items() if everything or grade != "no"]
    if not everything:
        denied = sum(grade == "no" for grade, _ in rest.values())
        more = [f"and {len(known) - MOST_TOLD} more"] if len(known) > MOST_TOLD else []
        known = [*known[:MOST_TOLD], *more, *([f"{denied} answered no"] if denied else [])]
    done = "; ".join(tell_done(interview, item) for item in case.done)
    lines = {"Complaint": complaint, "Known": "; ".join(known), "Done": done}
    return tuple(f"{head}: {text}." for head, text in lines.items() if text)
