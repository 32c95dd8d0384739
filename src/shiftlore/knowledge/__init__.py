"""The trade, read from YAML into frozen records, with every problem found on the way.

Searching is imported when it is first asked for: a start with a warm cache needs neither it nor the YAML parser.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
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
from shiftlore.knowledge.rulebook import Knowledge

if TYPE_CHECKING:
    from shiftlore.knowledge.forms import FORMS, SEVERITIES, SHOP, Form, Key
    from shiftlore.knowledge.gathering import load_shop

__getattr__ = open_later(
    __name__, {"forms": ("FORMS", "SEVERITIES", "SHOP", "Form", "Key"), "gathering": ("load_shop",)}
)

__all__ = [
    "CODE_FORM", "FILES", "FOLDERS", "FORMS", "SEVERITIES", "SHOP", "Access", "Area", "Background", "Cause",
    "Check", "Code", "Finding", "Form", "Job", "Key", "Knowledge", "Link", "Need", "Price", "Raise", "Scope",
    "Shop", "Stand", "State", "Strength", "TextbookCase", "Words", "collect_knowledge", "find_knowledge",
    "load_knowledge", "load_shop",
]  # fmt: skip
