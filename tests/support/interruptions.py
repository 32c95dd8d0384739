"""A program that is killed again and again: what was answered must be on disk, what was written whole or not there."""

import os
import random
import subprocess
import sys
import time
from pathlib import Path

import shiftlore
from shiftlore.cases import Case
from shiftlore.sessions import Interview, open_desk
from shiftlore.sheets import load_sheet
from support.trade import ROOT, shipped

PROMPT = b"> "
DONE = "m more questions"
OPENING = {
    "How many kilometres": "182000",
    "Say it in plain words": "it slips and bangs into second, fluid is dark",
    "Which transmission": "long5",
    "Which trouble codes": "P0732",
}


class Run:
    """One run of the program, read and answered through pipes."""

    def __init__(self, *arguments: str):
        environment = {**os.environ, "PYTHONPATH": str(ROOT / "src")}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "shiftlore", *arguments],
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
    triage = Run("triage", str(path))
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


NEW_SHEET = ["own3", "Own three-speed", "step fwd converter", "", "c1 clutch", "b1 band", "", "1 2.4 c1", "2 1.0 c1 b1"]
NEW_SHEET += ["R 2.0 b1", "", "", "", "", "", "8"]


def kill_new_sheet(path: Path, rng: random.Random, most_answers: int = 5) -> int:
    """Start a new sheet or go on with it, answer a few questions of `NEW_SHEET`, be killed; no answer shown as taken is lost.

    Returns: how many answers were kept.
    """
    kept = path.with_name(path.name + ".answers")
    before = kept.read_text(encoding="utf-8").splitlines() if kept.exists() else []
    asking = Run("unit", "--new", str(path))
    assert bool(before) == ("Going on with" in asking.read())
    taken = len(before)
    for line in NEW_SHEET[taken : taken + rng.randint(0, most_answers)]:
        asking.write(line)
        if "holds together" not in asking.read():
            taken += 1
    if taken < len(NEW_SHEET) and asking.process.poll() is None:
        asking.write(NEW_SHEET[taken])
        time.sleep(rng.choice([0, 0, 0.001, 0.003, 0.01, 0.03]))
    assert "Traceback" not in asking.kill()
    if path.exists():
        assert load_sheet(path).id == NEW_SHEET[0]
        path.unlink()
        kept.unlink(missing_ok=True)
        return len(NEW_SHEET)
    after = kept.read_text(encoding="utf-8").splitlines() if kept.exists() else []
    assert after in (NEW_SHEET[:taken], NEW_SHEET[: taken + 1]), (taken, after)
    return len(after)


def kill_writing(arguments: list[str], target: Path, whole: bytes, seconds: float, rng: random.Random) -> str:
    """Kill a command that writes a file, at a random moment or just when it writes: the file is whole, or as it was.

    Args:
        whole: what it writes when it is left alone.
        seconds: how long it takes then.
    Returns: "new" or "old", whichever stands there.
    """
    old = rng.choice([b"what stood there before", whole[: len(whole) // 2], None])
    target.unlink(missing_ok=True)
    if old is not None:
        target.write_bytes(old)
    parts = set(target.parent.glob(".*.part"))
    until = time.perf_counter() + (rng.random() * seconds if rng.random() < 0.5 else 10 * seconds)
    run = Run(*arguments)
    while run.process.poll() is None and time.perf_counter() < until:
        if until - time.perf_counter() > seconds and set(target.parent.glob(".*.part")) - parts:
            time.sleep(rng.choice([0, 0, 0.0005, 0.002, 0.01]))
            break
        time.sleep(0.0005)
    assert "Traceback" not in run.kill()
    found = target.read_bytes() if target.exists() else None
    assert found in (old, whole), "half a file"
    return "new" if found == whole else "old"


def sweep_parts(arguments: list[str], target: Path) -> int:
    """Let the parts that killed runs left grow old; the next run takes them away. Gives how many there were."""
    parts = list(target.parent.glob(".*.part"))
    for part in parts:
        os.utime(part, (0, 0))
    Run(*arguments).process.communicate(timeout=60)
    assert not [part for part in parts if part.exists()]
    return len(parts)
