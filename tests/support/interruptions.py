"""A triage that is killed again and again: what was answered must be on disk, and the next start goes on from there."""

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import shiftlore
from shiftlore.cases import Case
from shiftlore.sessions import Interview, open_desk
from support.trade import ROOT, shipped

PROMPT = b"> "
DONE = "m more questions"
OPENING = {
    "How many kilometres": "182000",
    "Say it in plain words": "it slips and bangs into second, fluid is dark",
    "Which transmission": "long5",
    "Which trouble codes": "P0732",
}


class Triage:
    """One run of the program on a case file, read and answered through pipes."""

    def __init__(self, path: Path):
        command = [sys.executable, "-m", "shiftlore", "triage", str(path)]
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
        self.process = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            cwd=ROOT,
            env=environment,
            bufsize=0,
        )

    def read(self) -> str:
        """Give what is shown until the next prompt, or all there is when it ends."""
        assert self.process.stdout is not None, "made with a pipe"
        shown = b""
        while not (shown.endswith(b"\n" + PROMPT) or shown == PROMPT):
            more = self.process.stdout.read(4096)
            if not more:
                break
            shown += more
        return " ".join(shown.decode().split())

    def write(self, line: str) -> None:
        """Type a line."""
        assert self.process.stdin is not None, "made with a pipe"
        self.process.stdin.write(line.encode() + b"\n")

    def kill(self) -> str:
        """Kill it without warning and give what it wrote to standard error."""
        self.process.kill()
        _, err = self.process.communicate()
        return err.decode()


def load(path: Path) -> Case:
    """Read the case as it stands on disk; a file that cannot be read raises."""
    case = shiftlore.read_case(path, shipped()) if path.exists() else Case("")
    assert not [one for one in case.warnings if one.code == "C026"], "it writes only questions that it knows"
    return case


def next_question(case: Case) -> str:
    """Give the text of the question that an interview on this case would ask, or "" at its end."""
    question = open_desk(Interview(shipped(), case)).question
    return "" if question is None else " ".join(question.text.split())


def choose_reply(shown: str, rng: random.Random) -> str:
    """Answer the opening properly and everything else by chance."""
    last = shown.rsplit(" Why:", 1)[0][-400:]
    for words, reply in OPENING.items():
        if words in last:
            return reply
    return rng.choice(["1", "2", "n", "?", "y", "y?"])


def kill_once(path: Path, rng: random.Random, most_answers: int = 4) -> int:
    """Start, answer a few questions, be killed, and see that nothing acknowledged is lost.

    Returns: how many answers were acknowledged by a next question before the kill.
    """
    expected = next_question(load(path))
    triage = Triage(path)
    shown = triage.read()
    assert expected[:60] in shown, f"went on with {shown!r} instead of {expected!r}"
    held = load(path)
    for _ in range(rng.randint(0, most_answers)):
        if DONE in shown:
            break
        triage.write(choose_reply(shown, rng))
        shown = triage.read()
        held = load(path)
    acknowledged = len(held.asked)
    if DONE not in shown:
        triage.write(choose_reply(shown, rng))
        time.sleep(rng.choice([0, 0, 0.001, 0.003, 0.01, 0.03, 0.1]))
    assert "Traceback" not in triage.kill()
    after = load(path)
    # Words that were refused are asked for once more.
    assert set(held.asked) - {"complaint"} <= set(after.asked)
    assert held.findings.items() <= after.findings.items()
    assert held.background.items() <= after.background.items()
    assert held.complaint in ((), after.complaint)
    assert {".part", ".open"} >= {item.suffix for item in path.parent.iterdir() if item != path}
    if DONE in shown:
        path.unlink()
    return acknowledged
