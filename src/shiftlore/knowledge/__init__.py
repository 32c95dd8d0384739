"""The trade, read from YAML into frozen records, with every problem found on the way.

Searching is imported when it is first asked for: a start with a warm cache needs neither it nor the YAML parser.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from shiftlore.knowledge.files import FILES, FOLDERS, find_knowledge
from shiftlore.knowledge.loading import collect_knowledge, load_knowledge
from shiftlore.knowledge.records import (
    CODE_FORM,
    Access,
    Area,
    Background,
    Cause,
    Check,
    Code,
    Finding,
    Job,
    Knowledge,
    Link,
    Need,
    Price,
    Raise,
    Scope,
    Shop,
    Stand,
    State,
    Strength,
    TextbookCase,
    Words,
)

if TYPE_CHECKING:
    from shiftlore.knowledge.forms import FORMS, SEVERITIES, SHOP, Form, Key
    from shiftlore.knowledge.gathering import load_shop

_LATER = {**dict.fromkeys(("FORMS", "SEVERITIES", "SHOP", "Form", "Key"), "forms"), "load_shop": "gathering"}

__all__ = [
    "CODE_FORM", "FILES", "FOLDERS", "FORMS", "SEVERITIES", "SHOP", "Access", "Area", "Background", "Cause",
    "Check", "Code", "Finding", "Form", "Job", "Key", "Knowledge", "Link", "Need", "Price", "Raise", "Scope",
    "Shop", "Stand", "State", "Strength", "TextbookCase", "Words", "collect_knowledge", "find_knowledge",
    "load_knowledge", "load_shop",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    """Import what is rarely needed when it is asked for."""
    if name in _LATER:
        return getattr(import_module(f"shiftlore.knowledge.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
