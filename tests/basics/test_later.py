"""A room imports what is rarely needed when it is first asked for."""

import ast
import subprocess
import sys
from importlib import import_module
from pathlib import Path

import pytest

import shiftlore
from shiftlore.basics import open_later


def test_open_later__gives_what_the_named_module_holds() -> None:
    get_attribute = open_later("email", {"message": ("Message",), "utils": ("quote", "unquote")})
    from email.message import Message
    from email.utils import unquote

    assert Message is get_attribute("Message")
    assert unquote is get_attribute("unquote")


def test_open_later__any_other_name_is_no_attribute() -> None:
    get_attribute = open_later("email", {"message": ("Message",)})
    with pytest.raises(AttributeError, match="module 'email' has no attribute 'formatdate'"):
        get_attribute("formatdate")


@pytest.mark.parametrize(
    ("room", "late", "name"),
    [
        ("cases", "saving", "render_case"),
        ("compiling", "exporting", "render_bif"),
        ("gearing", "descriptions", "Lever"),
        ("knowledge", "forms", "FORMS"),
        ("network", "networks", "sample_network"),
        ("ranking", "reviewing", "review_knowledge"),
        ("sheets", "sheet_reading", "read_sheet"),
    ],
)
def test_open_later__a_room_loads_the_module_only_when_it_is_asked(room: str, late: str, name: str) -> None:
    code = (
        f"import sys, shiftlore.{room} as room; late = 'shiftlore.{room}.{late}'; before = late in sys.modules; "
        f"room.{name}; print(before, late in sys.modules)"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "False True" == run.stdout.strip()


@pytest.mark.parametrize(
    "room", [path.parent.name for path in sorted(Path(shiftlore.__file__).parent.glob("*/__init__.py"))]
)
def test_open_later__every_room_has_what_it_says_to_a_type_checker(room: str) -> None:
    package = import_module(f"shiftlore.{room}")
    tree = ast.parse(Path(package.__file__ or "").read_text(encoding="utf-8"))
    said = [node for node in ast.walk(tree) if isinstance(node, ast.ImportFrom) and node.module != "typing"]
    assert [] == [alias.name for node in said for alias in node.names if not hasattr(package, alias.name)]
