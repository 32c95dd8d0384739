"""The documentation says what the program does: shown output is produced anew, commands, links and paths are checked.

`SHIFTLORE_UPDATE_GOLDEN=1 python -m pytest tests/test_docs.py` writes the outputs shown in README.md anew; look at the
difference then.

A block that starts with `$ shiftlore` is run in a folder that holds the examples. Comments before it say what is shown,
by `lines: 1-9, 14-` or by the first words of `paragraphs: What it may | Check` (the rest is cut, and marked with `[...]`),
and what a command that asks is told: `replies: question => reply; ...`, an empty question standing for all others.
"""

import io
import os
import re
import shlex
import shutil
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from support.trade import share_trade, shipped

import shiftlore
from shiftlore.casebook import import_lines, open_casebook
from shiftlore.cli.main import COMMANDS, run_with
from shiftlore.knowledge import collect_knowledge

ROOT = Path(__file__).parents[1]
README = ROOT / "README.md"
GUIDES = [README, ROOT / "DEVELOPERS.md", ROOT / "knowledge" / "README.md", ROOT / "knowledge" / "units" / "README.md"]
CUT, UPDATE = "[...]", "SHIFTLORE_UPDATE_GOLDEN"
BLOCK = re.compile(r"((?:<!-- (?:lines|paragraphs|replies): .*? -->\n)*)```console\n\$ (shiftlore .*)\n([\s\S]*?)```")
NOTE = re.compile(r"<!-- (lines|paragraphs|replies): (.*?) -->")
WIDEST, MOST_REPLIES = 110, 60
OF_THE_CASEBOOK, EXAMPLE_BOOK = ("close", "casebook"), ROOT / "examples" / "casebook.jsonl"
"""Commands that are shown on the casebook of the examples."""
LONGEST_GUIDE = 280


class Replies(io.StringIO):
    """A keyboard that answers the question printed last."""

    def __init__(self, printed: io.StringIO, text: str):
        super().__init__()
        self.printed, self.given = printed, 0
        self.pairs = [tuple(part.strip() for part in pair.split("=>")) for pair in text.split(";") if "=>" in pair]

    def readline(self, size: int = -1, /) -> str:
        """Give the first reply whose question stands in the last paragraph."""
        self.given += 1
        assert self.given < MOST_REPLIES, "the session does not end: a question may have changed its words"
        asked = self.printed.getvalue().split("\n\n")[-1]
        return next((reply for question, reply in self.pairs if question in asked), "") + "\n"


def run_command(command: str, replies: str = "") -> tuple[int, str]:
    """Run one command line in this process; give its exit code and what it printed."""
    printed = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, TemporaryDirectory() as folder:
        patch.setattr(sys, "stdout", printed)
        patch.setattr(sys, "stdin", Replies(printed, replies))
        share_trade(patch)
        words = shlex.split(command)[1:]
        patch.setenv("SHIFTLORE_CASEBOOK", f"{folder}/casebook.db")  # of whoever runs the tests none counts
        if words[0] in OF_THE_CASEBOOK and "--help" not in words:
            with open_casebook() as book:
                import_lines(book, EXAMPLE_BOOK.read_bytes().splitlines(keepends=True))
        code = run_with(words)
    return code, printed.getvalue()


def cut_output(text: str, notes: dict[str, str]) -> str:
    """Keep the lines or paragraphs that a block shows; mark what is cut."""
    between = "\n\n" if "paragraphs" in notes else "\n"
    parts = text.rstrip("\n").split(between)
    kept: list[str] = []
    for number, part in enumerate(parts, 1):
        if is_shown(number, part, notes):
            kept.append(part)
        elif not kept or kept[-1] != CUT:
            kept.append(CUT)
    return between.join(kept) + "\n"


