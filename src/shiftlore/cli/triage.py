"""`shiftlore triage`: asks the questions, ranks as it goes, names the next checks; every answer is on disk at once."""

import contextlib
import os
import sys
from collections.abc import Callable, Sequence
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import click

from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.cli.common import (
    knowledge_option,
    load_trade,
    plain_option,
    read_case_file,
    strong_mark,
    terminal_width,
    write_out,
)
from shiftlore.reports.wording import wrap_lines

if TYPE_CHECKING:
    from shiftlore.advising import NextStep
    from shiftlore.cases import Case
    from shiftlore.compiling import CompiledUnit
    from shiftlore.knowledge import Knowledge
    from shiftlore.sessions import Command, Interview, Question, Reply
    from shiftlore.words import SaidAnswer, SearchIndex

DEFAULT_CASE = "case.yaml"
SHOWN_CAUSES, SHOWN_STEPS = 3, 3
STOPPED_BY_KEY = 130
CLEARLY_SAID, PERHAPS_SAID = 0.6, 0.4
"""Scores from which a reading of free text is proposed; the lower one where nothing is clear (judgement)."""
MOST_PERHAPS = 3
HINTS = {"which": "numbers that hold (such as 1 3), 0 none, ? not known",
         "confirm": "y all of it, n none of it, or the numbers that are wrong"}


@click.command("triage", short_help="Ask about one vehicle, rank the causes, name the next check.")
@click.argument("case_path", metavar="[CASE]", default=DEFAULT_CASE, type=click.Path(path_type=Path))
@plain_option
@knowledge_option
@click.option("--unit", "unit_id", default=None, metavar="UNIT",
              help="Id of the unit sheet, or a kind: step, step-rwd, step-fwd, cvt, dct.")
def command(case_path: Path, plain: bool, knowledge_path: Path | None, unit_id: str | None) -> None:
    """Ask about one vehicle, rank the causes, name the next checks with their cost.

    Every answer is written to CASE (case.yaml by default) before the next question. Stop whenever you like: the same
    command goes on where you were. Type h at any question for what can be answered.
    """
    from shiftlore.cases import Case
    from shiftlore.sessions import Interview

    _refuse_unwritable(case_path)
    knowledge = load_trade(knowledge_path)
    units: dict[str, CompiledUnit] = {}
    if case_path.exists():
        case, units[case.unit] = read_case_file(str(case_path), knowledge)
        if unit_id and _known_unit(knowledge, unit_id) != case.unit:
            raise UsageProblem(f"{case_path} is about {case.unit}. Leave --unit out, or give another case file.")
        count = len(case.findings) + len(case.complaint)
        click.echo(f"Going on with {case_path} ({case.unit}): {count} answers so far.")
    else:
        case = Case(_known_unit(knowledge, unit_id) if unit_id else "")
        click.echo(f"A new case; answers go to {case_path}. Type h for help.")
    click.echo("The maker's procedure and the local rules come first.")
    interview = Interview(knowledge, _unit_compiler(knowledge, units), case)
    _Desk(case_path, plain).run(interview)


def _refuse_unwritable(path: Path) -> None:
    """Refuse a place where no answer could be kept, before anything is asked."""
    folder = path.parent
    if not folder.is_dir():
        raise UsageProblem(f"There is no folder {folder}. Make it first, or give another case file.")
    if not os.access(path if path.exists() else folder, os.W_OK):
        raise UsageProblem(f"{path} cannot be written. Give a case file in a folder of your own.")


def _known_unit(knowledge: "Knowledge", unit_id: str) -> str:
    from shiftlore.compiling import compile_unit

    return compile_unit(knowledge, unit_id).expansion.unit


def _unit_compiler(knowledge: "Knowledge", units: "dict[str, CompiledUnit]") -> "Callable[[str], CompiledUnit]":
    """Give what compiles a unit once and remembers it."""
    from shiftlore.compiling import compile_unit

    def compiled(unit_id: str) -> "CompiledUnit":
        if unit_id not in units:
            units[unit_id] = compile_unit(knowledge, unit_id)
        return units[unit_id]

    return compiled


