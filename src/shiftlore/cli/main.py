"""The `shiftlore` command: one thin shell per public function, exit codes, and no traceback for bad input."""

import contextlib
import gc
import os
import sys
import warnings
from importlib import import_module
from io import StringIO
from typing import TextIO

import click

from shiftlore.basics import ShiftloreError, UnknownId, UsageProblem
from shiftlore.basics.problems import printable
from shiftlore.version import __version__

OK, BAD_INPUT, BAD_USAGE, OUR_FAULT, STOPPED = 0, 1, 2, 3, 130

# Command -> module in this package that holds its `<command>_command`; imported only when asked for.
COMMANDS = {
    "triage": "triage",
    "rank": "on_case",
    "next": "on_case",
    "options": "on_case",
    "unit": "unit",
    "shop": "shop",
    "find": "find",
    "explain": "find",
    "close": "close",
    "casebook": "casebook",
    "fleet": "in_bulk",
    "learn": "in_bulk",
    "practise": "practise",
    "validate": "validate",
    "trace": "trace",
    "simulate": "in_bulk",
    "schema": "validate",
}


class LazyGroup(click.Group):
    """A group whose commands are imported when they are used."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Name the commands in the order in which a visit uses them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = getattr(import_module(f"shiftlore.cli.{COMMANDS[cmd_name]}"), f"{cmd_name}_command")
        return command


SETTINGS = {"help_option_names": ["-h", "--help"], "max_content_width": 80, "show_default": True}


@click.group(cls=LazyGroup, context_settings=SETTINGS)
@click.version_option(__version__, prog_name="shiftlore")
def shiftlore() -> None:
    """Say what is most likely wrong with an automatic transmission, which check to make next and what it costs.

    Start with `shiftlore triage` and answer in plain words. It writes a case, a small file about one vehicle, which
    the other commands read. The maker's procedure and the local rules come first.
    """


def run() -> None:
    """Run the command line and leave with the exit code of the contract."""
    # Arrays here are small: more than one thread of the linear algebra library only costs start-up and waiting.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    # One short-lived process builds many small records and drops hardly any: collecting them only costs time.
    gc.disable()
    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # what libraries tell programmers of their next version
    sys.exit(run_with(sys.argv[1:]) if _open_streams() else BAD_INPUT)


def _open_streams() -> bool:
    """Put something in place of closed streams, lest a file take their number; without an output there is nothing to do."""
    closed = [name for name in ("stdin", "stdout", "stderr") if getattr(sys, name) is None]
    for name in closed:
        setattr(sys, name, open(os.devnull, "r" if name == "stdin" else "w"))  # noqa: SIM115 - open until the end
    if "stdout" in closed:
        click.echo("The output is closed, so nothing can be shown. Send it to a screen, a file or a pipe.", err=True)
    return "stdout" not in closed


def run_with(arguments: list[str]) -> int:
    """Run one command.

    Returns: 0 done, 1 the input or the system has problems, 2 wrong usage, 3 a fault of ours, 130 stopped from the keyboard.
    """
    try:
        return _run(arguments)
    except BrokenPipeError:
        _silence(sys.stdout)
        return OK  # whoever read our output has seen enough
    except OSError as error:
        _silence(sys.stdout)
        with contextlib.suppress(OSError):
            _tell(f"This cannot be done here: {error.filename or 'the output'}: {error.strerror or error}.")
            return BAD_INPUT
        _silence(sys.stderr)
        return BAD_INPUT


def _run(arguments: list[str]) -> int:
    try:
        code = shiftlore.main(arguments, prog_name="shiftlore", standalone_mode=False)
        sys.stdout.flush()
        return code if isinstance(code, int) else OK
    except click.exceptions.Exit as stop:
        return int(stop.exit_code)
    except click.ClickException as error:
        shown = StringIO()
        error.show(shown)
        _tell(shown.getvalue().rstrip("\n"))
        return BAD_USAGE if isinstance(error, click.UsageError) else BAD_INPUT
    except (UsageProblem, UnknownId) as error:
        _tell(str(error))
        return BAD_USAGE
    except ShiftloreError as error:
        _tell(str(error))
        return BAD_INPUT
    except MemoryError:
        _tell("There is not enough memory for this. What was answered is kept. Close other programs and try again.")
        return BAD_INPUT
    except (click.Abort, KeyboardInterrupt):
        click.echo("\nStopped.", err=True)
        return STOPPED
    except SystemExit:
        return OK  # only click raises this here, when a pipe closes under it: the reader has seen enough
    except OSError:
        raise
    except Exception as error:
        return _tell_fault(error)


def _tell(text: str) -> None:
    """Write what is wrong to standard error; what came from outside may hold nothing that a screen obeys."""
    click.echo("\n".join(map(printable, text.split("\n"))), err=True)


def _silence(stream: TextIO) -> None:
    """Send what is still to be written nowhere, lest the end of the program fail over it."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _tell_fault(error: Exception) -> int:
    """Tell a fault of ours in two lines, with the place, and ask for a report."""
    from traceback import extract_tb

    last = extract_tb(error.__traceback__)[-1]
    place = f"{os.path.basename(last.filename)}:{last.lineno}"
    click.echo(f"This is a fault of Shiftlore, not of your input: {type(error).__name__} at {place}: {error}", err=True)
    click.echo("Please report it together with the case file.", err=True)
    return OUR_FAULT
