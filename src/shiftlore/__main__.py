"""Run `python -m shiftlore`."""

from shiftlore.cli.main import run

if __name__ == "__main__":
    run()
