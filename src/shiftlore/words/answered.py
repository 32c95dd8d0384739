"""What somebody asks and answers himself, as on a job card: "Leaks? None."; and a yes or no behind each code of a list."""

import re
from collections.abc import Sequence
from dataclasses import replace
from itertools import dropwhile, islice, pairwise, takewhile

from shiftlore.words.turns import PLACES
from shiftlore.words.vocabulary import Token, Vocabulary

_MOST_WORDS = 6
_MOST_NAMED = 3
_GLUE, _JOINTS = frozenset(":-–—=("), frozenset("/&")  # between a code and what is said of it: "P0705: no"
# What is asked, from the last stop on; the question mark; the first word of the answer, and what follows it up to a stop.
_ASKED = re.compile(r"(?P<asked>[^.?!;,:\n]+)\?(?P<between>[\s-]*)(?P<answer>[^\W\d_][\w']*)(?P<rest>[^.?!;,\n]*)")


def settle_questions(text: str, vocabulary: Vocabulary) -> str:
    """Turn what is asked and answered at once into what it says, letter for letter as long as it was; a choice is one.

    Args:
        text: as it was said.
    Example: "Leaks? None." becomes "no Leaks   ."; "Fluid? Fine." becomes "Fluid Fine  ."
    """
    text = join_choices(text, vocabulary)
    return _ASKED.sub(lambda found: _settle(found, vocabulary).ljust(len(found[0])), text)


def join_choices(text: str, vocabulary: Vocabulary) -> str:
    """Leave out the stop before one more place, letter for letter as long: "slips in 2nd. Or maybe 3rd." names two."""
    words = "|".join(map(re.escape, sorted(vocabulary.words("either"))))
    return re.sub(
        rf"[.,;](?=\s+(?:{words})\b([^.,;:!?\n]*)(?:[.,;!?\n]|$))",
        lambda found: " " if _is_place(found[1], vocabulary) else found[0],
        text,
        flags=re.IGNORECASE,
    )


def _is_place(text: str, vocabulary: Vocabulary) -> bool:
    """Tell whether words name a gear, a shift or a place of the lever alone, perhaps in doubt."""
    unsure = vocabulary.words("unsure")
    telling = [token for token in vocabulary.split(text) if token.is_telling and token.written.lower() not in unsure]
    return bool(telling) and all(token.kind in PLACES for token in telling)


def _settle(found: re.Match[str], vocabulary: Vocabulary) -> str:
    whole, answer, rest = found["asked"], found["answer"], found["rest"]
    before = whole[: len(whole) - len(whole.lstrip())]
    empty = vocabulary.words_of("asks") | vocabulary.words("light")
    words = list(dropwhile(lambda word: word.lower() in empty, whole.split()))
    asked = " ".join(words)
    if not 0 < len(words) <= _MOST_WORDS:
        return found[0]
    if _is_no(answer + rest, vocabulary):
        denied = f"{before}{vocabulary.language.lists['negations'][0]} {asked}"
        return denied if len(denied) <= len(found[0]) else found[0]
    if answer.lower() in vocabulary.words_of("affirmed"):
        return f"{before}{asked}{rest}"
    stem = vocabulary.stem(answer.lower())
    is_state = stem in vocabulary.stems("sound") | vocabulary.stems("unsound")
    is_named = is_state and not rest.strip() and len(words) <= _MOST_NAMED and len(words) == len(whole.split())
    return f"{before}{asked} {answer}" if is_named else found[0]


def _is_no(answer: str, vocabulary: Vocabulary) -> bool:
    """Tell whether an answer is a phrase that says no, or begins with one that is longer than a word."""
    said = answer.lower().split()
    for phrase in vocabulary.language.turns["answered_no"]:
        words = phrase.split()
        if said[: len(words)] == words and (len(said) == len(words) or len(words) > 1):
            return True
    return False


