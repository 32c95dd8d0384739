"""What the commands share: options, reading a case, printing with or without colour."""

import contextlib
import math
import os
import shutil
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import reduce
from importlib import util
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

import shiftlore
from shiftlore.basics import CaseError, Mark, Problem, ShiftloreError, UsageProblem, render_problem
from shiftlore.basics.problems import printable
from shiftlore.basics.whole_files import new_file_mode, try_place, write_whole
from shiftlore.reports.wording import clamp_width, wrap_lines

if TYPE_CHECKING:
    from shiftlore.cases import Case
    from shiftlore.knowledge import Knowledge
    from shiftlore.repairs import Remembered

TICK_SECONDS = 1.0
PAGER_WIDTH = 50
CASEBOOK_NAMED = "SHIFTLORE_CASEBOOK"
PATIENCE_SECONDS = 2.0
"""How long a ranking waits for a casebook that another bench is writing to."""
STDIN, STDIN_NAME = "-", "<standard input>"
A_PATH, DAY = click.Path(path_type=Path), click.DateTime(["%Y-%m-%d"])


class Whole(click.IntRange):
    """A whole number in a range, which says in plain words what to write."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Take the number, or say what to write."""
        try:
            return super().convert(value, param, ctx)
        except click.BadParameter:
            span = f" from {self.min}" + (f" to {self.max}" if self.max is not None else " on")
            self.fail(f'"{value}" will not do. Write a whole number{span}.', param, ctx)


class Number(click.FloatRange):
    """A number in a range, without its unit, which says in plain words what to write."""

    def __init__(self, low: float | None = None, high: float | None = None, *, example: float) -> None:
        super().__init__(low, high)
        self.example = example

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Take the number, or say what to write."""
        from shiftlore.basics.quantities import as_thousands

        plain = as_thousands(str(value)) if (self.max or 0) >= MOST_MONEY else ""
        if plain:
            self.fail(
                f'"{value}" may be meant as {plain}. Write {plain}, or the number without three decimals.', param, ctx
            )
        with contextlib.suppress(click.BadParameter):
            if math.isfinite(number := super().convert(value, param, ctx)):
                return number
        span = "" if self.max is None else f" from {self.min:,.10g} to {self.max:,.10g}"
        said = param.opts[0].lstrip("-") if param is not None else "it"
        advice = f"Write the {said} as a plain number{span}, such as {self.example:g}."
        self.fail(f'"{value}" will not do. {advice}', param, ctx)


MOST_MONEY = 10_000_000
BUDGET, RATE = Number(0, MOST_MONEY, example=400), Number(0, MOST_MONEY, example=95)
force_option = click.option("--force", is_flag=True, help="Overwrite an existing file.")
format_option = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    help="Text to read, or JSON for other programs.",
)
plain_option = click.option("--plain", is_flag=True, help="No colour and no box characters.")
knowledge_help = "Another knowledge folder than the one that came with the program."
A_FOLDER = click.Path(exists=True, file_okay=False, path_type=Path)
knowledge_option = click.option("--knowledge", "folder", type=A_FOLDER, metavar="FOLDER", help=knowledge_help)
timing_option = click.option("--timing", is_flag=True, help="Say how long it took.")
shop_help = "Another shop file than your own; `shiftlore shop` shows and sets yours."
shop_option = click.option("--shop", "shop_path", type=A_PATH, metavar="FILE", help=shop_help)

MOST_JOBS = 1024
jobs_option = click.option("--jobs", type=Whole(1, MOST_JOBS), metavar="N", help="Processes at work.")
scheduler_help = "Workers of this Dask scheduler instead of processes here."
scheduler_option = click.option("--scheduler", metavar="ADDRESS", default="", help=scheduler_help)


def unit_option(name: str, text: str, flag: str = "--unit") -> Callable[..., Any]:
    """Give an option that takes a unit or a kind, and completes it."""
    return click.option(flag, name, metavar="UNIT", help=text, shell_complete=complete_ids("units"))


case_argument = click.argument("case_path", metavar="CASE", type=click.Path(allow_dash=True))


def case_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Give a command what every command on a case takes."""
    shared = (timing_option, knowledge_option, plain_option, format_option, case_argument)
    return reduce(lambda made, option: option(made), shared, command)


