"""What somebody asks and answers himself, as on a job card: "Leaks? None." says that there are none."""

import re
from itertools import dropwhile

from shiftlore.words.turns import PLACES
from shiftlore.words.vocabulary import Vocabulary

_MOST_WORDS = 6
_MOST_NAMED = 3
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
