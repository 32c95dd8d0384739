"""`shiftlore close`: what it was, what was done, what came of it; into the case's file and into the casebook."""

import datetime
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

import shiftlore
import shiftlore.cli.common as common
from shiftlore.basics import ShiftloreError, UnknownId, UsageProblem
from shiftlore.basics.problems import printable
from shiftlore.cli.casebook import place_option
from shiftlore.reports.wording import say_percent, wrap_lines

if TYPE_CHECKING:
    from shiftlore.casebook import EndProposal, EndTold
    from shiftlore.compiling import CompiledCase

Read = TypeVar("Read")
RESULTS, CONFIRMED_BY = ("cured", "not_cured", "came_back"), ("cured", "seen", "assumed")
CAME_BACK, LONGEST_WORK_MINUTES, HIGHEST_ODOMETER_KM = RESULTS[-1], 100_000, 3_000_000
"""As cases have them; written once more, for help shall not wait for their reader."""
NOBODY = "unknown"
NOBODY_KNOWS = re.compile(r"\?|unknown|(nobody|no one|not) know.*|don'?t know|dunno")
AMOUNT = re.compile(r"([\d.,' ]*\d)\s*([^\d\s.]+)?")
MONEY = ("euro", "dollar", "pound", "€", "$", "£")
AFTER: dict[str, Callable[["EndTold"], bool]] = {
    "confirmed": lambda told: bool(told.causes),
    "after_km": lambda told: told.result == CAME_BACK,
}
"""What is asked for only after some answers."""
HOURS, IN_MINUTES, MINUTES_AN_HOUR = ("h", "hr", "hrs", "hour", "hours"), ("min", "mins", "minute", "minutes"), 60
BACK, QUIT, HELP = ("b", "back"), ("q", "quit"), ("?", "h", "help")
HOW_TO = "b goes back, q leaves the case open."
CLEARLY_NAMED, NEARLY_AS_GOOD, MOST_NAMED = 0.75, 0.1, 5
"""Score from which words name a cause, what a second one may be behind it, and how many are offered (judgement)."""
CAUSE_HELP = f'What it was: an id, or plain words such as "pump worn"; may be given again. {NOBODY} if nobody knows.'
JOB_HELP = 'What was done for it: an id, or plain words such as "fluid change"; may be given again.'
HOW_HELP = "How it is known: the job cured it, it was seen, or it is assumed."
PERSON_HELP = "Whose vehicle it is, so that it can be found and forgotten by it; else nobody is named."
MINUTES = common.Whole(0, LONGEST_WORK_MINUTES)
DISTANCE = common.Number(0, HIGHEST_ODOMETER_KM, example=8000)


@click.command("close", short_help="Close a case: what it was, and what came of it.")
@click.argument("path", metavar="CASE", type=common.A_PATH)
@click.option("--cause", "causes", multiple=True, metavar="ID|WORDS", help=CAUSE_HELP)
@click.option("--confirmed", type=click.Choice(CONFIRMED_BY), help=HOW_HELP)
@click.option("--did", "jobs", multiple=True, metavar="JOB", help=JOB_HELP)
@click.option("--outcome", "result", type=click.Choice(RESULTS), help="What came of it.")
@click.option("--minutes", type=MINUTES, help="Working time that it really took.")
@click.option("--spent", type=common.BUDGET, help="Money that the owner really spent.")
@click.option("--came-back-after-km", "after_km", type=DISTANCE, help="How far it went until it came back.")
@click.option("--closed-on", type=common.DAY, help="The date; today by default.")
@click.option("--person", default="", metavar="TEXT", help=PERSON_HELP)
@click.option("--with-words", is_flag=True, help="Keep the case's free words too; they may hold names.")
@click.option("--yes", is_flag=True, help="Ask nothing; what is not given is left out.")
@place_option
@common.knowledge_option
@common.shop_option
def close_command(
    path: Path, causes: tuple[str, ...], confirmed: str | None, jobs: tuple[str, ...], result: str | None, minutes: int |
    None, spent: float | None, after_km: float | None, closed_on: datetime.datetime | None, person: str, with_words: bool,
    yes: bool, place: str | None, folder: Path | None, shop_path: Path | None,
) -> None:  # fmt: skip
    """Close CASE: say what it was, what was done and what came of it; asks for what is not given.

    It goes into the case's file, and into the casebook. Later news goes the same way: shiftlore close CASE --outcome
    came_back --came-back-after-km 8000. Owner, plate and free words are left out of the casebook unless you ask for them.
    """
    from shiftlore.casebook import EndTold, list_doubts, propose_end
    from shiftlore.compiling import compile_case, compile_unit
    from shiftlore.reports.shop_text import render_closing

    if not path.is_file():
        raise UsageProblem(f"There is no case {printable(str(path))}. Name the file of a case.")
    common.require_place(path)
    knowledge = common.load_trade(folder, shop_path)
    with shiftlore.open_casebook(place) as book:
        case = common.read_case_file(str(path), knowledge)
        compiled = compile_case(compile_unit(knowledge, case.vehicle), case)
        proposal = propose_end(compiled)
        day = closed_on.date().isoformat() if closed_on else None
        if closed_on and closed_on.date() > datetime.date.today():
            raise UsageProblem(
                f"{day} is still to come. Give the day on which it was closed, or leave --closed-on out."
            )
        told = EndTold(
            causes=tuple(_name_cause(compiled, one, proposal) for one in causes if one != NOBODY) if causes else None,
            jobs=tuple(job for one in jobs for job in _name_job(compiled, one, proposal)) if jobs else None,
            confirmed=confirmed, result=result, minutes=minutes, spent=spent, after_km=after_km, closed_on=day,
        )  # fmt: skip
        asking = _Asking(compiled, proposal)
        told = told if yes else asking.complete(told)
        closing = shiftlore.close(knowledge, path, told, book, person=person, with_words=with_words)
        doubts = () if asking.is_asked else list_doubts(compiled, told)
        click.echo(render_closing(closing, book.counts().cases.here, common.terminal_width(), doubts))


