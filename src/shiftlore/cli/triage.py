"""`shiftlore triage`: asks the questions, ranks as it goes, names the next checks; every answer is on disk at once."""

import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import ImpossibleEvidence, UsageProblem
from shiftlore.reports.wording import PROCEDURE_FIRST, wrap_lines

if TYPE_CHECKING:
    from shiftlore.advising import NextStep
    from shiftlore.cases import Case
    from shiftlore.knowledge import Knowledge
    from shiftlore.sessions import Command, Entry, Interview, Question

SHOWN_CAUSES, SHOWN_STEPS = 3, 3
STOPPED_BY_KEY = 130
UNIT_HELP = "Id of the unit sheet, or a kind: step, step-rwd, step-fwd, cvt, dct."
WHAT_NEXT = (
    "Write the number of a step to read how it is done and to enter what came of it; c these steps again; r all "
    "causes; m more questions; say ... in your own words; b back; q stop."
)


@click.command("triage", short_help="Ask about one vehicle, rank the causes, name the next check.")
@click.argument("case_path", metavar="[CASE]", default="case.yaml", type=common.A_PATH)
@common.plain_option
@common.knowledge_option
@click.option("--unit", "unit_id", metavar="UNIT", help=UNIT_HELP)
def triage_command(case_path: Path, plain: bool, folder: Path | None, unit_id: str | None) -> None:
    """Ask about one vehicle, rank the causes, name the next checks with their cost.

    Every answer is written to CASE (case.yaml by default) before the next question. Stop whenever you like: the same
    command goes on where you were. Type h at any question for what can be answered.
    """
    _refuse_unwritable(case_path)
    knowledge = common.load_trade(folder)
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

    if unit_id:
        knowledge.sheet_of(unit_id)
    if path.exists():
        case = common.read_case_file(str(path), knowledge)
        if unit_id not in (None, case.unit):
            raise UsageProblem(f"{path} is about {case.unit}. Leave --unit out, or give another case file.")
        count = len(case.findings) + len(case.complaint)
        click.echo(f"Going on with {path} ({case.unit}): {count} answers so far.")
    else:
        case = Case(unit_id or "")
        click.echo(f"A new case; answers go to {path}. Type h for help.")
    click.echo(PROCEDURE_FIRST)
    return case


class _StopError(Exception):
    """The user has had enough."""


class _Desk:
    """Prints questions, reads answers, saves after each."""

    def __init__(self, path: Path, plain: bool):
        self.path, self.width, self.strong = path, common.terminal_width(), common.strong_mark(plain)

    def run(self, interview: "Interview") -> None:
        """Ask until the cheap questions are done, then rank, name checks and take their results."""
        from shiftlore.sessions import resume

        following: Interview | None
        try:
            following = self._ask_all(resume(interview))
            while following is not None:
                following = self._offer_steps(following)
        except _StopError:
            self._say_stopped()
        except EOFError:
            click.echo()
            self._say_stopped()
        except (click.Abort, KeyboardInterrupt):
            click.echo()
            self._say_stopped()
            raise click.exceptions.Exit(STOPPED_BY_KEY) from None

    def _ask_all(self, interview: "Interview") -> "Interview":
        """Ask until there is no question left."""
        while (question := interview.question) is not None:
            interview = self._ask(interview, question)
        return interview

    def _ask(self, interview: "Interview", question: "Question") -> "Interview":
        """Ask one question until something can be made of the reply."""
        from shiftlore.reports.triage_text import render_question
        from shiftlore.sessions import Command, parse_reply, take_reply, take_words

        click.echo(render_question(question, self.width, self.strong))
        while True:
            line = common.read_line()
            try:
                reply = parse_reply(question, line)
                if reply is Command.BACK:
                    return self._save(interview.back())
                if isinstance(reply, str):
                    return take_words(interview, reply)
                if not isinstance(reply, Command):
                    return self._save(take_reply(interview, question, reply))
                self._obey(interview, reply, question)
            except (UsageProblem, ImpossibleEvidence) as problem:
                self._say(str(problem))

    def _obey(self, interview: "Interview", command: "Command", question: "Question | None" = None) -> None:
        """Stop, or show what was asked for; the same question stands after it."""
        from shiftlore.reports.triage_text import render_help
        from shiftlore.sessions import NAME_FIRST, Command

        if command is Command.STOP:
            raise _StopError
        if command is Command.WHY and question is not None:
            self._say(question.why or "It helps to tell the causes apart.")
        elif command is Command.HELP:
            click.echo(render_help(self.width))
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
                following = follow_line(interview, steps, common.read_line())
                if isinstance(following, Entry):
                    return self._enter(interview, following)
            except (UsageProblem, ImpossibleEvidence) as problem:
                self._say(str(problem))
                continue
            if not isinstance(following, Command):
                return self._ask_all(self._save(following))
            self._obey(interview, following)

    def _enter(self, interview: "Interview", entry: "Entry") -> "Interview | None":
        """Say how a step is done and what to mind, then take what came of it."""
        from shiftlore.reports.triage_text import render_entry
        from shiftlore.sessions import take_outcome

        click.echo(render_entry(entry, self.width, self.strong))
        if entry.check:
            shown = self._ask_all(interview.start_check(entry.check))
            return self._save(shown.finish_check()) if shown.check else shown
        self._say("Was it done? y: done, and the complaint is gone; n: done, and it is still there; b: not done.")
        following, is_cured = take_outcome(interview, entry, common.read_line())
        if following is not interview:
            self._save(following)
        if is_cured:
            self._say("Good. Do not forget what must follow the job: level, adaptation, a last look for codes.")
        return None if is_cured else following

    def _show_ranking(self, interview: "Interview", count: int | None = None) -> None:
        from shiftlore.reports.rank_text import SHOWN_CAUSES as ALL_SHOWN
        from shiftlore.reports.rank_text import render_ranking

        ranking = shiftlore.rank(interview.knowledge, interview.case)
        text = render_ranking(ranking, interview.case.odometer_km, self.width, self.strong, count or ALL_SHOWN)
        click.echo("\n" + text)

    def _show_steps(self, interview: "Interview") -> "tuple[NextStep, ...]":
        """Print the next steps and give those that were printed."""
        from shiftlore.reports.next_text import render_next

        plan = shiftlore.next_steps(interview.knowledge, interview.case)
        click.echo("\n" + render_next(plan, interview.compiled, self.width, self.strong, SHOWN_STEPS, full=False))
        return tuple(plan.steps[:SHOWN_STEPS])

    def _save(self, interview: "Interview") -> "Interview":
        """Write the case to disk, once its unit is known, before anything else is asked."""
        from shiftlore.cases import save_case

        if interview.case.unit:
            save_case(self.path, interview.case)
        return interview

    def _say(self, text: str) -> None:
        for line in wrap_lines(text, width=self.width):
            click.echo(line)

    def _say_stopped(self) -> None:
        kept = f"Stopped. Everything answered is in {self.path}; the same command goes on from here."
        self._say(kept if self.path.exists() else "Stopped before anything was answered.")
