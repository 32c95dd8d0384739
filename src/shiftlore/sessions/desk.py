"""What the desk makes of a line that was typed: words become findings to confirm, a step is entered or done.

Nothing is read or printed here: every function takes an interview and gives the one that follows.
"""

import contextlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shiftlore.basics import UsageProblem
from shiftlore.sessions.interview import Interview
from shiftlore.sessions.opening import COMPLAINT
from shiftlore.sessions.questions import Command, Question, Reply, read_command
from shiftlore.words import SaidAnswer, build_index, read_free_text

if TYPE_CHECKING:
    from shiftlore.advising import NextStep

CLEARLY_SAID, PERHAPS_SAID = 0.6, 0.4
"""Scores from which a reading of free text is proposed; the lower one where nothing is clear (judgement)."""
MOST_PERHAPS = 3
SAID_OF_VEHICLES = ("finding", "background")
NAME_FIRST = "Name the transmission first."
NOTHING_NEW = (
    "Nothing new was found in that. Say it in other words, such as: slips in second when hot; bangs into "
    "Reverse; does not shift up. Or answer ? to go on."
)
NOTHING_LEFT = "No cheap question is left that would tell anything. The checks above would."


@dataclass(frozen=True, slots=True)
class Entry:
    """A step that was chosen, to be made and entered.

    Args:
        check: id of the check, or "" for a job; jobs: ids of the jobs that are done together.
        how: how it is done; cautions: what to mind, in full.
    """

    check: str
    jobs: tuple[str, ...]
    label: str
    how: str
    cautions: tuple[str, ...]


def take_reply(interview: Interview, question: Question, reply: Reply) -> Interview:
    """Take an answer; a complaint's words are read at once, to be confirmed next.

    Raises: UsageProblem: nothing can be made of it. ImpossibleEvidence: it cannot be true with the others.
    """
    following = interview.answer(question, reply)
    if question.id == COMPLAINT and reply.known:
        following = take_words(following, reply.text)
    if following.case.unit:
        following.compiled.p_faults  # noqa: B018 - it must fit with the others before anything else is asked
    return following


def take_words(interview: Interview, text: str) -> Interview:
    """Read findings out of free text; they are confirmed next.

    Raises: UsageProblem: nothing new is in it.
    """
    if not interview.case.unit:
        raise UsageProblem(NAME_FIRST)
    found = []
    for one in read_said(interview, text) if any(sign.isalpha() for sign in text) else ():
        key = interview.compiled.unit.aliases.get(one.code or "", one.expanded_id)
        if one.answer is not None and one.answer in interview.answers_to(key):
            found.append((key, one.answer))
    following = interview.propose(tuple(found))
    if not following.proposed:
        raise UsageProblem(NOTHING_NEW)
    return following


def read_said(interview: Interview, text: str) -> list[SaidAnswer]:
    """Keep what was clearly said: good readings, and of those that rest on the same words the best."""
    knowledge = interview.knowledge
    if SAID_OF_VEHICLES not in knowledge.worked_out:
        knowledge.worked_out[SAID_OF_VEHICLES] = build_index(knowledge, SAID_OF_VEHICLES)
    index = knowledge.worked_out[SAID_OF_VEHICLES]
    among = {record.id for record in interview.compiled.expansion.finding_records.values()} | set(knowledge.backgrounds)
    kept: list[SaidAnswer] = []
    for one in read_free_text(knowledge, text, index, among=among):
        if not any(set(one.matched) <= set(better.matched) for better in kept):
            kept.append(one)
    clear = [one for one in kept if one.score >= CLEARLY_SAID]
    return clear or [one for one in kept if one.score >= PERHAPS_SAID][:MOST_PERHAPS]


def resume(interview: Interview) -> Interview:
    """Take up the owner's words again where the last sitting ended before they were confirmed."""
    if not interview.case.unit or not interview.unread_words:
        return interview
    with contextlib.suppress(UsageProblem):
        return take_words(interview, interview.unread_words)
    return interview.back()


def follow_line(interview: Interview, steps: "Sequence[NextStep]", line: str) -> Interview | Command | Entry:
    """Make out what was typed under the next steps.

    Args:
        steps: the steps that were shown, in their order.
    Returns: the interview that follows; a command to show something or to stop; or the step that was chosen.
    Raises: UsageProblem: nothing can be made of it; says what can be typed.
    """
    word = line.strip().lower()
    command = read_command(word)
    if command in (Command.STOP, Command.RANKING, Command.CHECKS):
        return command
    if command is Command.BACK:
        return interview.back()
    if word in ("m", "more"):
        more = interview.ask_more()
        if more.question is None:
            raise UsageProblem(NOTHING_LEFT)
        return more
    if word.startswith("say "):
        return take_words(interview, line.strip()[len("say ") :])
    return _enter(interview, steps, word)


def _enter(interview: Interview, steps: "Sequence[NextStep]", word: str) -> Entry:
    """Find the step that was named by its number or id, or any check by its id."""
    expansion = interview.compiled.expansion
    chosen = {str(place): step for place, step in enumerate(steps, 1)} | {step.id: step for step in steps}
    step, cautions = chosen.get(word), interview.knowledge.cautions
    if step is not None and step.kind == "job":
        how = " ".join(expansion.jobs[job].says for job in step.together)
        return Entry("", step.together, step.label, how, tuple(cautions[caution].says for caution in step.cautions))
    check = word if step is None else step.id
    if check not in expansion.checks:
        raise UsageProblem(f"Write a number from 1 to {len(steps)}, the id of a check, or c, r, m, b or q.")
    record = expansion.checks[check]
    return Entry(check, (), record.label, record.how, tuple(cautions[caution].says for caution in record.cautions))


def take_outcome(interview: Interview, entry: Entry, line: str) -> tuple[Interview, bool]:
    """Take whether a job was done and what came of it.

    Args:
        line: y: done, the complaint is gone; n: done, it is still there; anything else: not done.
    Returns: the interview that follows (the same one if nothing was done), and whether the vehicle is cured.
    """
    word = line.strip().lower()
    if word not in ("y", "yes", "n", "no"):
        return interview, False
    return interview.note_jobs(entry.jobs), word in ("y", "yes")