def _name_cause(compiled: "CompiledCase", text: str, proposal: "EndProposal") -> str:
    """Find the cause that an id, a number of the list or plain words name.

    Raises: UnknownId: there is none, or several are meant.
    """
    expansion, knowledge = compiled.expansion, compiled.knowledge
    if text in expansion.causes or text in knowledge.causes:
        return text
    if text.isdecimal() and 1 <= int(text) <= len(proposal.causes):
        return proposal.causes[int(text) - 1].id
    labels = {key: cause.label for key, cause in expansion.causes.items()}
    labelled = [key for key, label in labels.items() if _words_of(text) == _words_of(label)]
    labelled = labelled or [key for key, label in labels.items() if _words_of(text) <= _words_of(label)]
    written: list[str] = []
    if not labelled and "_" not in text and not text.isdecimal():
        hits = [hit for hit in shiftlore.find(knowledge, text, kinds=("cause",)) if hit.id in expansion.of_template]
        near = hits[0].score - NEARLY_AS_GOOD if hits else 0.0
        written = [hit.id for hit in hits if hit.score >= max(near, CLEARLY_NAMED)] or [
            hit.id for hit in hits[:MOST_NAMED]
        ]
        if len(written) == 1 and hits[0].score >= CLEARLY_NAMED:
            only = expansion.of_template[written[0]]
            return only[0] if len(only) == 1 else written[0]
    likely = {one.id: one.label for one in proposal.causes}
    named = labelled or _share_words(text, labels) or _share_words(text, likely, least=1) or written
    if len(named) == 1 and labelled:
        return named[0]
    said = [f"{labels.get(key, key)} ({key})" for key in named[:MOST_NAMED]]
    advice = f"Name one of: {'; '.join(said)}" if said else f"Find it: shiftlore find {printable(text)}"
    raise UnknownId(f'"{printable(text)}" does not say which cause. {advice}')


def _share_words(text: str, labels: Mapping[str, str], least: int = 2) -> list[str]:
    """List what shares most words with a text."""
    shared = {key: len(_words_of(text) & _words_of(label)) for key, label in labels.items()}
    most = max(shared.values(), default=0)
    return [key for key, count in shared.items() if count == most] if most >= least else []


def _words_of(text: str) -> set[str]:
    return set(text.lower().split())


