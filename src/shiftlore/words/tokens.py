"""Take plain words apart: stems, gears and shifts, speeds, trouble codes, negations; forms of words only.

What the trade calls things stands in the `words` of the findings, not here.
"""

import re
from dataclasses import dataclass
from functools import lru_cache

from shiftlore.knowledge.records import CODE_FORM

NO = "no"
FINE = "fine"
BAD = "bad"
KM_PER_MILE = 1.609344

_NEGATION_WORDS = """
no not never without none neither nor cannot cant wont doesnt dont didnt isnt arent wasnt werent hasnt havent
couldnt wouldnt nothing nt
"""
_NEGATIONS = frozenset(_NEGATION_WORDS.split())
_SOUND_WORDS = "fine ok okay good normal normally perfect perfectly smooth smoothly alright correct"
_SOUND = frozenset(_SOUND_WORDS.split())
# Words too common to tell anything; they help only to rank one phrase before another.
_LIGHT_WORDS = """
a an the is are was were be been being am it its this that these those i we he she they my our his her their
you your me us him them has have had having do does did done will would can could should may might must shall
to of in on at by for with from into onto and or as if so there here when while during after before until till
than then very really quite just also about around some any only which who what where how get gets got getting
like bit still even again now says said told customer owner car vehicle truck van transmission trans gearbox
box tranny unit gear feel seem sometime thing something kind sort lot make go
"""
LIGHT = frozenset(_LIGHT_WORDS.split())
# Forms that the cutting of endings would get wrong, and words of one meaning spelled in two ways: form = stem.
_FORMS = """
burnt=burn gone=gone burned=burn lost=lose losing=lose broke=break broken=break stuck=stick sticking=stick felt=feel
took=take taken=take taking=take went=go goes=go going=go dying=die died=die dies=die dead=die
hotter=hot colder=cold warmed=warm warming=warm worn=wear wore=wear spun=spin held=hold left=leave came=come
coming=come began=begin begun=begin driving=drive drives=drive drove=drive driven=drive noisy=noise
noises=noise leaky=leak jerky=jerk colour=color colours=color gears=gear discoloured=discolor
discolored=discolor jumped=jump jumpy=jump oily=oil foamy=foam frothy=froth clunky=clunk whiny=whin shaky=shak
shook=shak milky=milk roughly=rough slippage=slip judder=shudder judders=shudder juddering=shudder
juddery=shudder towed=tow tyre=tire tyres=tire metre=meter grey=gray sometimes=sometimes always=always
series=series bus=bus gas=gas less=less loss=loss pass=pass spring=spring string=string ring=ring bring=bring
red=red speed=speed need=need feed=feed bleed=bleed seconds=sec secs=sec bearing=bearing wiring=wiring
reading=reading morning=morning revved=rev revving=rev slowspeed=slowspeed midspeed=midspeed
fastspeed=fastspeed mile=miles miles=miles got=get gets=get getting=get coded=coded coding=coding
"""
_IRREGULAR = dict(form.split("=") for form in _FORMS.split())
# "No problem", "never any trouble", "not very good": what may stand between.
_TROUBLES = frozenset({"problem", "troubl", "issu", "difficulty", "complaint", "difficultie"})
_BETWEEN_NO = frozenset(
    {"any", "a", "an", "real", "really", "very", "had", "have", "is", "was", "been", "working", "quite"}
)
_ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "sixth": 6, "seventh": 7, "eighth": 8}
_ORDINALS |= {"ninth": 9, "tenth": 10, "1st": 1, "2nd": 2, "3rd": 3, "4th": 4, "5th": 5, "6th": 6, "7th": 7, "8th": 8}
_ORDINALS |= {"9th": 9, "10th": 10}
_NUMBER_NAMES = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
_NUMBER_WORDS = {name: str(number) for number, name in enumerate(_NUMBER_NAMES, 1)}
_GEAR = r"(?:1[0-2]|[1-9])"
_UNITS = "mph|km|kph|sec|min|%|psi|bar|litre|quart|time|day|week|hour|month|year|mile|rpm|ohm|volt|amp|degree|inch"
_NO_UNIT = rf"(?!\s*(?:{_UNITS}))"
_SHIFT = re.compile(rf"\b({_GEAR})\s*(?:-|–|/|>|->|→|to|into)\s*({_GEAR})\b{_NO_UNIT}")
_SPEED_UNIT = "mph|km/h|kmh|kph|kmph|miles per hour"
_SPEED = re.compile(rf"(\b(?:over|above|past)\s+)?\b(\d{{1,3}})\s*(?:(?:to|-|and)\s*\d{{1,3}}\s*)?({_SPEED_UNIT})\b")
_NAMED_SHIFT = re.compile(rf"#({_GEAR})\s*(?:-|–|/|>|->|→|to|into|gear to|gear into)\s*#({_GEAR})\b")
_BETWEEN = re.compile(rf"\bbetween\s+#({_GEAR})\s*(?:and|&)\s*#({_GEAR})\b")
_TO_GEAR = re.compile(rf"\b(into|in|to|gear|from|of)\s+({_GEAR})\b{_NO_UNIT}(?!\s*-|\.|,\d)")
_GEAR_NAMED = re.compile(rf"\b[dml]?({_GEAR})\s+gear\b")
_HAS_NUMBER = re.compile(r"\d|first|second|third|fourth|fifth|sixth|seventh|eighth|ninth|tenth")
_SPELLED = re.compile(r"~[a-z]+|\d(?:st|nd|rd|th)\b|[a-z]+|\d0th\b")
_SLOW_KMH, _FAST_KMH, _OVER_BY = 35.0, 105.0, 10.0
_RANGES = {"P": "park", "R": "reverse", "N": "neutral", "D": "drive"}
_RANGE = re.compile(r"(?<![\w.'-])[PRND](?![\w.'-])")
_RANGE_AFTER = re.compile(r"\b(in|into|to|from)\s+([prnd])\b(?![.'-])", re.IGNORECASE)
_HYPHEN = re.compile(r"(?<=[a-z])-(?=[a-z])")
_WORD = re.compile(r"#\d+(?:>\d+)?|[a-z0-9]+(?:[.,]\d+)?")


