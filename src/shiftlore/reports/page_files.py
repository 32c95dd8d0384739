"""Files of the owner's page: the shop's logo read in, the page written whole or not at all."""

import base64
import os
from pathlib import Path

from shiftlore.basics import UsageProblem
from shiftlore.basics.whole_files import new_file_mode, write_whole

LARGEST_LOGO = 400_000
"""Bytes of a logo at most: more makes the page slow to mail and prints no better."""

PICTURES = {
    ".png": ("image/png", b"\x89PNG"), ".jpg": ("image/jpeg", b"\xff\xd8"), ".jpeg": ("image/jpeg", b"\xff\xd8"),
    ".gif": ("image/gif", b"GIF8"), ".svg": ("image/svg+xml", b"<"),
}


def read_logo(name: str, folder: Path) -> tuple[str, str]:
    """Read the shop's logo as a picture that stands in the page itself.

    Args:
        name: file as written in the shop's settings, relative to their folder; empty for none.
    Returns: a data address, or ""; and what was wrong, or "".
    """
    if not name:
        return "", ""
    path = folder / name
    kind = PICTURES.get(path.suffix.lower())
    if kind is None:
        return "", f"The logo {name} is left out: give a file that ends in {', '.join(PICTURES)}."
    try:
        content = path.read_bytes()
    except OSError as error:
        return "", f"The logo {name} is left out: {error.strerror or error}."
    if len(content) > LARGEST_LOGO:
        return "", f"The logo {name} is left out: it has more than {LARGEST_LOGO // 1000} kB."
    if not content.lstrip().startswith(kind[1]):
        return "", f"The logo {name} is left out: it is no {path.suffix[1:].lower()} picture."
    return f"data:{kind[0]};base64,{base64.b64encode(content).decode('ascii')}", ""


def save_whole(path: Path, content: bytes) -> None:
    """Write a file whole or not at all: beside it first, then in its place in one step.

    Raises: UsageProblem: tells why it cannot be written; what was there before is still there.
    """
    target = Path(os.path.realpath(path))
    if target.is_dir():
        raise UsageProblem(f"{path} is a folder. Give the name of a file.")
    try:
        write_whole(target, content, new_file_mode())
    except OSError as error:
        raise UsageProblem(f"{path} cannot be written: {error.strerror or error}. Choose another place.") from error