def is_shown(number: int, part: str, notes: dict[str, str]) -> bool:
    """Tell whether a line (by its number) or a paragraph (by its first words) is shown."""
    if "paragraphs" in notes:
        return any(part.strip().startswith(words.strip()) for words in notes["paragraphs"].split("|"))
    spans = [span.strip().partition("-") for span in notes.get("lines", "1-").split(",")]
    return any(int(first) <= number <= int(last or (len(dash) * 10_000 or first)) for first, dash, last in spans)


def fresh_block(notes_text: str, command: str) -> str:
    """Produce what a block should show."""
    notes = dict(NOTE.findall(notes_text))
    code, printed = run_command(command, notes.get("replies", ""))
    assert 0 == code, f"{command} ended with {code}"
    return cut_output(printed, notes)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the examples in it, to run commands in."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("COLUMNS", raising=False)
    return tmp_path


BLOCKS = [match.groups() for match in BLOCK.finditer(README.read_text(encoding="utf-8"))]


@pytest.mark.skipif(UPDATE in os.environ, reason="being written anew")
@pytest.mark.parametrize(("notes", "command", "shown"), BLOCKS, ids=[command for _, command, _ in BLOCKS])
def test_readme__shows_what_the_command_prints(bench: Path, notes: str, command: str, shown: str) -> None:
    assert shown == fresh_block(notes, command)


@pytest.mark.skipif(UPDATE not in os.environ, reason="only when asked for")
def test_readme__is_written_anew_when_asked_for(bench: Path) -> None:
    def written(match: re.Match[str]) -> str:
        notes, command, _ = match.groups()
        return f"{notes}```console\n$ {command}\n{fresh_block(notes, command)}```"

    README.write_text(BLOCK.sub(written, README.read_text(encoding="utf-8")), encoding="utf-8")
    assert BLOCKS


def fenced(language: str) -> str:
    """Give the first block of a language in the README."""
    found = re.search(rf"```{language}\n(.*?)```", README.read_text(encoding="utf-8"), re.DOTALL)
    assert found, f"no {language} block"
    return found[1]


def test_readme__shows_a_case_that_is_accepted(bench: Path) -> None:
    Path("shown.yaml").write_text(fenced("yaml"), encoding="utf-8")
    assert (0, "Clean.\n") == run_command("shiftlore validate shown.yaml")


def test_readme__shows_python_that_runs(bench: Path, capsys: pytest.CaptureFixture[str]) -> None:
    exec(compile(fenced("python"), "README.md", "exec"), {})
    assert 4 == len(capsys.readouterr().out.splitlines())


def test_readme__shows_a_simulation() -> None:
    table = README.read_text(encoding="utf-8").split("<!-- simulate -->")[1].split("<!-- /simulate -->")[0]
    assert {"this planner", "cheapest check first", "overhaul at once"} <= {
        line[:26].strip() for line in table.splitlines()
    }


def test_readme__its_session_ends_as_a_user_ends_it() -> None:
    """What is typed is matched by the question: one that changed its words would be answered by "?" for ever."""
    session = next(shown for _, command, shown in BLOCKS if command.startswith("shiftlore triage"))
    typed = [line for line in session.splitlines() if line.startswith("> ")]
    assert "> q" == typed[-1] and typed.count("> ?") <= 3


def test_readme__shows_enough_and_fits_a_terminal() -> None:
    shown = [line for _, _, text in BLOCKS for line in text.splitlines()]
    assert len(shown) >= 50
    assert [] == [line for line in shown if len(line) > WIDEST]


@pytest.mark.parametrize("name", COMMANDS)
def test_command__has_help_and_stands_in_the_readme(name: str) -> None:
    code, text = run_command(f"shiftlore {name} --help")
    assert (0, True) == (code, text.startswith(f"Usage: shiftlore {name} "))
    assert f"shiftlore {name}" in README.read_text(encoding="utf-8")


def every_option(name: str, then: str = "") -> set[str]:
    """List the long options that a command's help names; of a group that of the command that is named next."""
    text = run_command(f"shiftlore {name} --help")[1]
    below = re.findall(r"^  ([a-z]+) ", text.partition("Commands:")[2], re.MULTILINE)
    if (word := then.split()[:1]) and word[0] in below:
        text = run_command(f"shiftlore {name} {word[0]} --help")[1]
    return set(re.findall(r"--[a-z][a-z-]+", text)) - {"--help"}


