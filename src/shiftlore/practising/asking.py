"""What a question to the owner asks for, and of each thing the answer to which a yes would agree."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from shiftlore.compiling import CompiledCase
from shiftlore.words import find_words, index_of, read_report

KINDS_ASKED = ("finding", "background")
_EXACT = 0.999
"""From this score on a question is put in the words that stand for a finding."""
VERBS = "does|do|did|is|are|was|were|has|have|had|can|could|will|would"
"""Words with which a question begins that wants a yes or a no."""
_CALLED = re.compile(
    r"(?:(?:and|so|at|by|for|from|in|into|on|since|to|under|with)\s+)?(?:when|where|how|what|which|why|who|whose)\b",
    re.I,
)
_SINCE_WHEN = re.compile(
    r"since when|how long (?:ago|has|have)|for how long|when did (?:it|this|that) (?:start|begin)", re.I
)
_POLAR = re.compile(
    rf"(?P<verb>{VERBS})\s+"
    r"(?P<who>(?:it|you|they|there)\b)?\s*(?P<rest>.+)",
    re.I,
)


@dataclass(frozen=True, slots=True)
class Asked:
    """What a question asks for.

    Args:
        agrees: finding -> the answer of it to which a yes would agree; "" where the question has no yes.
        is_life: whether it asks how the vehicle has lived.
    """

    agrees: Mapping[str, str] = field(default_factory=dict)
    is_life: bool = False


def read_question(compiled: CompiledCase, text: str) -> Asked:
    """Read a question: "does reverse work?" asks whether its lack is not so.

    It is read once more as its denial: "it does not shift up" says that there is no upshift, and who asks for the opposite
    asks whether that is not so. So what is denied counts where the question says nothing, or a fault of another thing.
    """
    if _SINCE_WHEN.search(text):
        return Asked({key: "" for key, record in compiled.expansion.finding_records.items() if record.onset})
    agrees, is_life, is_whole = _read(compiled, text, is_question=True)
    if is_open(text):
        return Asked(dict.fromkeys(agrees, ""), is_life)
    if not agrees and not is_life and (named := _find_named(compiled, text)):
        return Asked(dict.fromkeys(named, "yes"))
    said, whens = _read_when(compiled, text, agrees), _list_whens(compiled, agrees)
    is_partly = bool(agrees) and len(whens) == len(agrees) and not (is_whole or said)
    denied, denied_life, is_denied = _read(compiled, deny(text))
    is_other = bool(_list_telling(compiled, denied) and _list_telling(compiled, agrees)) and not {*denied} & {*agrees}
    if is_denied and (is_partly or is_other or not (agrees or is_life)):
        return Asked(_turn(compiled, denied), denied_life)
    return Asked(dict.fromkeys(agrees, "") if is_partly else agrees | said, is_life)


def is_open(text: str) -> bool:
    """Tell whether a question asks when, where, which or the like, so that no yes or no answers it."""
    return bool(_CALLED.match(text))


def is_polar(text: str) -> bool:
    """Tell whether a question wants a yes or a no."""
    return bool(_POLAR.match(text)) and not is_open(text)


def deny(text: str) -> str:
    """Give what denies that of which a question asks whether it is so; "" where it asks something else.

    Example:
        >>> deny("does it shift up?")
        'it does not shift up'
        >>> deny("do the paddles work?")
        'not the paddles work'
        >>> deny("how does it shift?")
        ''
    """
    match = _POLAR.fullmatch(text.strip(" ?"))
    if match is None:
        return ""
    return " ".join(filter(None, (match["who"], match["who"] and match["verb"], "not", match["rest"])))


def _read(compiled: CompiledCase, text: str, *, is_question: bool = False) -> tuple[dict[str, str], bool, bool]:
    """Read words: finding -> answer, whether they speak of the vehicle's life, and whether all of them were read."""
    expansion, aliases = compiled.expansion, compiled.unit.aliases
    report = read_report(compiled.knowledge, expansion, text, is_question=is_question)
    found = {aliases.get(one.code or "", one.id): one.answer for one in report.answers if one.kind == "finding"}
    is_life = any(one.kind == "background" for one in report.answers)
    known = {key: answer for key, answer in found.items() if key in expansion.findings}
    return known, is_life, not report.not_understood


def _find_named(compiled: CompiledCase, text: str) -> list[str]:
    """Find the yes/no finding of whose words a question is made."""
    hits = find_words(index_of(compiled.knowledge, KINDS_ASKED), text, KINDS_ASKED, 1)
    named = [hit.id for hit in hits if hit.kind == "finding" and hit.score >= _EXACT]
    keys = [key for name in named for key in compiled.expansion.of_template.get(name, ())]
    return [key for key in keys if compiled.expansion.findings[key].grades == ("no", "yes")]


def _list_whens(compiled: CompiledCase, findings: Iterable[str]) -> list[str]:
    """List those that say when it happens."""
    return [key for key in findings if compiled.expansion.finding_records[key].condition]


def _list_telling(compiled: CompiledCase, answers: Mapping[str, str]) -> list[str]:
    """List what is said to be wrong."""
    nodes = compiled.expansion.findings
    return [key for key, answer in answers.items() if answer != nodes[key].grades[0]]


def _read_when(compiled: CompiledCase, text: str, asked: Iterable[str]) -> dict[str, str]:
    """Read what is asked of when it happens as it would be said: "fine when warm" is not worse then."""
    whens = _list_whens(compiled, asked)
    match = _POLAR.fullmatch(text.strip(" ?")) if whens else None
    if match is None:
        return {}
    said = _read(compiled, " ".join(filter(None, (match["who"], match["who"] and match["verb"], match["rest"]))))[0]
    return {key: said[key] for key in whens if key in said}


def _turn(compiled: CompiledCase, denied: Mapping[str, str]) -> dict[str, str]:
    """Turn what a denial says into what is asked; when it happens is no part of that where something else is asked."""
    whens, nodes = _list_whens(compiled, denied), compiled.expansion.findings
    turned = {}
    for key, answer in denied.items():
        sound, *others = nodes[key].grades
        other = others[0] if len(others) == 1 else ""
        turned[key] = "" if key in whens and len(whens) < len(denied) else other if answer == sound else sound
    return turned
