"""`shiftlore triage`: asks the questions, ranks as it goes, names the next checks; every answer is on disk at once."""

import os
from collections.abc import Mapping
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.reports.wording import PROCEDURE_FIRST, wrap_lines

if TYPE_CHECKING:
    from shiftlore.cases import Case
    from shiftlore.knowledge import Knowledge
    from shiftlore.sessions import Command, Desk, Interview, Turn

FIRST_CASE = Path("case.yaml")
STOPPED_BY_KEY = 130
UNIT_HELP = "Id of the unit sheet, or a kind: step, step-rwd, step-fwd, cvt, dct."
CURED = "Good. Do not forget what must follow the job: level, adaptation, a last look for codes."


@click.command("triage", short_help="Ask about one vehicle, rank the causes, name the next check.")
@click.argument("case_path", metavar="[CASE]", required=False, type=common.A_PATH)
@common.plain_option
@common.knowledge_option
@common.unit_option("unit_id", UNIT_HELP)
def triage_command(case_path: Path | None, plain: bool, folder: Path | None, unit_id: str | None) -> None:
    """Ask about one vehicle, rank the causes, name the next checks with their cost.

    Every answer is written to CASE (case.yaml by default) before the next question. Stop whenever you like: the same
    command goes on where you were. Type h at any question for what can be answered.
    """
    knowledge = common.load_trade(folder)
    path = case_path or FIRST_CASE
    _refuse_unwritable(path)
    try:
        if case_path is None and path.exists():
            path = _choose_case(path, knowledge)
        case = _begin(path, knowledge, unit_id)
        _Screen(path, plain).run(shiftlore.interview(knowledge, case))
    except EOFError:
        pass
    except (click.Abort, KeyboardInterrupt):
        raise click.exceptions.Exit(STOPPED_BY_KEY) from None


def _refuse_unwritable(path: Path) -> None:
    """Refuse a place where no answer could be kept, before anything is asked."""
    folder = path.parent
    if not folder.is_dir():
        raise UsageProblem(f"There is no folder {folder}. Make it first, or give another case file.")
    if not os.access(path if path.exists() else folder, os.W_OK):
        raise UsageProblem(f"{path} cannot be written. Give a case file in a folder of your own.")


def _choose_case(path: Path, knowledge: "Knowledge") -> Path:
    """Ask whether the case that lies here is meant, and give the file to work on; a new case takes the next free name."""
    case = common.read_case_file(str(path), knowledge)
    complaint = ", ".join(key.replace("_", " ") for key in case.complaint) or "no complaint yet"
    free = next(name for number in count(2) if not (name := path.with_stem(f"{path.stem}-{number}")).exists())
    click.echo(f"{path} holds a case already: {case.unit}; {complaint}.")
    line = ""
    while line not in ("y", "n"):
        click.echo("Write y or n." if line else f"Go on with it? y, or n for a new case in {free}.")
        line = common.read_line().strip().lower() or "?"
    return path if line == "y" else free


def _begin(path: Path, knowledge: "Knowledge", unit_id: str | None) -> "Case":
    """Read the case that is there, or begin a new one."""
    from shiftlore.cases import Case

    if unit_id:
        knowledge.sheet_of(unit_id)
    if path.exists():
        case = common.read_case_file(str(path), knowledge)
        if unit_id not in (None, case.unit):
            raise UsageProblem(f"{path} is about {case.unit}. Leave --unit out, or give another case file.")
        click.echo(f"Going on with {path}.")
    else:
        case = Case(unit_id or "")
        click.echo(f"A new case; answers go to {path}. Type h for help.")
        click.echo(PROCEDURE_FIRST)
    return case