class _Desk:
    """Prints questions, reads answers, saves after each."""

    def __init__(self, path: Path, plain: bool):
        self.path = path
        self.width = terminal_width()
        self.strong = strong_mark(plain)
        self.knowledge: Knowledge | None = None

    def run(self, interview: "Interview") -> None:
        """Ask until the cheap questions are done, then rank, name checks and take their results."""
        self.knowledge = interview.knowledge
        _prepare_line_editing()
        following: Interview | None = interview
        try:
            following = self._ask_all(self._read_again(interview))
            while following is not None:
                following = self._offer_steps(following)
        except EOFError:
            click.echo()
            self._say_stopped()
        except (click.Abort, KeyboardInterrupt):
            click.echo()
            self._say_stopped()
            raise click.exceptions.Exit(STOPPED_BY_KEY) from None

    def _read_again(self, interview: "Interview") -> "Interview":
        """Take up the owner's words again where the last sitting ended before they were confirmed."""
        if not interview.case.unit or not interview.unread_words:
            return interview
        with contextlib.suppress(UsageProblem):
            return self._take_words(interview, interview.unread_words)
        return interview.back()

    @cached_property
    def index(self) -> "SearchIndex":
        """The search index of what can be said about a vehicle, built once."""
        from shiftlore.words import build_index

        assert self.knowledge is not None, "set before anything is asked"
        return build_index(self.knowledge, ("finding", "background"))

    def _ask_all(self, interview: "Interview") -> "Interview | None":
        """Ask until there is no question left; None when the user stops."""
        while (question := interview.question) is not None:
            following = self._ask(interview, question)
            if following is None:
                self._say_stopped()
                return None
            interview = following
        return interview

    def _ask(self, interview: "Interview", question: "Question") -> "Interview | None":
        """Ask one question until something can be made of the reply."""
        from shiftlore.sessions import Command, parse_reply

        self._show(question)
        while True:
            line = self._read("> ")
            try:
                reply = parse_reply(question, line)
                if reply is Command.STOP:
                    return None
                if isinstance(reply, Command):
                    following = self._obey(interview, question, reply)
                    if following is not None:
                        return following
                    continue
                if isinstance(reply, str):
                    return self._take_words(interview, reply)
                return self._take(interview, question, reply)
            except (UsageProblem, ImpossibleEvidence) as problem:
                self._say(str(problem))

    def _take(self, interview: "Interview", question: "Question", reply: "Reply") -> "Interview":
        """Take an answer: it must fit with the others, and be on disk, before anything else is asked."""
        following = interview.answer(question, reply)
        if question.id == "complaint" and reply.known:
            following = self._take_words(following, reply.text)
        if following.case.unit:
            following.compiled.engine.weigh(following.compiled.evidence)
            self._save(following.case)
        return following

    def _take_words(self, interview: "Interview", text: str) -> "Interview":
        """Read findings out of free text; they are confirmed next.

        Raises: UsageProblem: nothing new is in it.
        """
        if not interview.case.unit:
            raise UsageProblem("Name the transmission first.")
        found = []
        for one in self._read_words(interview, text) if any(sign.isalpha() for sign in text) else ():
            key = interview.compiled.unit.aliases.get(one.code or "", one.expanded_id)
            if one.answer is not None and one.answer in interview.answers_to(key):
                found.append((key, one.answer))
        following = interview.propose(tuple(found))
        if not following.proposed:
            raise UsageProblem(
                "Nothing new was found in that. Say it in other words, such as: slips in second when hot; bangs into "
                "Reverse; does not shift up. Or answer ? to go on."
            )
        return following

    def _read_words(self, interview: "Interview", text: str) -> "list[SaidAnswer]":
        """Keep what was clearly said: good readings, and of those that rest on the same words the best."""
        from shiftlore.words import read_free_text

        among = {record.id for record in interview.compiled.expansion.finding_records.values()}
        read = read_free_text(interview.knowledge, text, self.index, among=among | set(interview.knowledge.backgrounds))
        kept: list[SaidAnswer] = []
        for one in read:
            if not any(set(one.matched) <= set(better.matched) for better in kept):
                kept.append(one)
        clear = [one for one in kept if one.score >= CLEARLY_SAID]
        return clear or [one for one in kept if one.score >= PERHAPS_SAID][:MOST_PERHAPS]

    def _obey(self, interview: "Interview", question: "Question", command: "Command") -> "Interview | None":
        """Carry out a command; None asks the same question again."""
        from shiftlore.sessions import HELP_LINES, Command

        if command is Command.BACK:
            following = interview.back()
            if following.case.unit:
                self._save(following.case)
            return following
        if command is Command.WHY:
            self._say(question.why or "It helps to tell the causes apart.")
        elif command is Command.HELP:
            for help_line in HELP_LINES:
                click.echo("\n".join(wrap_lines(help_line, "    ", "  - ", self.width)))
        elif not interview.case.unit:
            self._say("Name the transmission first.")
        elif command is Command.RANKING:
            self._show_ranking(interview)
        elif command is Command.CHECKS:
            self._show_steps(interview)
        return None

    def _show(self, question: "Question") -> None:
        click.echo()
        for line in wrap_lines(question.text, width=self.width):
            click.echo(self.strong(line))
        costs = f" Costs {question.cost}." if question.cost not in ("", "nothing") else ""
        if question.why:
            self._say(f"Why: {question.why}{costs}", indent="  ")
        keys = [choice.key for choice in question.choices]
        if keys == ["yes", "no"]:
            click.echo("  y / n / y? / n? / ? not known")
            return
        for number, choice in enumerate(question.choices, 1):
            click.echo("\n".join(wrap_lines(choice.label, "      ", f"  {number:>2}. ", self.width)))
        hint = HINTS.get(question.kind, "? not known" if question.optional else "")
        if hint:
            click.echo(f"  {hint}")

    def _read(self, prompt: str) -> str:
        """Read one line; the end of a pipe is a stop."""
        if sys.stdin.isatty():
            return input(prompt)
        click.echo(prompt, nl=False)
        line = sys.stdin.readline()
        if not line:
            raise EOFError
        click.echo(line.rstrip("\n"))
        return line

    def _save(self, case: "Case") -> None:
        from shiftlore.cases import save_case

        save_case(self.path, case)

    def _say(self, text: str, indent: str = "") -> None:
        for line in wrap_lines(text, indent, width=self.width):
            click.echo(line)

    def _say_stopped(self) -> None:
        if self.path.exists():
            self._say(f"Stopped. Everything answered is in {self.path}; the same command goes on from here.")
        else:
            self._say("Stopped before anything was answered.")

    def _show_ranking(self, interview: "Interview", count: int | None = None) -> None:
        from shiftlore.ranking import rank_causes
        from shiftlore.reports.rank_text import SHOWN_CAUSES as ALL_SHOWN
        from shiftlore.reports.rank_text import render_ranking

        ranking = rank_causes(interview.compiled)
        text = render_ranking(ranking, interview.case.odometer_km, self.width, self.strong, count or ALL_SHOWN)
        write_out("\n" + text)

    def _show_steps(self, interview: "Interview") -> "Sequence[NextStep]":
        """Print the next steps and give those that were printed."""
        from shiftlore.advising import next_steps
        from shiftlore.reports.next_text import render_next

        plan = next_steps(interview.compiled)
        write_out("\n" + render_next(plan, interview.compiled, self.width, self.strong, SHOWN_STEPS, full=False))
        return plan.steps[:SHOWN_STEPS]

    def _offer_steps(self, interview: "Interview") -> "Interview | None":
        """Show ranking and next steps, and take what came of one of them; None when done."""
        self._show_ranking(interview, SHOWN_CAUSES)
        steps = self._show_steps(interview)
        while True:
            click.echo()
            self._say("Write the number of a step to read how it is done and to enter what came of it; c these steps "
                      "again; r all causes; m more questions; say ... in your own words; b back; q stop.")
            line = self._read("> ").strip()
            try:
                following = self._follow(interview, steps, line)
            except (UsageProblem, ImpossibleEvidence) as problem:
                self._say(str(problem))
                continue
            if following is None:
                self._say_stopped()
                return None
            if following is not interview:
                return self._ask_all(following)

    def _follow(self, interview: "Interview", steps: "Sequence[NextStep]", line: str) -> "Interview | None":
        """Do what was typed under the steps; the same interview means that nothing was changed.

        Raises: UsageProblem: nothing can be made of it.
        """
        word = line.lower()
        if word in ("q", "stop", "quit"):
            return None
        if word in ("r", "ranking"):
            self._show_ranking(interview)
            return interview
        if word in ("c", "checks"):
            self._show_steps(interview)
            return interview
        if word in ("m", "more"):
            more = interview.ask_more()
            if more.question is None:
                raise UsageProblem("No cheap question is left that would tell anything. The checks above would.")
            return more
        if word in ("b", "back"):
            following = interview.back()
            if following.case.unit:
                self._save(following.case)
            return following
        if word.startswith("say "):
            return self._take_words(interview, line[len("say "):])
        chosen = {str(place): step for place, step in enumerate(steps, 1)} | {step.id: step for step in steps}
        if word in chosen and chosen[word].kind == "job":
            return self._enter_job(interview, chosen[word])
        check = chosen[word].id if word in chosen else word
        if check not in interview.compiled.expansion.checks:
            raise UsageProblem(f"Write a number from 1 to {len(steps)}, the id of a check, or c, r, m, b or q.")
        return self._enter_check(interview, check)

    def _enter_check(self, interview: "Interview", check: str) -> "Interview | None":
        """Say how a check is made and what to mind, then ask what it showed."""
        record = interview.compiled.expansion.checks[check]
        self._show_how(interview, record.label, record.how, record.cautions)
        following = self._ask_all(interview.start_check(check))
        if following is None or not following.check:
            return following
        following = following.finish_check()
        self._save(following.case)
        return following

    def _enter_job(self, interview: "Interview", step: "NextStep") -> "Interview | None":
        """Say what a job asks for, and take whether it cured the vehicle."""
        records = [interview.compiled.expansion.jobs[job] for job in step.together]
        self._show_how(interview, step.label, " ".join(record.says for record in records), step.cautions)
        self._say("Was it done? y: done, and the complaint is gone; n: done, and it is still there; b: not done.")
        word = self._read("> ").strip().lower()
        if word in ("y", "yes"):
            self._save(interview.note_jobs(step.together).case)
            self._say("Good. Do not forget what must follow the job: level, adaptation, a last look for codes.")
            return None
        if word in ("n", "no"):
            following = interview.note_jobs(step.together)
            self._save(following.case)
            return following
        return interview

    def _show_how(self, interview: "Interview", label: str, how: str, cautions: "Sequence[str]") -> None:
        """Print how a step is done, with its cautions in full."""
        click.echo()
        for line in wrap_lines(label, width=self.width):
            click.echo(self.strong(line))
        self._say(how, indent="  ")
        for caution in cautions:
            self._say(f"Mind: {interview.knowledge.cautions[caution].says}", indent="  ")
        self._say("The maker's procedure and the local rules come first.", indent="  ")


def _prepare_line_editing() -> None:
    """Let arrow keys edit the line where the system can."""
    with contextlib.suppress(ImportError):
        import readline  # noqa: F401