def complete_ids(*kinds: str) -> Callable[[click.Context, click.Parameter, str], list[str]]:
    """Give what completes ids of some kinds of records in a shell; only their names are read.

    Args:
        kinds: such as `causes` or `units`.
    """

    def complete(context: click.Context, parameter: click.Parameter, begun: str) -> list[str]:
        from shiftlore.knowledge import find_knowledge, list_ids

        folder = context.params.get("folder") or find_knowledge()
        return [name for name in list_ids(folder, kinds) if name.startswith(begun)]

    return complete


def load_trade(folder: Path | None, shop_path: Path | None = None, overlay: Path | None = None) -> "Knowledge":
    """Load the rules with the user's own shop laid over them.

    Args:
        shop_path: another shop's file; None takes the user's own, if there is one.
        overlay: numbers that cases have taught.
    Raises: UsageProblem: there is no such file. KnowledgeError: with every problem.
    """
    from shiftlore.knowledge import find_own_shop

    if overlay is not None and not overlay.is_file():
        raise UsageProblem(f"There is no overlay {overlay}. Make it: shiftlore learn CASES --into {overlay}")

    if shop_path is not None and not shop_path.is_file():
        advice = f"Make it: shiftlore shop --shop {shop_path} labour_per_hour=95"
        raise UsageProblem(f"There is no shop file {shop_path}. {advice}")
    own = shop_path or find_own_shop()
    own = own if own is not None and own.exists() else None
    laid = overlay or _find_overlay(own)
    knowledge = shiftlore.load(folder, own, laid)
    if laid is not None and overlay is None:
        from shiftlore.compiling import count_taught

        click.echo(f"With what {count_taught(knowledge)} have taught ({printable(str(laid))}).", err=True)
    return knowledge


def recall_cases() -> "Sequence[Remembered]":
    """Give the closed cases of the shop, which a case may look like; none where there is no casebook.

    A casebook that cannot be read is told, and keeps nobody from ranking.
    """
    from shiftlore.knowledge import find_data_folder, find_own_shop

    folder, own = find_data_folder(), find_own_shop()
    is_kept = folder is not None and folder.is_dir()
    if not (is_kept or os.environ.get(CASEBOOK_NAMED) or (own is not None and own.exists())):
        return ()  # so that what opens a casebook is not even looked for
    from shiftlore.casebook import recall_casebook

    try:
        return recall_casebook(PATIENCE_SECONDS)
    except ShiftloreError as error:
        click.echo(f"Your own cases were not looked through. {error}", err=True)
        return ()


def _find_overlay(own: Path | None) -> Path | None:
    """Find the overlay that the shop's file names.

    Raises: UsageProblem: it is not there.
    """
    if own is None:
        return None
    from shiftlore.knowledge import OVERLAY, peek_setting

    if not (named := peek_setting(own, OVERLAY)):
        return None
    path = own.parent / Path(named).expanduser()
    if not path.is_file():
        advice = f"Make it: shiftlore learn --casebook --into {path}; or take the setting back: shiftlore shop overlay="
        raise UsageProblem(f"There is no overlay {printable(str(path))}, which your shop's settings name. {advice}")
    return path


def read_case_file(path: str, knowledge: "Knowledge") -> "Case":
    """Read a case from a path or standard input; warnings go to standard error.

    Raises: CaseError: with every problem of the case.
    """
    source: Path | str = _read_stdin() if path == STDIN else Path(path)
    case = shiftlore.read_case(source, knowledge, STDIN_NAME if path == STDIN else None)
    tell_problems(case.warnings)
    return case


