"""`shiftlore triage`: asks the questions, ranks as it goes, names the next checks; every answer is on disk at once."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import ShiftloreError, UsageProblem
from shiftlore.reports.wording import PROCEDURE_FIRST, render_help, wrap_lines

if TYPE_CHECKING:
    from shiftlore.basics.holding import Hold
    from shiftlore.cases import Case, CaseFile
    from shiftlore.knowledge import Knowledge
    from shiftlore.ranking import Ranking
    from shiftlore.repairs import Remembered
    from shiftlore.sessions import Command, Desk, Interview, Turn

FIRST_CASE = Path("case.yaml")
STOPPED_BY_KEY = 130
UNIT_HELP = "Id of the unit sheet, or a kind: step, step-rwd, step-fwd, cvt, dct, dct-dry."
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
    common.refuse_unit(path, knowledge)
    common.require_place(path, "Give a case file in a folder of your own.")
    try:
        if case_path is None and path.exists():
            path = _choose_case(path, knowledge)
        _hold(path, knowledge, unit_id, plain)
    except EOFError:
        pass
    except (click.Abort, KeyboardInterrupt):
        raise click.exceptions.Exit(STOPPED_BY_KEY) from None


def _hold(path: Path, knowledge: "Knowledge", unit_id: str | None, plain: bool) -> None:
    """Hold the case for this session and work on it, or only show it where another has it open."""
    from shiftlore.basics.holding import Hold
    from shiftlore.cases import CaseFile

    hold = Hold(Path(os.path.realpath(path)))
    if other := hold.take():
        common.say(f"{path} is open in another triage ({other}).")
        ways = "t takes it over: the other one is told and stops. l looks on without changing anything. q leaves it."
        common.say(ways)
        if (word := _choose_way()) == "q":
            raise click.ClickException(f"{path} was left alone.")
        if word == "t":
            hold.take_over()
    try:
        file = CaseFile(path, lambda text: shiftlore.read_case(text, knowledge, path))
        interview = shiftlore.interview(knowledge, _begin(file, knowledge, unit_id))
        screen = _Screen(file, hold, plain)
        if other and word == "l":
            screen.look_on(interview)
        else:
            screen.run(interview)
    finally:
        hold.release()


def _choose_way() -> str:
    """Ask whether to take a case over, look on, or leave it; the end of the input leaves it."""
    while True:
        try:
            word = common.read_line().strip().lower()
        except EOFError:
            return "q"
        if word in ("t", "l", "q"):
            return word
        click.echo("Write t, l or q.")


def _choose_case(path: Path, knowledge: "Knowledge") -> Path:
    """Ask whether the case that lies here is meant, and give the file to work on; a new case takes the next free name."""
    case = common.read_case_file(str(path), knowledge)
    complaint = ", ".join(key.replace("_", " ") for key in case.complaint) or "no complaint yet"
    free = common.free_name(path)
    common.say(f"{path} holds a case already: {case.unit}; {complaint}.")
    line = ""
    while line not in ("y", "n"):
        common.say("Write y or n." if line else f"Go on with it? y, or n for a new case in {free}.")
        line = common.read_line().strip().lower() or "?"
    return path if line == "y" else free


def _begin(file: "CaseFile", knowledge: "Knowledge", unit_id: str | None) -> "Case":
    """Read the case that is there, or begin a new one."""
    from shiftlore.cases import Case

    if unit_id:
        knowledge.sheet_of(unit_id)
    case = file.open()
    if case is None:
        common.say(f"A new case; answers go to {file.path}. Type h for help.")
        common.say(PROCEDURE_FIRST)
        return Case(unit_id or "")
    common.tell_problems(case.warnings)
    if unit_id not in (None, case.unit):
        raise UsageProblem(f"{file.path} is about {case.unit}. Leave --unit out, or give another case file.")
    common.say(f"Going on with {file.path}.")
    return case


class _Screen:
    """Shows the desk, reads lines, saves after each; remembers what was shown last, so that only news is shown again."""

    def __init__(self, file: "CaseFile", hold: "Hold", plain: bool):
        self.file, self.hold = file, hold
        self.strong = common.strong_mark(plain)
        self.is_behind = False
        self.above: list[str] = []
        self.told_at_once: frozenset[str] = frozenset()
        self.leaders: Mapping[str, float] | None = None
        self.shown_causes: Mapping[str, float] | None = None
        self.shown_steps: tuple[str, ...] = ()
        self.shown_alike: tuple[str, ...] = ()
        self.remembered: Sequence[Remembered] | None = None

    @property
    def width(self) -> int:
        """Give the line length as the window is now."""
        return common.terminal_width()

    def run(self, interview: "Interview") -> None:
        """Ask until the cheap questions are done, then rank, name checks and take their results."""
        from shiftlore.sessions import open_desk

        try:
            desk = open_desk(interview)
            if self.file.text is not None:
                self._recap(desk.interview)
            self._tell_standing(desk)
            desk = self._show(desk)
            while not desk.is_over:
                desk, turn = self._take(desk, common.read_line())
                if turn.shows is not None and turn.shows.value == "stop":
                    break
                desk = self._follow(desk, turn)
        finally:
            self._say_stopped()

    def look_on(self, interview: "Interview") -> None:
        """Show what is known and what comes next, and change nothing."""
        from shiftlore.sessions import Desk

        if interview.case.unit:
            self._recap(interview)
            self._show_steps(Desk(interview), is_last=True)

    def _take(self, desk: "Desk", line: str) -> "tuple[Desk, Turn]":
        """Take a line, with its answer on disk before anything is worked out; first what was changed in the file."""
        from shiftlore.cases import CaseChanged
        from shiftlore.sessions import Turn, take_line

        try:
            turn = take_line(desk, line, self._keep)
            self._keep(turn.desk.interview.case)  # what was refused after all is taken out
            return desk, turn
        except CaseChanged as changed:
            self._say(str(changed))
        changed_desk = self._take_in(desk)
        if desk.question is not None and desk.question == changed_desk.question:
            return self._take(changed_desk, line)
        self._say(f'"{line.strip()}" was not taken, because of that. Answer what is asked now.')
        return desk, Turn(changed_desk)

    def _keep(self, case: "Case") -> None:
        """Write the case to disk, once its unit is known.

        Raises: CaseChanged: somebody else did meanwhile. UsageError: another session has the case now.
        """
        if not case.unit or (case == self.file.case and self.file.text is not None):
            return
        self.is_behind = True
        if not self.hold.is_here():
            raise click.ClickException(f"Another triage has taken {self.file.path} over.")
        self.file.save(case)
        self.is_behind = False

    def _take_in(self, desk: "Desk") -> "Desk":
        """Take the file as it is now; one that cannot be read may be mended, or left alone for another file."""
        from shiftlore.sessions import take_in

        before = desk.interview.case
        while True:
            try:
                case = self.file.open()
            except ShiftloreError as error:
                click.echo(str(error), err=True)
            else:
                if case is not None:
                    self._say("Taken in as it stands there now.")
                return take_in(desk, case or before)
            free = common.free_name(self.file.path)
            self._say(f"Mend it and press Enter; or write k to keep what was answered here in {free}.")
            try:
                word = common.read_line()
            except EOFError:
                word = "k"
            if word.strip().lower() == "k":
                self.hold.move_to(Path(os.path.realpath(free)))
                self.file.move_to(free)
                self.file.save(before)
                return take_in(desk, before)

    def _follow(self, desk: "Desk", turn: "Turn") -> "Desk":
        """Tell what came of a line, and show the screen that follows."""
        from shiftlore.reports.triage_text import render_entry

        for text in turn.says:
            self._say(text)
        if turn.desk.interview.case != desk.interview.case and not turn.desk.is_over:
            self._tell_standing(turn.desk)
        if turn.opened is not None:
            self.above.append(render_entry(turn.opened, desk.interview.knowledge.currency, self.width, self.strong))
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
            self._page(render_entry(desk.entry, desk.interview.knowledge.currency, self.width, self.strong))
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

    def _show_steps(self, desk: "Desk", is_last: bool = False) -> "Desk":
        """Print where it stands and the next steps, and let their numbers name them."""
        from shiftlore.reports.triage_text import SHOWN_STEPS, render_bench, render_what_next
        from shiftlore.sessions import offer_steps

        interview = desk.interview
        with common.busy("Working out the next steps"):
            ranking = self._rank(interview)
            plan = shiftlore.next_steps(interview.knowledge, interview.case)
        steps = plan.steps[:SHOWN_STEPS]
        bench = render_bench(
            ranking,
            plan,
            interview.compiled,
            shown_before=self.shown_causes,
            steps_before=self.shown_steps,
            alike_before=self.shown_alike,
            width=self.width,
            strong=self.strong,
        )
        self._page(bench if is_last else f"{bench}\n{render_what_next(len(steps), interview, self.width)}")
        self.leaders = interview.leaders
        self.shown_causes = {cause.id: cause.probability for cause in ranking.causes}
        self.shown_steps = tuple(step.id for step in steps)
        self.shown_alike = tuple(one.id for one in ranking.alike)
        return offer_steps(desk, steps)

    def _rank(self, interview: "Interview") -> "Ranking":
        """Rank the causes; the shop's own cases are looked through as they were when the first ranking was asked for."""
        if self.remembered is None:
            self.remembered = common.recall_cases()
        own = {self.file.path.stem}  # a case that was entered from a published repair carries its name
        return shiftlore.rank(interview.knowledge, interview.case, remembered=self.remembered, leave_out=own)

    def _show_besides(self, desk: "Desk", command: "Command") -> None:
        """Show what was asked for: help, the reason of a question, the ranking, all that is known."""
        from shiftlore.reports.case_text import render_ranking
        from shiftlore.reports.triage_text import render_recap
        from shiftlore.sessions import HELP_LINES, Command, recap

        interview = desk.interview
        if command is Command.HELP:
            self.above.append(render_help(HELP_LINES, self.width))
        elif command is Command.WHY:
            why = (desk.question and desk.question.why) or "It helps to tell the causes apart."
            self.above += wrap_lines(why, width=self.width)
        elif command is Command.CHECKS:
            self.shown_causes, self.shown_steps, self.shown_alike = None, (), ()
        elif command is Command.KNOWN:
            lines = recap(interview, everything=True)
            self.above.append(render_recap(lines, interview.case.odometer_km, interview.case.unit, self.width))
        elif command is Command.RANKING:
            with common.busy("Ranking the causes"):
                ranking = self._rank(interview)
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
        from shiftlore.sessions import tell_at_once

        interview = desk.interview
        if desk.question is None or not (interview.case.complaint or interview.case.findings or interview.case.either):
            return
        at_once = tell_at_once(interview)
        for says in (at_once[key] for key in at_once if key not in self.told_at_once):
            self.above += map(self.strong, wrap_lines(says, width=self.width))
        self.told_at_once = frozenset(at_once)
        labels = {key: cause.label for key, cause in interview.compiled.expansion.causes.items()}
        if text := render_standing(self.leaders, interview.leaders, labels):
            self.above += wrap_lines(text, "  ", "", self.width)
        self.leaders = interview.leaders

    def _say(self, text: str) -> None:
        for line in wrap_lines(text, "  " if text.startswith("Noted") else "", "", self.width):
            click.echo(line)

    def _say_stopped(self) -> None:
        if self.is_behind:
            self._say(f"Your last line is not in {self.file.path}.")
        if self.file.text is None:
            self._say("" if self.is_behind else "Stopped before anything was answered.")
            return
        kept = "before it" if self.is_behind else "answered"
        self._say(f"Everything {kept} is in {self.file.path}; the same command goes on from here.")
