"""The `shiftlore` command: one thin shell per public function, exit codes, and no traceback for bad input."""

import gc
import os
import sys
from importlib import import_module

import click

from shiftlore.basics import ShiftloreError
from shiftlore.version import __version__

OK, BAD_INPUT, BAD_USAGE, OUR_FAULT, STOPPED = 0, 1, 2, 3, 130

# Command -> module in this package that holds its `<command>_command`; imported only when asked for.
COMMANDS = {
    "triage": "triage",
    "rank": "rank",
    "next": "next_step",
    "options": "options",
    "unit": "unit",
    "shop": "shop",
    "find": "find",
    "explain": "explain",
    "learn": "learn",
    "validate": "validate",
    "simulate": "simulate",
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
    sys.exit(run_with(sys.argv[1:]))


def run_with(arguments: list[str]) -> int:
    """Run one command.

    Returns: 0 done, 1 the input has problems, 2 wrong usage, 3 a fault of ours, 130 stopped from the keyboard.
    """
    try:
        code = shiftlore.main(arguments, prog_name="shiftlore", standalone_mode=False)
        sys.stdout.flush()
        return code if isinstance(code, int) else OK
    except click.exceptions.Exit as stop:
        return int(stop.exit_code)
    except click.ClickException as error:
        error.show()
        return BAD_USAGE if isinstance(error, click.UsageError) else BAD_INPUT
    except ShiftloreError as error:
        click.echo(str(error), err=True)
        return BAD_INPUT
    except (click.Abort, KeyboardInterrupt):
        click.echo("\nStopped.", err=True)
        return STOPPED
    except SystemExit:
        return OK  # only click raises this here, when a pipe closes under it: the reader has seen enough
    except BrokenPipeError:
        # Whoever read our output has seen enough; silence the flush at exit too.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return OK
    except Exception as error:
        return _tell_fault(error)


def _tell_fault(error: Exception) -> int:
    """Tell a fault of ours in two lines, with the place, and ask for a report."""
    from traceback import extract_tb

    last = extract_tb(error.__traceback__)[-1]
    place = f"{os.path.basename(last.filename)}:{last.lineno}"
    click.echo(f"This is a fault of Shiftlore, not of your input: {type(error).__name__} at {place}: {error}", err=True)
    click.echo("Please report it together with the case file.", err=True)
    return OUR_FAULT