class _Screen:
    """Shows the desk, reads lines, saves after each; remembers what was shown last, so that only news is shown again."""

    def __init__(self, path: Path, plain: bool):
        self.path, self.width, self.strong = path, common.terminal_width(), common.strong_mark(plain)
        self.above: list[str] = []
        self.leaders: Mapping[str, float] | None = None
        self.shown_causes: Mapping[str, float] | None = None
        self.shown_steps: tuple[str, ...] = ()

    def run(self, interview: "Interview") -> None:
        """Ask until the cheap questions are done, then rank, name checks and take their results."""
        from shiftlore.sessions import open_desk, take_line

        try:
            desk = open_desk(interview)
            if interview.case.unit and self.path.exists():
                self._recap(desk.interview)
            self._tell_standing(desk)
            desk = self._show(desk)
            while not desk.is_over:
                turn = take_line(desk, common.read_line())
                if turn.desk.interview.case != desk.interview.case:
                    self._save(turn.desk.interview)
                if turn.shows is not None and turn.shows.value == "stop":
                    break
                desk = self._follow(desk, turn)
        finally:
            self._say_stopped()

    def _follow(self, desk: "Desk", turn: "Turn") -> "Desk":
        """Tell what came of a line, and show the screen that follows."""
        from shiftlore.reports.triage_text import render_entry

        for text in turn.says:
            self._say(text)
        if turn.desk.interview.case != desk.interview.case and not turn.desk.is_over:
            self._tell_standing(turn.desk)
        if turn.opened is not None:
            self.above.append(render_entry(turn.opened, self._currency(desk), self.width, self.strong))
        if turn.desk.is_over:
            self._say(CURED)
            return turn.desk
        if turn.shows is not None:
            self._show_besides(turn.desk, turn.shows)
        if turn.explain:
            self._explain(turn.explain, turn.desk)
        is_same = turn.desk == desk and turn.shows is None and not turn.explain
        return turn.desk if is_same else self._show(turn.desk)

    def _show(self, desk: "Desk") -> "Desk":
        """Show what waits for an answer: a question, a step, or the next steps."""
        from shiftlore.reports.triage_text import render_entry, render_question, render_what_next

        if desk.entry is not None:
            self._page(render_entry(desk.entry, self._currency(desk), self.width, self.strong))
        elif desk.question is not None:
            self._page(render_question(desk.question, self.width, self.strong))
        elif not desk.offers:
            desk = self._show_steps(desk)
        elif self.above:
            self._page("\n" + render_what_next(len(desk.offers), desk.interview, self.width))
        return desk

    def _page(self, text: str) -> None:
        """Print a text below what was asked for beside it; on a terminal a screen at a time."""
        common.show_pages("\n".join((*self.above, text)))
        self.above = []

    def _show_steps(self, desk: "Desk") -> "Desk":
        """Print where it stands and the next steps, and let their numbers name them."""
        from shiftlore.reports.triage_text import SHOWN_STEPS, render_bench, render_what_next
        from shiftlore.sessions import offer_steps

        interview = desk.interview
        with common.busy("Working out the next steps"):
            ranking = shiftlore.rank(interview.knowledge, interview.case)
            plan = shiftlore.next_steps(interview.knowledge, interview.case)
        steps = plan.steps[:SHOWN_STEPS]
        bench = render_bench(
            ranking, plan, interview.compiled, self.shown_causes, self.shown_steps, self.width, self.strong
        )
        self._page(f"{bench}\n{render_what_next(len(steps), interview, self.width)}")
        self.leaders = interview.leaders
        self.shown_causes = {cause.id: cause.probability for cause in ranking.causes}
        self.shown_steps = tuple(step.id for step in steps)
        return offer_steps(desk, steps)

    def _show_besides(self, desk: "Desk", command: "Command") -> None:
        """Show what was asked for: help, the reason of a question, the ranking, all that is known."""
        from shiftlore.reports.rank_text import render_ranking
        from shiftlore.reports.triage_text import render_help, render_recap
        from shiftlore.sessions import Command, recap

        interview = desk.interview
        if command is Command.HELP:
            self.above.append(render_help(self.width))
        elif command is Command.WHY:
            why = (desk.question and desk.question.why) or "It helps to tell the causes apart."
            self.above += wrap_lines(why, width=self.width)
        elif command is Command.CHECKS:
            self.shown_causes, self.shown_steps = None, ()
        elif command is Command.KNOWN:
            lines = recap(interview, everything=True)
            self.above.append(render_recap(lines, interview.case.odometer_km, interview.case.unit, self.width))
        elif command is Command.RANKING:
            with common.busy("Ranking the causes"):
                ranking = shiftlore.rank(interview.knowledge, interview.case)
            self.above.append("\n" + render_ranking(ranking, interview.case.odometer_km, self.width, self.strong))

    def _explain(self, words: str, desk: "Desk") -> None:
        """Say what a cause, finding, check, job or code is, on the unit of the case."""
        from shiftlore.reports.explain_text import render_explanation

        try:
            told = shiftlore.explain(desk.interview.knowledge, words, desk.interview.case.unit or None)
        except ShiftloreError as problem:
            self._say(str(problem))
        else:
            self.above.append("\n" + render_explanation(told, self.width, self.strong))

    def _recap(self, interview: "Interview") -> None:
        """Say in a few lines what is known."""
        from shiftlore.reports.triage_text import render_recap
        from shiftlore.sessions import recap

        self.above.append(render_recap(recap(interview), interview.case.odometer_km, interview.case.unit, self.width))
        if interview.check:
            label = interview.compiled.expansion.checks[interview.check].label
            self.above += wrap_lines(f"Half entered: {label}. It goes on here.", width=self.width)

    def _tell_standing(self, desk: "Desk") -> None:
        """Say before a question which causes lead, where that has changed; the steps say it themselves."""
        from shiftlore.reports.triage_text import render_standing

        interview = desk.interview
        if desk.question is None or not (interview.case.complaint or interview.case.findings or interview.case.either):
            return
        labels = {key: cause.label for key, cause in interview.compiled.expansion.causes.items()}
        if text := render_standing(self.leaders, interview.leaders, labels):
            self.above += wrap_lines(text, "  ", "", self.width)
        self.leaders = interview.leaders

    def _currency(self, desk: "Desk") -> str:
        shop = desk.interview.knowledge.shop
        return shop.currency if shop is not None else ""

    def _save(self, interview: "Interview") -> None:
        """Write the case to disk, once its unit is known, before anything else is asked."""
        from shiftlore.cases import save_case

        if interview.case.unit:
            save_case(self.path, interview.case)

    def _say(self, text: str) -> None:
        for line in wrap_lines(text, "  " if text.startswith("Noted") else "", "", self.width):
            click.echo(line)

    def _say_stopped(self) -> None:
        kept = f"Everything answered is in {self.path}; the same command goes on from here."
        self._say(kept if self.path.exists() else "Stopped before anything was answered.")