def _read_stdin() -> str:
    """Read all of standard input as UTF-8 text."""
    from shiftlore.reading import CASE_BYTES

    try:
        content = sys.stdin.buffer.read(CASE_BYTES + 1)
        text = content.decode("utf-8", "replace" if len(content) > CASE_BYTES else "strict")
    except UnicodeDecodeError as error:
        problem = Problem(Mark(STDIN_NAME, 1, 1), "C001", "This is not UTF-8 text", "Save it as UTF-8.")
        raise CaseError([problem]) from error
    return text if "\n" in text else text + "\n"


_typed_ahead: list[str] = []
"""What was typed between two screens, for the prompt that comes next."""


def read_line(prompt: str = "> ") -> str:
    """Read one line that is typed, with arrow keys where the system can, or comes through a pipe.

    Raises: EOFError: the input has ended.
    """
    if _typed_ahead:
        click.echo(f"{prompt}{_typed_ahead[0]}")
        return _typed_ahead.pop(0)
    if sys.stdin.isatty():
        with contextlib.suppress(ImportError):
            import readline  # noqa: F401
        try:
            return input(prompt)
        except (EOFError, KeyboardInterrupt):
            click.echo()  # what follows begins on a line of its own
            raise
    click.echo(prompt, nl=False)
    line = sys.stdin.readline()
    if not line:
        click.echo()
        raise EOFError
    click.echo(line.rstrip("\n"))
    return line


@contextlib.contextmanager
def busy(text: str) -> Iterator[Callable[[float], None]]:
    """Say on a terminal what is being worked out and how far it is, and wipe it out when it is done.

    Elsewhere nothing is written. Gives a function that takes how far it is, 0 to 1; without it the seconds are told.
    """
    if not sys.stderr.isatty():
        yield lambda share: None
        return
    screen, over, shares = sys.stderr, threading.Event(), [0.0]

    def tick() -> None:
        for seconds in count(1):
            if over.wait(TICK_SECONDS):
                return
            far = f"{shares[-1]:.0%}".replace("%", " %") if shares[-1] else f"{seconds} s"
            click.echo(f"\r{text} ... {far}", nl=False, file=screen)

    click.echo(f"{text} ...", nl=False, file=screen)
    ticker = threading.Thread(target=tick, daemon=True)
    ticker.start()
    try:
        yield shares.append
    finally:
        over.set()
        ticker.join()
        click.echo("\r" + " " * (len(text) + 10) + "\r", nl=False, file=screen)


def show_pages(text: str) -> None:
    """Print a text; on a terminal that it does not fit, a screen at a time. Enter goes on, q leaves out the rest.

    Whatever else is typed goes on too, and is taken at the prompt that comes next.
    """
    lines, rows = text.split("\n"), shutil.get_terminal_size((80, 24)).lines - 1
    if not (sys.stdin.isatty() and sys.stdout.isatty()) or len(lines) <= rows:
        click.echo(text)
        return
    held, word = [], ""
    while lines and word.lower() != "q":
        shown = len(lines) if len(lines) <= rows + 1 else rows
        click.echo("\n".join(lines[:shown]))
        lines = lines[shown:]
        more = "more lines" if terminal_width() >= PAGER_WIDTH else "more"
        word = read_line(f"-- {len(lines)} {more}: Enter; q leaves them out -- ").strip() if lines else ""
        held += [word] if word and word.lower() != "q" else []
    _typed_ahead.extend(held)


def tell_problems(problems: Iterable[Problem]) -> None:
    """Write problems to standard error."""
    for problem in problems:
        click.echo(render_problem(problem), err=True)


def wants_colour(plain: bool) -> bool:
    """Tell whether colour may be used: a terminal, and nobody asked for none."""
    return not plain and "NO_COLOR" not in os.environ and sys.stdout.isatty() and os.environ.get("TERM") != "dumb"


def strong_mark(plain: bool) -> Callable[[str], str]:
    """Give the way to set a heading off."""
    return (lambda text: click.style(text, bold=True)) if wants_colour(plain) else (lambda text: text)


def terminal_width() -> int:
    """Give the line length for texts: the terminal's, within reason; 80 in a pipe."""
    return clamp_width(shutil.get_terminal_size((80, 24)).columns) if sys.stdout.isatty() else 80


