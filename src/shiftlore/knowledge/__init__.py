"""The trade, read from YAML into frozen records, with every problem found on the way.

Searching is imported when it is first asked for: a start with a warm cache needs neither it nor the YAML parser.
"""

from typing import TYPE_CHECKING

from shiftlore.basics import open_later
from shiftlore.knowledge.files import FILES, FOLDERS, find_data_folder, find_knowledge, find_own_shop, list_ids
from shiftlore.knowledge.loading import collect_knowledge, load_knowledge
from shiftlore.knowledge.records import (
    NAME_SLOT,
    Area,
    Cause,
    Caution,
    Check,
    Code,
    Finding,
    FollowUp,
    Gauge,
    Job,
    Link,
    Need,
    Raise,
    Scope,
    State,
    Strength,
    TextbookCase,
    name_in_general,
    speak_in_general,
)
from shiftlore.knowledge.rulebook import Background, Knowledge, Price, Shop, answer_number

if TYPE_CHECKING:
    from shiftlore.knowledge.forms import FORMS, SEVERITIES, SHOP, Form, Key
    from shiftlore.knowledge.own_shop import (
        CASEBOOK,
        KEYS,
        OVERLAY,
        OwnShop,
        change_own_shop,
        known_tools,
        lay_over,
        list_oddities,
        peek_setting,
        read_own_shop,
    )

_MODULES = {
    "forms": "FORMS SEVERITIES SHOP Form Key",
    "own_shop": "CASEBOOK KEYS OVERLAY OwnShop change_own_shop known_tools lay_over list_oddities peek_setting read_own_shop",
}
__getattr__ = open_later(__name__, {module: names.split() for module, names in _MODULES.items()})
