"""`shiftlore triage`: asks the questions, ranks as it goes, names the next checks; every answer is on disk at once."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.cli.common import (
    knowledge_option,
    plain_option,
    prepare_line_editing,
    read_case_file,
    read_line,
    strong_mark,
    terminal_width,
    write_out,
)
from shiftlore.reports.wording import PROCEDURE_FIRST, wrap_lines

if TYPE_CHECKING:
    from shiftlore.advising import NextStep
    from shiftlore.cases import Case
    from shiftlore.knowledge import Knowledge
    from shiftlore.sessions import Command, Entry, Interview, Question

DEFAULT_CASE = "case.yaml"
SHOWN_CAUSES, SHOWN_STEPS = 3, 3
STOPPED_BY_KEY = 130
WHAT_NEXT = (
    "Write the number of a step to read how it is done and to enter what came of it; c these steps again; r all "
    "causes; m more questions; say ... in your own words; b back; q stop."
)


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
    _refuse_unwritable(case_path)
    knowledge = shiftlore.load(knowledge_path)
    _Desk(case_path, plain).run(shiftlore.interview(knowledge, _begin(case_path, knowledge, unit_id)))


def _refuse_unwritable(path: Path) -> None:
    """Refuse a place where no answer could be kept, before anything is asked."""
    folder = path.parent
    if not folder.is_dir():
        raise UsageProblem(f"There is no folder {folder}. Make it first, or give another case file.")
    if not os.access(path if path.exists() else folder, os.W_OK):
        raise UsageProblem(f"{path} cannot be written. Give a case file in a folder of your own.")


def _begin(path: Path, knowledge: "Knowledge", unit_id: str | None) -> "Case":
    """Read the case that is there, or begin a new one."""
    from shiftlore.cases import Case

    unit_id = knowledge.sheet_of(unit_id).id if unit_id else ""
    if path.exists():
        case = read_case_file(str(path), knowledge)
        if unit_id not in ("", case.unit):
            raise UsageProblem(f"{path} is about {case.unit}. Leave --unit out, or give another case file.")
        count = len(case.findings) + len(case.complaint)
        click.echo(f"Going on with {path} ({case.unit}): {count} answers so far.")
    else:
        case = Case(unit_id)
        click.echo(f"A new case; answers go to {path}. Type h for help.")
    click.echo(PROCEDURE_FIRST)
    return case


class _Desk:
    """Prints questions, reads answers, saves after each."""

    def __init__(self, path: Path, plain: bool):
        self.path = path
        self.width = terminal_width()
        self.strong = strong_mark(plain)

    def run(self, interview: "Interview") -> None:
        """Ask until the cheap questions are done, then rank, name checks and take their results."""
        from shiftlore.sessions import resume

        prepare_line_editing()
        try:
            following = self._ask_all(resume(interview))
            while following is not None:
                following = self._offer_steps(following)
        except EOFError:
            click.echo()
        except (click.Abort, KeyboardInterrupt):
            click.echo()
            self._say_stopped()
            raise click.exceptions.Exit(STOPPED_BY_KEY) from None
        else:
            return
        self._say_stopped()

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
        from shiftlore.reports.triage_text import render_question
        from shiftlore.sessions import Command, parse_reply, take_reply, take_words

        write_out(render_question(question, self.width, self.strong))
        while True:
            line = read_line()
            try:
                reply = parse_reply(question, line)
                if reply is Command.STOP:
                    return None
                if reply is Command.BACK:
                    return self._saved(interview.back())
                if isinstance(reply, str):
                    return take_words(interview, reply)
                if not isinstance(reply, Command):
                    return self._saved(take_reply(interview, question, reply))
                self._obey(interview, question, reply)
            except (UsageProblem, ImpossibleEvidence) as problem:
                self._say(str(problem))

    def _obey(self, interview: "Interview", question: "Question", command: "Command") -> None:
        """Show what was asked for; the same question stands after it."""
        from shiftlore.reports.triage_text import render_help
        from shiftlore.sessions import NAME_FIRST, Command

        if command is Command.WHY:
            self._say(question.why or "It helps to tell the causes apart.")
        elif command is Command.HELP:
            write_out(render_help(self.width))
        elif not interview.case.unit:
            self._say(NAME_FIRST)
        elif command is Command.RANKING:
            self._show_ranking(interview)
        else:
            self._show_steps(interview)

    def _offer_steps(self, interview: "Interview") -> "Interview | None":
        """Show ranking and next steps, and take what came of one of them; None when done."""
        from shiftlore.sessions import Command, Entry, follow_line

        self._show_ranking(interview, SHOWN_CAUSES)
        steps = self._show_steps(interview)
        while True:
            click.echo()
            self._say(WHAT_NEXT)
            try:
                following = follow_line(interview, steps, read_line())
                if isinstance(following, Entry):
                    return self._enter(interview, following)
            except (UsageProblem, ImpossibleEvidence) as problem:
                self._say(str(problem))
                continue
            if following is Command.STOP:
                self._say_stopped()
                return None
            if following is Command.RANKING:
                self._show_ranking(interview)
            elif following is Command.CHECKS:
                self._show_steps(interview)
            elif not isinstance(following, Command):
                return self._ask_all(self._saved(following))

    def _enter(self, interview: "Interview", entry: "Entry") -> "Interview | None":
        """Say how a step is done and what to mind, then take what came of it."""
        from shiftlore.reports.triage_text import render_entry
        from shiftlore.sessions import take_outcome

        write_out(render_entry(entry, self.width, self.strong))
        if entry.check:
            shown = self._ask_all(interview.start_check(entry.check))
            return shown if shown is None or not shown.check else self._saved(shown.finish_check())
        self._say("Was it done? y: done, and the complaint is gone; n: done, and it is still there; b: not done.")
        following, is_cured = take_outcome(interview, entry, read_line())
        if following is not interview:
            self._saved(following)
        if is_cured:
            self._say("Good. Do not forget what must follow the job: level, adaptation, a last look for codes.")
            return None
        return following

    def _show_ranking(self, interview: "Interview", count: int | None = None) -> None:
        from shiftlore.reports.rank_text import SHOWN_CAUSES as ALL_SHOWN
        from shiftlore.reports.rank_text import render_ranking

        ranking = shiftlore.rank(interview.knowledge, interview.case)
        text = render_ranking(ranking, interview.case.odometer_km, self.width, self.strong, count or ALL_SHOWN)
        write_out("\n" + text)

    def _show_steps(self, interview: "Interview") -> "tuple[NextStep, ...]":
        """Print the next steps and give those that were printed."""
        from shiftlore.reports.next_text import render_next

        plan = shiftlore.next_steps(interview.knowledge, interview.case)
        write_out("\n" + render_next(plan, interview.compiled, self.width, self.strong, SHOWN_STEPS, full=False))
        return tuple(plan.steps[:SHOWN_STEPS])

    def _saved(self, interview: "Interview") -> "Interview":
        """Write the case to disk, once its unit is known, before anything else is asked."""
        from shiftlore.cases import save_case

        if interview.case.unit:
            save_case(self.path, interview.case)
        return interview

    def _say(self, text: str) -> None:
        for line in wrap_lines(text, width=self.width):
            click.echo(line)

    def _say_stopped(self) -> None:
        if self.path.exists():
            self._say(f"Stopped. Everything answered is in {self.path}; the same command goes on from here.")
        else:
            self._say("Stopped before anything was answered.")
