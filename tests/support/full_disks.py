"""Commands that write, where there is no room: what stood there stays, nothing lies beside it, and it is told."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import shiftlore
from support.interruptions import NEW_SHEET
from support.trade import EXAMPLES, ROOT, shipped

CAMPER = str(EXAMPLES / "touring_camper.yaml")
CASE = "# Mine.\nunit: long5\nodometer_km: 90000\ncomplaint: [slips_gear_2]\nfindings: {worse_hot: yes}\n"
ENDED = "unit: long6\nfindings: {slips: yes}\noutcome: {causes: [pump_worn], confirmed: cured}\n"
# Name -> what is asked for, with {} for the folder; the file; what stands in it before; what is typed.
WRITERS = {
    "triage": ("triage {}/case.yaml", "case.yaml", CASE, "P0732\n4\n1\nn\nn\ny\nq\n"),
    "unit --new": ("unit --new {}/own3.yaml --force", "own3.yaml", None, "\n".join(NEW_SHEET) + "\n"),
    "unit --draw": ("unit long5 --draw {}/t.svg --force", "t.svg", "<svg/>", ""),
    "options --page": (f"options {CAMPER} --page {{}}/p.html --force --date 2026-03-02", "p.html", "<p>", ""),
    "shop": ("shop --shop {}/shop.yaml labour_per_hour=95", "shop.yaml", "# Ours.\ntax_percent: 19\n", ""),
    "learn": ("learn {}/ended.yaml --into {}/numbers.yaml --force", "numbers.yaml", "old", ""),
    "rank": (f"rank {CAMPER}", "cache/shiftlore", None, ""),
}


def run_writer(name: str, folder: Path, most: int | None = None) -> tuple[int, str, bytes | None]:
    """Run a command that writes in a folder, and look at what it leaves.

    Args:
        most: no file may grow beyond so many bytes; None for no limit.
    Returns: exit code, standard error, and what stands in its file.
    """
    asked, file, _, typed = WRITERS[name]

    def limit() -> None:
        import resource  # there is none on Windows, where this is not called

        if most is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (most, most))

    environment = {**os.environ, "PYTHONPATH": str(ROOT / "src"), "SHIFTLORE_SHOP": str(folder / "none.yaml")}
    environment |= {"XDG_CACHE_HOME": str(folder / "cache")} if name == "rank" else {}
    command = [sys.executable, "-m", "shiftlore", *asked.replace("{}", str(folder)).split()]
    ended = subprocess.run(
        command, input=typed, capture_output=True, text=True, cwd=ROOT, env=environment, timeout=120, preexec_fn=limit
    )
    path = folder / file
    return ended.returncode, ended.stderr, path.read_bytes() if path.is_file() else None


def set_out(name: str, folder: Path) -> bytes | None:
    """Put what stands there before into an empty folder, and give it."""
    _, file, before, _ = WRITERS[name]
    (folder / "ended.yaml").write_text(ENDED, encoding="utf-8")
    if before is not None:
        (folder / file).write_text(before, encoding="utf-8")
    return None if before is None else before.encode()


def check_no_room(name: str, folder: Path, whole: bytes | None, most: int | None, fill: Callable[[], None]) -> int:
    """Run a command where there is no room: its file is as it was or whole, nothing lies beside it, and it is told.

    Args:
        whole: what it writes where there is room.
        fill: takes the room away, once everything has been set out.
    Returns: the exit code.
    """
    before = set_out(name, folder)
    fill()
    code, err, after = run_writer(name, folder, most)
    assert code in (0, 1, 2) and "Traceback" not in err, (name, code, err)
    assert code == 0 or "written" in err or "room" in err or "cannot be done here" in err, (name, code, err)
    kept = folder / "own3.yaml.answers"
    if name == "triage":
        assert after is not None and b"# Mine." in after
        assert "yes" == shiftlore.read_case(after.decode(), shipped()).findings["worse_hot"].grade
    else:
        assert after == whole if code == 0 else after in (before, whole), (name, code, err)
    if kept.exists():
        assert NEW_SHEET[: len(kept.read_text().splitlines())] == kept.read_text().splitlines()
    left = [path.name for path in folder.rglob("*") if path.name.startswith(".") and not path.name.endswith(".room")]
    assert [] == left, (name, left)
    return code