def say(text: str) -> None:
    """Print a sentence or two in lines of the terminal's width."""
    click.echo("\n".join(wrap_lines(text, width=terminal_width())))


def write_json(result: object, timing: bool = False) -> None:
    """Print a result as JSON to standard output; the time that it took only where that was asked for."""
    from shiftlore.reports.schemas import render_json

    click.echo(render_json(result, timing))


def show(
    form: str,
    result: object,
    render: Callable[[int, Callable[[str], str]], str],
    plain: bool,
    seconds: float | None = None,
) -> None:
    """Print a result as JSON, or as text a screen at a time.

    Args:
        render: writes the text, given the line length and how headings are set off.
        seconds: how long it took, where that was asked for.
    """
    if form == "json":
        write_json(result, seconds is not None)
        return
    tell_time(seconds or 0.0, seconds is not None)
    show_pages(render(terminal_width(), strong_mark(plain)))


def tell_time(seconds: float, timing: bool) -> None:
    """Say on standard error how long it took, where that was asked for."""
    if timing:
        click.echo(f"Worked out in {seconds:.2f} s.", err=True)


def require_place(path: Path, advice: str = "Choose another place.", force: bool = True, ending: str = "") -> None:
    """Refuse, before anything is asked or worked out, a place where the file cannot be written.

    Args:
        force: whether a file that is there may be overwritten.
        ending: endings that the name may have, apart by `|`; "" allows any.
    Raises: UsageProblem: says what to give instead.
    """
    endings = ending.split("|")
    if ending and path.suffix.lower() not in endings:
        raise UsageProblem(f"{path} will not do. Give a file name that ends in {' or '.join(endings)}.")
    if printable(str(path)) != str(path):
        raise UsageProblem(f"{printable(str(path))} will not do. Give a file name of letters that can be read.")
    try:
        exists = path.exists()
        if not path.parent.is_dir():
            raise UsageProblem(f"There is no folder {path.parent}. Make it first, or give another file.")
        try_place(path)
    except OSError as error:
        raise UsageProblem(f"{path} cannot be written: {error.strerror or error}. {advice}") from error
    if exists and not force:
        raise UsageProblem(f"{path} exists already. Choose another name, or add --force.")


def refuse_unit(path: Path, knowledge: "Knowledge") -> None:
    """Refuse a unit or kind of unit where a file is asked for: it would become the name of a new one.

    Raises: UsageProblem: says how the unit is given.
    """
    if str(path) in knowledge.sheets and not path.exists():
        raise UsageProblem(f"{path} is a unit, and no file yet. Write --unit {path}; a file may be called {path}.yaml.")


def save_output(path: Path, content: bytes | Iterable[bytes], force: bool, mode: int | None = None) -> None:
    """Write what was asked for, whole or not at all; a file that appeared meanwhile is left alone.

    Args:
        mode: permission bits that it gets; None takes what the user's mask allows.
    Raises: UsageProblem: it exists and `force` is not set. ShiftloreError: tells why it cannot be written; what was there
        before is still there.
    """
    try:
        write_whole(try_place(path), content, new_file_mode() if mode is None else mode, replace=force)
    except FileExistsError:
        raise UsageProblem(f"{path} exists already. Choose another name, or add --force.") from None
    except OSError as error:
        raise ShiftloreError(f"{path} cannot be written: {error.strerror or error}. Choose another place.") from error


def free_name(path: Path) -> Path:
    """Give the first name of this kind that no file has: case-2.yaml beside case.yaml."""
    return next(name for number in count(2) if not (name := path.with_stem(f"{path.stem}-{number}")).exists())


def require_library(name: str, purpose: str) -> None:
    """Refuse, before any work is done, what needs a library that is not installed.

    Raises: UsageError: says what to install.
    """
    if util.find_spec(name) is None:
        raise click.UsageError(
            f"{purpose} needs {name}, which is not installed. Install it: python -m pip install {name}"
        )