def test_guides__name_no_option_that_is_not_there() -> None:
    wrong = []
    for guide in GUIDES:
        for name, rest in re.findall(r"shiftlore ([a-z]+)([^`\n]*)", guide.read_text(encoding="utf-8")):
            if name in COMMANDS:
                wrong += [
                    f"{guide.name}: {name} {option}"
                    for option in set(re.findall(r"--[a-z][a-z-]+", rest))
                    if option not in every_option(name, rest)
                ]
    assert [] == wrong


@pytest.mark.parametrize("guide", GUIDES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_guide__links_to_files_that_exist(guide: Path) -> None:
    links = re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", guide.read_text(encoding="utf-8"))
    assert [] == [link for link in links if "://" not in link and not (guide.parent / link).exists()]


@pytest.mark.parametrize("guide", GUIDES[:2], ids=lambda path: path.name)
def test_guide__names_folders_and_files_that_exist(guide: Path) -> None:
    """Whatever stands in backquotes and starts with a folder of the project."""
    named = re.findall(r"`((?:src|tests|knowledge|examples|\.ci)/[\w./-]*)`", guide.read_text(encoding="utf-8"))
    assert named
    assert [] == [name for name in named if not (ROOT / name).exists()]


@pytest.mark.parametrize("guide", GUIDES, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_guide__has_no_path_of_a_machine(guide: Path) -> None:
    text = guide.read_text(encoding="utf-8")
    assert [] == re.findall(r"(?:/home/|/root/|/work/|/tmp/|/Users/|[A-Z]:\\)\S*", text)


def test_developers_guide__stays_short() -> None:
    assert LONGEST_GUIDE >= len((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").splitlines())


def test_developers_guide__names_every_room() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = [path.parent.name for path in (ROOT / "src" / "shiftlore").glob("*/__init__.py")]
    assert [] == [room for room in rooms if f"`{room}`" not in text]


def test_knowledge_guide__shows_a_cause_and_a_card_that_are_accepted(tmp_path: Path) -> None:
    """The two examples take the place of the shipped files of the same id."""
    text = (ROOT / "knowledge" / "README.md").read_text(encoding="utf-8")
    folder = tmp_path / "knowledge"
    shutil.copytree(ROOT / "knowledge", folder)
    cause, card = (
        block for block in re.findall(r"```yaml\n(.*?)```", text, re.DOTALL) if block.startswith("id: worn_")
    )
    (folder / "causes" / "elements" / "worn_element_lining.yaml").write_text(cause, encoding="utf-8")
    (folder / "textbook" / "worn_element_lining.yaml").write_text(card, encoding="utf-8")
    assert [] == [str(problem) for problem in collect_knowledge(folder)[1]]


def test_knowledge_guide__names_every_folder_and_list() -> None:
    text = (ROOT / "knowledge" / "README.md").read_text(encoding="utf-8")
    names = [path.name for path in (ROOT / "knowledge").iterdir() if path.is_dir() or path.suffix == ".yaml"]
    assert [] == [name for name in names if name not in text]


def test_readme__the_further_keys_of_a_case_read_as_shown() -> None:
    """On a kind, as the sheet that is named there is somebody's own; nothing in it is unknown but what a ratio of a kind is."""
    shown = README.read_text(encoding="utf-8").split("```yaml\n")
    block = next(text for text in shown if "onset:" in text).split("```")[0]
    own = block.replace("sheets/our_eight.yaml", "step").replace("unit: step ", "shiftlore: 1\nunit: step ")
    case = shiftlore.read_case(own, shipped(), "readme")
    assert [("C034", "readme:11:3")] == [(item.code, str(item.mark)) for item in case.warnings]
    assert case.measured and case.either and case.onset and case.done[0].found_after and case.background_doubts
