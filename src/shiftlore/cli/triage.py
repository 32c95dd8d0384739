"""`shiftlore triage`: asks the questions, ranks as it goes, names the next checks; every answer is on disk at once."""

import sys
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
    from shiftlore.cases import Case
    from shiftlore.compiling import CompiledUnit
    from shiftlore.knowledge import Knowledge
    from shiftlore.sessions import Command, Interview, Question, Reply

DEFAULT_CASE = "case.yaml"


@click.command("triage")
@click.argument("case_path", metavar="[CASE]", default=DEFAULT_CASE, type=click.Path(path_type=Path))
@plain_option
@knowledge_option
@click.option("--unit", "unit_id", default=None, help="Id of the unit sheet, or a kind: step, step-rwd, step-fwd, cvt, dct.")
def command(case_path: Path, plain: bool, knowledge_path: Path | None, unit_id: str | None) -> None:
    """Ask about one vehicle, rank the causes, name the next checks with their cost.

    Every answer is written to CASE (case.yaml by default) before the next question. Stop or be cut off at any
    moment; the same command goes on where you were.
    """
    from shiftlore.cases import Case
    from shiftlore.sessions import Interview

    knowledge = load_trade(knowledge_path)
    units: dict[str, CompiledUnit] = {}
    if case_path.exists():
        case, units[case.unit] = read_case_file(str(case_path), knowledge)
        click.echo(f"Going on with {case_path}: {len(case.findings) + len(case.complaint)} findings so far.")
    else:
        case = Case(_known_unit(knowledge, unit_id) if unit_id else "")
        click.echo(f"A new case; answers go to {case_path}. Type h for help.")
    click.echo("The maker's procedure and the local rules come first.")
    interview = Interview(knowledge, _unit_compiler(knowledge, units), case)
    _Desk(case_path, plain).run(interview)


def _known_unit(knowledge: "Knowledge", unit_id: str) -> str:
    from shiftlore.compiling import compile_unit

    return compile_unit(knowledge, unit_id).expansion.unit


def _unit_compiler(knowledge: "Knowledge", units: "dict[str, CompiledUnit]") -> object:
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

    def run(self, interview: "Interview") -> None:
        """Ask until the cheap questions are done, then rank, name checks and take their results."""
        try:
            interview = self._ask_all(interview)
            while interview is not None:
                interview = self._offer_checks(interview)
        except (EOFError, click.Abort, KeyboardInterrupt):
            click.echo(f"\nStopped. Everything answered is in {self.path}; the same command goes on from here.")

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
        if following.case.unit:
            following.compiled.engine.weigh(following.compiled.evidence)
            self._save(following.case)
        if question.kind == "words" and question.id == "complaint" and reply.known:
            return self._take_words(following, reply.text)
        return following

    def _take_words(self, interview: "Interview", text: str) -> "Interview":
        """Read findings out of free text; they are confirmed next."""
        from shiftlore.knowledge import read_free_text

        if not interview.case.unit:
            raise UsageProblem("Name the transmission first.")
        found = []
        for one in read_free_text(interview.knowledge, text):
            key = interview.compiled.unit.aliases.get(one.code or "", one.expanded_id)
            answers = interview.answers_to(key)
            if one.answer in answers:
                found.append((key, one.answer))
        following = interview.propose(tuple(found))
        if not following.proposed:
            self._say("I found nothing new in that. Try other words, or go on with the questions.")
        return following

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
                self._say("- " + help_line, indent="  ")
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
        if question.why:
            self._say(f"Why: {question.why}" + (f" Costs {question.cost}." if question.cost else ""), indent="  ")
        keys = [choice.key for choice in question.choices]
        if keys == ["yes", "no"]:
            click.echo("  y / n / y? / n? / ? not known")
            return
        for number, choice in enumerate(question.choices, 1):
            click.echo("\n".join(wrap_lines(choice.label, "      ", f"  {number:>2}. ", self.width)))
        hints = {"which": "numbers that hold, 0 none, ? not known", "confirm": "y all right, n none, or the wrong numbers"}
        hint = hints.get(question.kind, "? not known" if question.optional else "")
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

    def _show_ranking(self, interview: "Interview") -> None:
        from shiftlore.decisions import rank_causes
        from shiftlore.reports.rank_text import render_ranking

        ranking = rank_causes(interview.compiled)
        write_out("\n" + render_ranking(ranking, interview.case.odometer_km, self.width, self.strong))

    def _show_steps(self, interview: "Interview") -> "list[str]":
        """Print the next steps; give the ids of the checks among them."""
        from shiftlore.decisions import next_steps
        from shiftlore.reports.next_text import render_next

        plan = next_steps(interview.compiled)
        write_out("\n" + render_next(plan, self.width, self.strong))
        return [step.id for step in plan.steps if step.kind == "check"]

    def _offer_checks(self, interview: "Interview") -> "Interview | None":
        """Show ranking and next steps, and take the results of a check that was made; None when done."""
        self._show_ranking(interview)
        checks = self._show_steps(interview)
        click.echo()
        self._say("When a check has been made, write its number or id to enter what it showed; "
                  "m for more questions; b to go back; q to stop.")
        while True:
            line = self._read("> ").strip().lower()
            if line in ("q", "stop", "quit", ""):
                self._say_stopped()
                return None
            if line in ("m", "more"):
                return self._ask_all(interview.ask_more())
            if line in ("b", "back"):
                return self._ask_all(interview.back())
            check = checks[int(line) - 1] if line.isdecimal() and 1 <= int(line) <= len(checks) else line
            if check in interview.compiled.expansion.checks:
                return self._enter_check(interview, check)
            self._say("Write the number of a check, m, b or q.")

    def _enter_check(self, interview: "Interview", check: str) -> "Interview | None":
        following = self._ask_all(interview.start_check(check))
        if following is None:
            return None
        following = following.finish_check()
        self._save(following.case)
        return following
