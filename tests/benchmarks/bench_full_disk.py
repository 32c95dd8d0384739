"""Everything that writes, on a disk with no room left; run as `python tests/benchmarks/bench_full_disk.py`.

`src` and `tests` must be on the path. First no file may grow beyond some bytes, then a disk in memory of 64 KB (Linux, as
root) is filled but for some. Checked is what the normal tests check: whole or as it was, nothing left beside it, told.
"""

import subprocess
from collections import Counter
from pathlib import Path
from tempfile import TemporaryDirectory

from support.full_disks import WRITERS, check_no_room, run_writer, set_out

LIMITS = (0, 1, 200, 500, 4_095, 4_096, 4_097, 8_192, 12_000, 20_000, 40_000)
LEFT_KB = (0, 4, 8, 12, 16, 20, 32, 48)


def clear(folder: Path) -> None:
    """Empty a folder."""
    subprocess.run(["find", str(folder), "-mindepth", "1", "-delete"], check=True)


def fill(folder: Path, left_kb: int) -> None:
    """Take the room of a small disk away, but for some."""
    room = folder / ".room"
    subprocess.run(["dd", "if=/dev/zero", f"of={room}", "bs=1024"], capture_output=True)
    with room.open("r+b") as stream:
        stream.truncate(max(0, room.stat().st_size - left_kb * 1024))


def tell(where: str, codes: dict[str, Counter[int]]) -> None:
    """Print how often each command ended with which code."""
    for name, counted in codes.items():
        said = ", ".join(f"{count} with {code}" for code, count in sorted(counted.items()))
        print(f"{where}: {name} ended {said}; whole or as it was each time", flush=True)


def main() -> None:
    """Run all that writes within limits of bytes, then on the small disk."""
    with TemporaryDirectory() as name:
        folder, wholes = Path(name), {}
        codes: dict[str, Counter[int]] = {writer: Counter() for writer in WRITERS}
        for writer in WRITERS:
            set_out(writer, folder)
            _, _, wholes[writer] = run_writer(writer, folder)
            for most in LIMITS:
                clear(folder)
                codes[writer][check_no_room(writer, folder, wholes[writer], most, lambda: None)] += 1
            clear(folder)
        tell("no file may grow", codes)
        if subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", name]).returncode:
            print("NO SMALL DISK CAN BE MADE HERE, so none was filled.")
            return
        try:
            codes = {writer: Counter() for writer in WRITERS}
            for writer in WRITERS:
                for left in LEFT_KB:
                    clear(folder)
                    codes[writer][
                        check_no_room(writer, folder, wholes[writer], None, lambda left=left: fill(folder, left))
                    ] += 1
            tell("full disk", codes)
        finally:
            subprocess.run(["umount", name], check=True)


if __name__ == "__main__":
    main()