def _name_job(compiled: "CompiledCase", text: str, proposal: "EndProposal") -> tuple[str, ...]:
    """Find the job that an id, a number of the list or plain words name.

    Raises: UnknownId: there is none, or several are meant.
    """
    from shiftlore.sessions import find_steps

    expansion = compiled.expansion
    if text in expansion.jobs or text in compiled.knowledge.jobs:
        return (text,)
    if text.isdecimal() and 1 <= int(text) <= len(proposal.jobs):
        return (proposal.jobs[int(text) - 1].id,)
    steps, is_clear = ([], False) if "_" in text else find_steps(compiled, text)
    found = [ids for kind, ids in steps if kind == "job"]
    if is_clear and len(found) == 1:
        return found[0]
    labels = {key: job.label for key, job in expansion.jobs.items()}
    named = "; ".join(f"{labels.get(ids[0], ids[0])} ({' '.join(ids)})" for ids in found[:MOST_NAMED])
    advice = f"Name one of: {named}" if named else f"Find it: shiftlore find {printable(text)}"
    raise UnknownId(f'"{printable(text)}" does not say which job. {advice}')


class _Back(Exception):
    """Somebody wants to go back to the question before."""


class _Asking:
    """Asks for what was not given; what the case says already is proposed, and Enter takes it."""

    def __init__(self, compiled: "CompiledCase", proposal: "EndProposal"):
        self.compiled, self.proposal = compiled, proposal
        self.currency = compiled.knowledge.currency
        self.width = common.terminal_width()
        self.is_asked = False

    def complete(self, told: "EndTold") -> "EndTold":
        """Ask for what is missing; of a case that was closed before only what is given is news."""
        old = self.proposal.outcome
        if old is not None and old.id:
            return told
        try:
            if (told := self._ask_all(told)) and not self._is_right(told):
                raise click.ClickException("Nothing was closed.")
        except EOFError:
            raise click.ClickException("Nothing was closed: the answers ended too early.") from None
        return told

    def _ask_all(self, given: "EndTold") -> "EndTold":
        """Ask one thing after the other; from each one can go back to the one before."""
        steps: list[tuple[str, Callable[[EndTold], object]]] = [
            ("causes", lambda told: self._ask_causes()),
            ("jobs", lambda told: self._ask_jobs()),
            ("result", lambda told: self._ask_word("What came of it?", RESULTS, self._usual_result)),
            ("confirmed", self._ask_how),
            (
                "after_km",
                lambda told: self._ask_amount("After what distance did it come back?", "km", HIGHEST_ODOMETER_KM),
            ),
            ("minutes", lambda told: self._ask_amount("How long did it really take?", "minutes", LONGEST_WORK_MINUTES)),
            (
                "spent",
                lambda told: self._ask_amount("What did the owner really pay?", self.currency, common.MOST_MONEY),
            ),
        ]
        asked, told, at = list[int](), given, 0
        while at < len(steps):
            key, ask = steps[at]
            if getattr(given, key) is not None or (key in AFTER and not AFTER[key](told)):
                at += 1
                continue
            try:
                told = replace(told, **{key: ask(told)})  # type: ignore[arg-type]
            except _Back:
                if asked:
                    at = asked.pop()
                    continue
                click.echo("This is the first question.")
                continue
            asked.append(at)
            at += 1
        return told

    @property
    def _usual_result(self) -> str:
        done = [job.result for job in self.proposal.jobs if job.result]
        return done[-1] if done else RESULTS[0]

    def _ask_how(self, told: "EndTold") -> str:
        usual = CONFIRMED_BY[0] if told.result == RESULTS[0] else CONFIRMED_BY[-1]
        return self._ask_word("How is it known what it was?", CONFIRMED_BY, usual)

    def _ask_causes(self) -> tuple[str, ...]:
        listed = self.proposal.causes
        lines = [f"{say_percent(one.probability):>10}  {one.label}" for one in listed]
        self._list("What was it?", lines, "The numbers or names, apart by commas; ? if nobody knows.")
        named = self.proposal.outcome.causes if self.proposal.outcome is not None else ()

        def read(text: str) -> tuple[str, ...]:
            if NOBODY_KNOWS.fullmatch(text.lower()):
                return ()
            found = (
                tuple(dict.fromkeys(_name_cause(self.compiled, one, self.proposal) for one in _split(text))) or named
            )
            if not found:
                raise UsageProblem("Write a number, a name, or ? if nobody knows.")
            return found

        return self._read(read)

    def _ask_jobs(self) -> tuple[str, ...]:
        listed = self.proposal.jobs
        lines = [one.label + (f" ({one.result.replace('_', ' ')})" if one.result else "") for one in listed]
        takes = "Enter takes all of these, - none of them." if listed else "Enter if nothing was done."
        self._list("What was done for it?", lines, f"The numbers or names, apart by commas. {takes}")

        def read(text: str) -> tuple[str, ...]:
            if text == "-":
                return ()
            if not text:
                return tuple(one.id for one in listed)
            jobs = (job for one in _split(text) for job in _name_job(self.compiled, one, self.proposal))
            return tuple(dict.fromkeys(jobs))

        return self._read(read)

    def _ask_word(self, question: str, words: Sequence[str], usual: str) -> str:
        shown = [word.replace("_", " ") for word in words]
        self._list(question, shown, f"Enter: {usual.replace('_', ' ')}.")

        def read(text: str) -> str:
            if not text:
                return usual
            if text.isdecimal() and 1 <= int(text) <= len(words):
                return words[int(text) - 1]
            begun = [word for word, said in zip(words, shown, strict=True) if said.startswith(text.lower())]
            if len(begun) != 1:
                raise UsageProblem(f"Write a number from 1 to {len(words)}, or one of: {', '.join(shown)}.")
            return begun[0]

        return self._read(read)

    def _ask_amount(self, question: str, unit: str, most: float) -> float | None:
        """Ask for a number; its unit may be written behind it, hours too where minutes are asked for."""
        takes = "minutes; or hours, as in 2.5 h" if unit == IN_MINUTES[-1] else unit
        self._list(question, (), f"In {takes}. Enter leaves it out.")

        def read(text: str) -> float | None:
            from shiftlore.words.vocabulary import read_number

            if not text:
                return None
            found, money = AMOUNT.fullmatch(text.lower()), (self.currency.lower(), *MONEY)
            number = read_number(found[1]) if found else -1.0
            if found and unit == IN_MINUTES[-1] and found[2] in HOURS:
                number *= MINUTES_AN_HOUR
            elif (
                found and found[2] and found[2] not in (unit.lower(), *IN_MINUTES) and found[2].rstrip("s") not in money
            ):
                number = -1.0
            if not 0 <= number <= most:
                raise UsageProblem(f"Write a plain number from 0 to {most:,}, in {takes}; or nothing.")
            return number

        return self._read(read)

    def _is_right(self, told: "EndTold") -> bool:
        from shiftlore.casebook import list_doubts
        from shiftlore.reports.wording import say_km, say_minutes, say_money

        causes, jobs = self.compiled.expansion.causes, self.compiled.expansion.jobs
        labels = {key: one.label for key, one in causes.items()} | {key: one.label for key, one in jobs.items()}
        labels |= {one.id: one.label for one in (*self.proposal.causes, *self.proposal.jobs)}
        was, did = (", ".join(labels.get(key, key) for key in keys or ()) for keys in (told.causes, told.jobs))
        after = "" if told.after_km is None else f", after {say_km(told.after_km)}"
        took = "" if told.minutes is None else f" It took {say_minutes(told.minutes)}."
        paid = "" if told.spent is None else f" The owner paid {say_money(told.spent, self.currency)}."
        said = (
            f"It was: {was or 'not known'}. What was done: {did or 'nothing'}. "
            f"What came of it: {str(told.result).replace('_', ' ')}{after}.{took}{paid}"
        )
        said = " ".join([said, *list_doubts(self.compiled, told)])
        self.is_asked = True
        self._list("", wrap_lines(said, width=self.width), "Close the case so? y, or n to leave it open.", number=False)

        def read(text: str) -> bool:
            if text.lower() not in ("y", "yes", "n", "no"):
                raise UsageProblem("Write y or n.")
            return text.lower().startswith("y")

        return self._read(read)

    def _list(self, question: str, lines: Sequence[str], hint: str, number: bool = True) -> None:
        self.hint = hint
        click.echo(f"\n{question}" if question else "")
        for place, line in enumerate(lines, 1):
            click.echo(f"{place:>3}  {line}" if number else line)
        self._say(hint, "  ")

    def _say(self, text: str, indent: str = "") -> None:
        for line in wrap_lines(text, indent, width=self.width):
            click.echo(line)

    def _read(self, read: Callable[[str], Read]) -> Read:
        """Read lines until one can be taken.

        Raises: _Back: the question before is asked for.
        """
        while True:
            text = common.read_line().strip()
            if text.lower() in BACK:
                raise _Back
            if text.lower() in QUIT:
                raise click.ClickException("Nothing was closed.")
            try:
                return read(text)
            except ShiftloreError as problem:
                self._say(f"{self.hint} {HOW_TO}" if text.lower() in HELP else str(problem))


def _split(text: str) -> list[str]:
    return [part.strip() for part in text.split(",") if part.strip()]