@dataclass(frozen=True, slots=True)
class Token:
    """One word of a text.

    Args:
        stem: what it is compared by.
        written: as it was written.
        is_light: too common to tell anything.
        is_mended: a slip of the fingers that was taken for another word, so less sure.
    """

    stem: str
    written: str
    is_light: bool = False
    is_mended: bool = False


def split_words(text: str) -> list[Token]:
    """Take a text apart into tokens.

    Shifts become ``#2>3``, gears ``#3``, speeds ``slowspeed``, ``midspeed`` or ``fastspeed``; every negation
    becomes ``no`` and every word for "in order" ``fine``.
    Example:
        >>> [token.stem for token in split_words("Doesn't shift 2-3, slips in 3rd gear at 70 km/h")]
        ['no', 'shift', '#2>3', 'slip', 'in', '#3', 'at', 'midspeed']
    """
    prepared = _prepare(_spell_ranges(text).lower())
    tokens = [_token(word) for word in _WORD.findall(prepared)]
    tokens = [token for token, before in zip(tokens, [None, *tokens], strict=False) if not _repeats(token, before)]
    return _settle_denials(tokens) if any(token.stem == NO for token in tokens) else tokens


def stem_word(word: str) -> str:
    """Cut a word down to its stem: plural, -ing, -ed, -ly.

    Example:
        >>> [stem_word(word) for word in ("slipping", "shudders", "engaged", "harshly")]
        ['slip', 'shudder', 'engag', 'harsh']
    """
    if word in _IRREGULAR:
        return _cut_e(_IRREGULAR[word])
    if len(word) <= 3 or any(letter.isdigit() for letter in word):
        return word
    return _cut_e(_undouble(_cut_ending(word)))


def is_near(one: str, other: str) -> bool:
    """Tell whether two stems differ by a slip of the fingers: one letter, or two in long words."""
    shorter = min(len(one), len(other))
    if shorter < 4 or not (one.isalpha() and other.isalpha()):
        return False
    allowed = 1 if shorter < 8 else 2
    if abs(len(one) - len(other)) > allowed or (one[0] != other[0] and one[:2] != other[1::-1]):
        return False
    return count_slips(one, other, allowed) <= allowed


def count_slips(one: str, other: str, most: int) -> int:
    """Count letters added, left out, changed or swapped; stops counting above `most`.

    Source: Damerau 1964 (optimal string alignment).
    """
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, letter in enumerate(one, 1):
        before, last, row = row, before, [i]
        for j, wanted in enumerate(other, 1):
            best = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (letter != wanted))
            if i > 1 and j > 1 and letter == other[j - 2] and one[i - 2] == wanted:
                best = min(best, last[j - 2] + 1)
            row.append(best)
        if min(row) > most:
            return most + 1
    return row[-1]


