"""Take plain words apart by what one language's file says: stems, gears and shifts, speeds, codes, negations.

Forms of words only. What the trade calls things stands in the `words` of the findings; every word of the language in
`knowledge/language/`.
"""

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache, partial

from shiftlore.basics.problems import UnknownId
from shiftlore.knowledge import CODE_FORM, Knowledge
from shiftlore.knowledge.language import FIRST_LANGUAGE, Language, Rewriting, Speeds

# Stems that stand for a meaning, whatever word was said for it; no word is written so.
NO = "=no"
FINE = "=fine"
BAD = "=bad"
UNCURED = "=uncured"
MEANINGS = frozenset({NO, FINE, BAD, UNCURED})
_KEPT = 8192
_HYPHEN = re.compile(r"(?<=[^\W\d_])-(?=[^\W\d_])")
_WORD = re.compile(rf"#\d+(?:>\d+)?|{'|'.join(sorted(MEANINGS))}|[^\W_]+(?:[.,]\d+)?")
_SENTENCE_END = r"[;!?:\n]|[.](?!\d)|,(?!\d)"
_Write = str | Callable[[re.Match[str]], str]
# Texts of which one is needed, the substitution, and what it writes.
_Rule = tuple[tuple[str, ...], Callable[[_Write, str], str], _Write]


@dataclass(frozen=True, slots=True)
class Token:
    """One word of a text.

    Args:
        stem: what it is compared by: ``#3`` is a gear, ``#2>3`` a shift, a code stands in capitals.
        written: as it was written.
        is_light: too common to tell anything.
        is_mended: a slip of the fingers that was taken for another word, so less sure.
        roles: the word lists of the language that it stands in.
    """

    stem: str
    written: str
    is_light: bool = False
    is_mended: bool = False
    roles: frozenset[str] = frozenset()

    def has(self, role: str) -> bool:
        """Tell whether it stands in a word list of the language."""
        return role in self.roles

    @property
    def is_code(self) -> bool:
        """Tell whether it is a trouble code."""
        return self.stem[0].isupper()

    @property
    def is_instance(self) -> bool:
        """Tell whether it only names a gear, a shift or a code, and describes nothing by itself."""
        return self.stem[0] == "#" or self.is_code


def is_near(one: str, other: str, one_slip_from: int, two_slips_from: int) -> bool:
    """Tell whether two words differ by a slip of the fingers: one letter, or two in long words.

    Args:
        one_slip_from, two_slips_from: letters from which so many slips are allowed.
    """
    shorter = min(len(one), len(other))
    if shorter < one_slip_from or not (one.isalpha() and other.isalpha()):
        return False
    allowed = 1 if shorter < two_slips_from else 2
    if abs(len(one) - len(other)) > allowed or (one[0] != other[0] and one[:2] != other[1::-1]):
        return False
    return count_slips(one, other, allowed) <= allowed