def settle_codes(tokens: Sequence[Token], vocabulary: Vocabulary) -> list[Token]:
    """Give each code the yes or no that stands behind it, and pass over the words that say it; of a row that commas alone
    join it is not said of which it holds, and all but the last become unknown.

    Args:
        tokens: all of a text.
    Example: "P0705 no, P0753 yes" says that the first is not stored; "P0705, no P0753" that the second is not.
    """
    settled = list(tokens)
    places = [place for place, token in enumerate(tokens) if token.kind == "code"]
    answer, is_listed, is_closed = "", False, False
    for place, end in reversed([*pairwise((*places, len(tokens)))]):
        between = tokens[place + 1 : end]
        span = _said_behind(between, vocabulary, is_free=end < len(tokens) and not is_listed)
        said = {_says(token, vocabulary) for token in span} - {""}
        joining = {token.written.lower() for token in between} - {","}
        if said:
            answer, is_listed, is_closed = ("no" if "no" in said else "yes"), True, False
            _pass_over(settled, place, span, vocabulary)
        elif answer and joining <= vocabulary.words("joining") | _JOINTS and end < len(tokens):
            is_closed = is_closed or bool(joining)
        else:
            answer = ""
        code = settled[place]
        if answer and (said or is_closed or answer == "yes"):
            settled[place] = replace(code, denied=answer == "no")
        elif answer:
            settled[place] = replace(code, kind="word", stem=code.written.lower())
        else:
            settled[place] = replace(code, denied=_is_denied_ahead(tokens, place, vocabulary))
    return settled


def _is_denied_ahead(tokens: Sequence[Token], place: int, vocabulary: Vocabulary) -> bool:
    """Tell whether what stands ahead of a code denies it: "no P0705", "not stored: P0705", but not "none except P0705"."""
    apart = [
        phrase
        for phrase in vocabulary.language.turns["excepted"]
        if not set(phrase.split()) & vocabulary.words("negations")
    ]
    text = " ".join(token.written.lower() for token in tokens[max(0, place - 2) : place])
    if not place or tokens[place - 1].written not in _GLUE:
        return tokens[place].denied and not any(text.endswith(phrase) for phrase in apart)
    filling = vocabulary.words("beside_signs")
    ahead = dropwhile(lambda one: one.kind == "light" or one.written.lower() in filling, reversed(tokens[: place - 1]))
    return any(token.kind == "no" for token in islice(ahead, 1))


def _said_behind(between: Sequence[Token], vocabulary: Vocabulary, *, is_free: bool) -> list[Token]:
    """Give the words behind a code up to a stop or barrier, where they tell no more than whether it is stored.

    Args:
        between: what stands up to the next code; is_free: whether a denial right before that may belong to it.
    """
    is_glued = bool(between) and between[0].written in _GLUE
    left = between[1:] if is_glued else between
    barriers = vocabulary.words("barriers") - vocabulary.words("beside_signs")
    span = list(takewhile(lambda one: one.kind != "stop" and one.written.lower() not in barriers, left))
    if is_free and not is_glued and span and len(span) == len(left) and span[-1].kind == "no":
        del span[-1]
    filling = {word for phrase in vocabulary.language.turns["no_more"] for word in phrase.split()}
    filling |= vocabulary.words("beside_signs")
    told = [one.written.lower() in filling or bool(_says(one, vocabulary)) for one in span if one.is_telling]
    return span if all(told) else []


def _says(token: Token, vocabulary: Vocabulary) -> str:
    """Say whether a word by itself says yes or no; "" for neither."""
    text = token.written.lower()
    if token.kind == "no" or text in vocabulary.words_of("answered_no"):
        return "no"
    return "yes" if text in vocabulary.words_of("affirmed") else ""


def _pass_over(tokens: list[Token], place: int, span: Sequence[Token], vocabulary: Vocabulary) -> None:
    """Pass over what was said of a code, and over what its denial reaches."""
    starts, barriers = {token.start for token in span}, vocabulary.words("barriers")
    for one in range(place + 1, len(tokens)):
        token = tokens[one]
        if token.start in starts:
            tokens[one] = replace(token, kind="light", denied=False)
        elif token.start > span[-1].start and (
            token.kind in ("stop", "no", "code") or token.written.lower() in barriers
        ):
            break
        else:
            tokens[one] = replace(token, denied=False)