def _spell_ranges(text: str) -> str:
    """Write the letters of the selector out: D is Drive, whatever stands before or after it."""
    text = _RANGE.sub(lambda found: _RANGES[found[0]], text)
    return _RANGE_AFTER.sub(lambda found: f"{found[1]} {_RANGES[found[2].upper()]}", text)


def _prepare(text: str) -> str:
    """Rewrite contractions, numbers, gears and shifts to one form each."""
    text = text.replace("’", "'").replace("n't", "nt").replace("'s ", " ")
    text = settle_turns(text)
    if _HAS_NUMBER.search(text):
        text = _name_gears(text)
    return _HYPHEN.sub("", text) if "-" in text else text


def _name_gears(text: str) -> str:
    text = re.sub(r"\b(a|one|half a|1|per)[ -]second\b", r"\1 sec", text)
    text = _SPELLED.sub(lambda found: f"#{_ORDINALS[found[0]]}" if found[0] in _ORDINALS else found[0], text)
    text = _SPEED.sub(_speed_word, text)
    text = _BETWEEN.sub(r"between #\1>\2 ", text)
    text = _NAMED_SHIFT.sub(r"#\1>\2 ", text)
    text = _SHIFT.sub(r"#\1>\2 ", text)
    text = _GEAR_NAMED.sub(r"#\1 ", text)
    text = _TO_GEAR.sub(r"\1 #\2 ", text)
    return re.sub(r"(#\d+)\s+gear\b", r"\1 ", text)


def _speed_word(found: re.Match[str]) -> str:
    kmh = float(found[2]) * (KM_PER_MILE if found[3].startswith("m") else 1.0)
    kmh += _OVER_BY if found[1] else 0.0
    return "slowspeed" if kmh < _SLOW_KMH else "fastspeed" if kmh > _FAST_KMH else "midspeed"


@lru_cache(maxsize=8192)
def _token(word: str) -> Token:
    if word in _NEGATIONS:
        return Token(NO, word)
    if word in _SOUND:
        return Token(FINE, word)
    if CODE_FORM.fullmatch(word.upper()):
        return Token(word.upper(), word)
    stem = stem_word(_NUMBER_WORDS.get(word, word))
    return Token(stem, word, word in LIGHT or stem in LIGHT)


def _repeats(token: Token, before: Token | None) -> bool:
    return before is not None and token.stem == before.stem == NO


def _settle_denials(tokens: list[Token]) -> list[Token]:
    """Write "no problem" as fine, and "not ok" as bad."""
    settled: list[Token] = []
    place = 0
    while place < len(tokens):
        end = place + 1
        while tokens[place].stem == NO and end < len(tokens) and tokens[end].written in _BETWEEN_NO:
            end += 1
        meaning = _meaning(tokens[place], tokens[end : end + 2])
        if meaning is None:
            settled.append(tokens[place])
            place += 1
        else:
            settled.append(Token(meaning, " ".join(token.written for token in tokens[place : end + 1])))
            place = end + 1
    return settled


def _meaning(first: Token, following: list[Token]) -> str | None:
    """Say what a negation and the word after it mean together, where that is one thing."""
    if first.stem != NO or not following:
        return None
    if following[0].stem == FINE:
        return BAD
    is_code = any(token.stem == "cod" for token in following)
    return FINE if following[0].stem in _TROUBLES and not is_code else None


def _cut_ending(word: str) -> str:
    for ending, left in (("ingly", 4), ("ing", 3), ("edly", 4), ("ied", 2), ("ed", 3), ("ies", 2), ("ly", 4)):
        if word.endswith(ending) and len(word) - len(ending) >= left:
            return word[: -len(ending)] + ("y" if ending in ("ied", "ies") else "")
    if word.endswith(("sses", "shes", "ches", "xes")):
        return word[:-2]
    return word[:-1] if word.endswith("s") and not word.endswith(("ss", "us", "is")) else word


def _undouble(word: str) -> str:
    if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "lsezf":
        return word[:-1]
    return word


def _cut_e(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("e") else word


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
_FINE_GRAIN = re.compile(
    r"\bfine(?=\s+(?:gr[ea]y|black|metal|metallic|ferrous|steel|paste|particles?|powder|dust|grit|fuzz))"
)
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
