"""Turns of speech that mean one thing: "not every time" is sometimes, "no help" is no cure.

Forms of words only; they are put the same way in the trade's phrases and in what somebody says.
"""

import re

_DISTANCE = r"(?:miles?|mi|km|kms|kilomet(?:er|re)s?|k)"
# How far the vehicle has run is no gear, shift or speed: "60,000 miles", "182 000 km", "150k miles".
_ODOMETER = re.compile(
    rf"\b(?:(?:at|with|has|only|about|around)\s+)*"
    rf"(?:\d{{1,3}}(?:[., ]\d{{3}})+\s*{_DISTANCE}|\d{{4,6}}\s*{_DISTANCE}|\d{{1,3}}k)\b(?!/)(?:\s*(?:miles|mi|km)\b(?!/))?"
)
_NOT = r"(?:not|never|doesnt|dont|didnt|wont|isnt|wasnt|cannot|cant)"
_NOT_ALWAYS = re.compile(rf"\b{_NOT}\s+((?:\w+\s+){{0,3}}?)(?:always|every ?time|all the time|constantly|each time)\b")
_NOT_ONLY = re.compile(rf"\b{_NOT}\s+(?:only|just)\b")
_NO_CURE = re.compile(
    r"\b(?:(?:no|not any|without|zero|little)\s+"
    r"(?:help|cure|difference|improvement|better|fix|luck|success|change)"
    r"(?! (?:in|of|hot|cold|when|whether|if|between|warm)\b)"
    r"|(?:did ?not|didnt|has not|hasnt|does not|doesnt)\s+(?:help|cure|fix|solve|change|improve)"
    r"(?:\s+(?:it|anything|the problem))?"
    r"|same (?:problem|issue|thing|fault|complaint|symptoms?)"
    r"|still (?:the same|there|does it)|problem remains)\b"
)
_IN_ORDER = re.compile(
    r"\b(?:in|within|to|inside|meets?)\s+(?:the\s+)?(?:specs?|specifications?|limits|tolerance|range(?= |$))\b"
)
# "The fluid is full", "on the full mark": the level is right.
_FULL = re.compile(r"\b(fluid|oil|level)\s+(?:(?:level|is|was|reads|at)\s+)*full\b(?! of)(?:\s+mark)?")
_ON_THE_MARK = re.compile(r"\b(?:at|on|to|is at)\s+the\s+full\s+mark\b|\bbetween the marks\b")
_AT_ALL = re.compile(r"\b(?:at all|whatsoever)\b")
_COUNTED = (
    r"(?:\d|few|couple|time|thing|minute|hour|start|drive of|day|mile|km|owner|transmission|shop|unit|rebuild|week"
    r"|month|try|attempt|engagement|morning)"
)
_ORDINAL_OF_TIME = re.compile(rf"\b(first|second|third|1st|2nd|3rd)(?=\s+{_COUNTED})")
# "Fine" of a grain is no "fine" of a state: fine grey paste, fine metal.
_FINE_GRAIN = re.compile(r"\bfine(?=\s+(?:gr[ea]y|black|metal|metallic|ferrous|steel|paste|particles?|powder|dust|grit|fuzz))")
_TIMES = {"1st": "first", "2nd": "second", "3rd": "third"}
# A word that is its own stem.
UNCURED = "uncur"


def settle_turns(text: str) -> str:
    """Put turns of speech into one form each.

    Args:
        text: in small letters, contractions written as ``doesnt``.
    Returns: the text; ordinals that count times are marked with ``~`` so that they are not taken for gears.
    Example:
        >>> settle_turns("doesnt slip every time, new filter no help")
        'sometimes slip , new filter uncur'
    """
    if "full" in text or "marks" in text:
        text = _ON_THE_MARK.sub("level fine", _FULL.sub(r"\1 level fine", text))
    text = _FINE_GRAIN.sub("small", text)
    text = _ODOMETER.sub(" ", _AT_ALL.sub(" ", text))
    text = _NOT_ALWAYS.sub(r"sometimes \1", _NOT_ONLY.sub("also", text))
    text = _IN_ORDER.sub("fine", _NO_CURE.sub(UNCURED, text))
    return _ORDINAL_OF_TIME.sub(lambda found: f"~{_TIMES.get(found[1], found[1])}", text)
