"""The trade, read from YAML into frozen records, with every problem found on the way.

Searching and unit sheets are imported when they are first asked for: a start with a warm cache needs neither
them nor the YAML parser.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from shiftlore.knowledge.folders import find_knowledge
from shiftlore.knowledge.instances import is_where_word, where_words
from shiftlore.knowledge.loading import collect_knowledge, load_knowledge
from shiftlore.knowledge.records import (
    EACH,
    Access,
    Area,
    Background,
    Cause,
    Caution,
    Check,
    Code,
    Cure,
    DrivenOn,
    Finding,
    FollowUp,
    Job,
    Knowledge,
    Link,
    LookAlike,
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
from shiftlore.knowledge.sheet_records import (
    MEMBERS,
    AccessMinutes,
    Fluid,
    SheetElement,
    SheetGear,
    SheetSensor,
    SheetSet,
    SheetSolenoid,
    UnitSheet,
    is_fed,
    list_used_members,
    says_ties,
)

if TYPE_CHECKING:
    from shiftlore.knowledge.free_text import Candidate, read_free_text
    from shiftlore.knowledge.phrases import Phrases, load_phrases
    from shiftlore.knowledge.schema import knowledge_schema
    from shiftlore.knowledge.search_index import SearchIndex, build_index
    from shiftlore.knowledge.searching import Hit, find_words
    from shiftlore.knowledge.sheet_checks import has_sound_ties
    from shiftlore.knowledge.sheet_files import is_sheet_file
    from shiftlore.knowledge.sheets import load_sheet, read_sheet
    from shiftlore.knowledge.shop_files import load_shop

_LATER = {
    "Candidate": "free_text",
    "read_free_text": "free_text",
    "knowledge_schema": "schema",
    "SearchIndex": "search_index",
    "build_index": "search_index",
    "Hit": "searching",
    "find_words": "searching",
    "has_sound_ties": "sheet_checks",
    "is_sheet_file": "sheet_files",
    "Phrases": "phrases",
    "load_phrases": "phrases",
    "load_sheet": "sheets",
    "read_sheet": "sheets",
    "load_shop": "shop_files",
}

__all__ = [
    "EACH",
    "MEMBERS",
    "Access",
    "AccessMinutes",
    "Area",
    "Background",
    "Candidate",
    "Cause",
    "Caution",
    "Check",
    "Code",
    "Cure",
    "DrivenOn",
    "Finding",
    "Fluid",
    "FollowUp",
    "Hit",
    "Job",
    "Knowledge",
    "Link",
    "LookAlike",
    "Need",
    "Phrases",
    "Price",
    "Raise",
    "Scope",
    "SearchIndex",
    "SheetElement",
    "SheetGear",
    "SheetSensor",
    "SheetSet",
    "SheetSolenoid",
    "Shop",
    "Stand",
    "State",
    "Strength",
    "TextbookCase",
    "UnitSheet",
    "Words",
    "build_index",
    "collect_knowledge",
    "find_knowledge",
    "find_words",
    "has_sound_ties",
    "is_fed",
    "is_sheet_file",
    "is_where_word",
    "knowledge_schema",
    "list_used_members",
    "load_knowledge",
    "load_phrases",
    "load_sheet",
    "load_shop",
    "read_free_text",
    "read_sheet",
    "says_ties",
    "where_words",
]


def __getattr__(name: str) -> Any:
    """Import what is rarely needed when it is asked for."""
    if name in _LATER:
        return getattr(import_module(f"shiftlore.knowledge.{_LATER[name]}"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