def count_slips(one: str, other: str, most: int) -> int:
    """Count letters added, left out, changed or swapped; stops counting above `most`.

    Source: Damerau 1964 (optimal string alignment).
    Example:
        >>> count_slips("bangs", "bnags", 3)
        1
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


class Vocabulary:
    """One language, made ready to read with; once a session is enough.

    Args:
        language: what its file says; weights: every weight by its name.
    """

    def __init__(self, language: Language, weights: Mapping[str, float]):
        self.language = language
        self.weights = weights
        self._negations = frozenset(self.words("negations"))
        self._sound = frozenset(self.words("sound"))
        self._light = frozenset(self.words("light"))
        self._token = lru_cache(_KEPT)(self._make_token)
        self._as_written = [self._prepare(rule) for rule in language.as_written]
        self._turns = [self._prepare(rule) for rule in language.turns]
        self._number_rules = [self._prepare(rule) for rule in language.number_rules]
        self._numbers_where = re.compile(language.numbers_where)

    def words(self, role: str) -> tuple[str, ...]:
        """Give a list of words that count as written."""
        return self.language.written.get(role, ())

    def stems(self, role: str) -> frozenset[str]:
        """Give the stems of a list of words that count in any form."""
        return self._stems_of_roles.get(role, frozenset())

    def split(self, text: str) -> list[Token]:
        """Take a text apart into tokens.

        Shifts become ``#2>3``, gears ``#3``, any speed one of three words; every negation becomes `NO` and every word
        for "in order" `FINE`.
        """
        tokens: list[Token] = []
        for word in _WORD.findall(self.settle(text)):
            token = self._token(word)
            if not (tokens and token.stem == tokens[-1].stem == NO):
                tokens.append(token)
        return self._settle_denials(tokens) if any(token.stem == NO for token in tokens) else tokens

    def settle(self, text: str) -> str:
        """Put turns of speech, numbers, gears and shifts into one form each."""
        text = " ".join(text.split()).replace("’", "'")
        text = _rewrite(_rewrite(text, self._as_written).lower(), self._turns)
        if self._number_rules and self._numbers_where.search(text):
            text = _rewrite(text, self._number_rules)
        return _HYPHEN.sub("", text) if "-" in text else text

    def split_clauses(self, sentence: str) -> list[str]:
        """Cut a sentence where a clause ends."""
        return self._clause_end.split(sentence)

    def stem(self, word: str) -> str:
        """Cut a word in small letters down to its stem."""
        rules = self.language.stemming
        if word in rules.forms:
            return self._cut_silent(rules.forms[word])
        if len(word) <= rules.whole_up_to or any(letter.isdigit() for letter in word):
            return word
        return self._cut_silent(self._undouble(self._cut_ending(word)))

    def token(self, stem: str, written: str, is_mended: bool = False) -> Token:
        """Make a token of a known stem; it is not light."""
        return Token(stem, written, is_mended=is_mended, roles=self._roles(stem, written))

    @cached_property
    def _clause_end(self) -> re.Pattern[str]:
        words = "|".join(map(re.escape, self.words("clause_ends")))
        return re.compile(rf"{_SENTENCE_END}|\b(?:{words})\b" if words else _SENTENCE_END, re.IGNORECASE)

    @cached_property
    def _stems_of_roles(self) -> dict[str, frozenset[str]]:
        return {role: frozenset(map(self._make_stem, words)) for role, words in self.language.stems.items()}

    @cached_property
    def _roles_of_stems(self) -> dict[str, frozenset[str]]:
        return _turned_round(self._stems_of_roles)

    @cached_property
    def _roles_of_words(self) -> dict[str, frozenset[str]]:
        return _turned_round(self.language.written)

    @cached_property
    def _bad(self) -> frozenset[str]:
        return frozenset(map(self.stem, self.language.stems.get("bad", ())))

    def _roles(self, stem: str, written: str) -> frozenset[str]:
        return self._roles_of_words.get(written, frozenset()) | self._roles_of_stems.get(stem, frozenset())

    def _make_token(self, word: str) -> Token:
        stem = self._make_stem(word)
        written = word.removeprefix("=")
        is_light = stem not in MEANINGS and (word in self._light or stem in self._light)
        return Token(stem, written, is_light, roles=self._roles(stem, written))

    def _make_stem(self, word: str) -> str:
        if word in MEANINGS:
            return word
        if word in self._negations:
            return NO
        if word in self._sound:
            return FINE
        if CODE_FORM.fullmatch(word.upper()):
            return word.upper()
        stem = self.stem(self.language.stemming.numbers.get(word, word))
        return BAD if stem in self._bad else stem

    def _prepare(self, rule: Rewriting) -> _Rule:
        """Make a turn of speech ready to be put into its form."""
        write: _Write = rule.write
        if rule.is_speed:
            assert self.language.speeds is not None, "the reader of the file sees to it"
            write = _speed_words(self.language.speeds)
        elif rule.words:
            write = partial(_look_up, rule.words)
        return rule.needs or ("",), re.compile(rule.find).sub, write

    def _settle_denials(self, tokens: list[Token]) -> list[Token]:
        """Write "no problem" as fine, and "not ok" as bad."""
        settled: list[Token] = []
        place = 0
        while place < len(tokens):
            end = place + 1
            while tokens[place].stem == NO and end < len(tokens) and tokens[end].has("before_trouble"):
                end += 1
            meaning = _meaning(tokens[place], tokens[end : end + 2])
            if meaning is None:
                settled.append(tokens[place])
                place += 1
            else:
                written = " ".join(token.written for token in tokens[place : end + 1])
                settled.append(self.token(meaning, written))
                place = end + 1
        return settled

    def _cut_ending(self, word: str) -> str:
        for ending in self.language.stemming.endings:
            if word.endswith(ending.cut) and len(word) - len(ending.cut) >= ending.leaves:
                left = word[: -len(ending.cut)]
                if not left.endswith(ending.not_after):
                    return left + ending.write
        return word

    def _undouble(self, word: str) -> str:
        rules = self.language.stemming
        if rules.double_stays is None or len(word) <= rules.whole_up_to:
            return word
        return word[:-1] if word[-1] == word[-2] and word[-1] not in rules.double_stays else word

    def _cut_silent(self, word: str) -> str:
        rules = self.language.stemming
        return word[:-1] if rules.silent and len(word) > rules.whole_up_to and word.endswith(rules.silent) else word


def choose_vocabulary(knowledge: Knowledge, language_id: str = FIRST_LANGUAGE) -> Vocabulary:
    """Make a language ready; where the knowledge has no language files, those that came with the program are taken.

    Args:
        language_id: such as ``en``; weights that its file leaves out are those of the first language.
    Raises: UnknownId: no file carries the id; names those there are.
    """
    languages = knowledge.languages
    if FIRST_LANGUAGE not in languages:
        languages = {**_shipped_languages(), **languages}
    if language_id not in languages:
        raise UnknownId(f'There is no language "{language_id}". Write one of: {", ".join(sorted(languages))}.')
    language = languages[language_id]
    return Vocabulary(language, {**languages[FIRST_LANGUAGE].weights, **language.weights})


@lru_cache(1)
def _shipped_languages() -> Mapping[str, Language]:
    from shiftlore.knowledge import load_knowledge

    return load_knowledge().languages


def _rewrite(text: str, rules: Sequence[_Rule]) -> str:
    """Apply turns of speech in their order, each only where something that it needs stands."""
    for needs, put, write in rules:
        if any(need in text for need in needs):
            text = put(write, text)
    return text


def _look_up(words: Mapping[str, str], found: re.Match[str]) -> str:
    return words.get(found[0], found[0])


def _speed_words(speeds: Speeds) -> Callable[[re.Match[str]], str]:
    """Make the function that puts a speed into words."""

    def speak(found: re.Match[str]) -> str:
        kmh = float(found["number"]) * speeds.units.get(found["unit"], 1.0)
        kmh += speeds.over_by_kmh if found["over"] else 0.0
        if kmh < speeds.slow_below_kmh:
            return speeds.slow
        return speeds.fast if kmh > speeds.fast_above_kmh else speeds.middle

    return speak


def _meaning(first: Token, following: list[Token]) -> str | None:
    """Say what a negation and the word after it mean together, where that is one thing."""
    if first.stem != NO or not following:
        return None
    if following[0].stem == FINE:
        return BAD
    is_code = any(token.has("code") for token in following)
    return FINE if following[0].has("troubles") and not is_code else None


def _turned_round(members: Mapping[str, Collection[str]]) -> dict[str, frozenset[str]]:
    """List for each member the lists that hold it."""
    found: dict[str, set[str]] = {}
    for role, words in members.items():
        for word in words:
            found.setdefault(word, set()).add(role)
    return {word: frozenset(roles) for word, roles in found.items()}
