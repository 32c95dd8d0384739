"""Take plain words apart by what one language's file says: words and their stems, gears, shifts, codes, amounts, denials.

Forms of words only. How people say a finding stands in `knowledge/sayings/`; every word of the language in
`knowledge/language/`.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import snowballstemmer

from shiftlore.basics.problems import UnknownId
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.language import FIRST_LANGUAGE, Language

STOPS = 0.8  # what parts so strongly ends a statement
# What stands for a sign, whatever its number: "#gear"; for any denial; and for what parts two statements.
NO, STOP = "=no", "="
_KEPT = 8192
_THOUSANDS = re.compile(r"[., ](?=\d{3}(?!\d))")
_WORD = re.compile(r"[^\W\d_]+(?:'[^\W\d_]+)?|\d+(?:[.,]\d+)*|[^\w\s]|\n")
_HYPHEN = re.compile(r"(?<=[^\W\d_])-(?=[^\W\d_])")  # within a word, or between places: "lock-up", "N-D"
_FULL_STOPS = frozenset(".;!?\n")
_ROWS = ("gear", "shift", "lever")
_JOINTS = (",", "/", "&")
_SIZES = (12, 200)
_FEWEST_OF_ROW = 3
# From so many seconds or km on it is how long it has run, and not how long one waits (judgement).
_WHILE = {"time": 60.0, "distance": 1.0}


def read_number(number: str) -> float:
    """Read "182 000" and "1,5" alike: three digits after a sign are thousands.

    Example:
        >>> read_number("182 000"), read_number("2,900"), read_number("1,5")
        (182000.0, 2900.0, 1.5)
    """
    return float(_THOUSANDS.sub("", number).replace(",", ".").replace(" ", ""))


@dataclass(frozen=True, slots=True)
class Token:
    """One word or sign of a text.

    Args:
        stem: what it is compared by; a sign has ``#`` and its kind, with its bound for an amount: ``#time2``.
        written: as it was written; start, end: where in the text.
        kind: ``word``, ``light``, ``no``, ``stop``, or the kind of the sign.
        values: gears (``3``, ``r``), shifts (``2_3``), codes, letters of the selector, the amount's kind, or the five
            groups of what a number should be, as `signs` gives them: whether at most, whether at least, from, to, unit.
        number: an amount, in the first unit of its kind.
        denied: whether a denial reaches it.
        parts: how strongly it parts what stands before it from what comes after, 0 to 1.
        is_choice: whether its values are joined by "or".
    """

    stem: str
    written: str
    kind: str = "word"
    values: tuple[str, ...] = ()
    number: float = 0.0
    denied: bool = False
    parts: float = 0.0
    start: int = 0
    end: int = 0
    is_choice: bool = False

    @property
    def is_telling(self) -> bool:
        """Tell whether it counts in reading."""
        return self.kind not in ("light", "stop")


class Vocabulary:
    """One language, made ready to read with; once a session is enough.

    Args:
        language: what its file says; weights: every weight by its name.
    """

    def __init__(self, language: Language, weights: Mapping[str, float]):
        self.language = language
        self.weights = weights
        self.stem = lru_cache(_KEPT)(self._stem)
        self._known = lru_cache(_KEPT)(self._read_form)
        named = "|".join(map(re.escape, (*language.ordinals, *language.numbers, *language.lists.get("shortened", ()))))
        self._may_have_signs = re.compile(
            "|".join((r"\d", *([named] if named else []), *(rf"\b{letter}\b" for letter in language.levers))),
            re.IGNORECASE,
        )
        self._signs = [(sign.kind, re.compile(sign.find, re.IGNORECASE)) for sign in language.signs]

    def words(self, role: str) -> frozenset[str]:
        """Give a list of words as they are written."""
        return self._lists.get(role, frozenset())

    def stems(self, role: str) -> frozenset[str]:
        """Give the stems of a list of words; lists are stemmed when they are asked for, for stemming is slow."""
        if role not in self._stems:
            self._stems[role] = frozenset(map(self.stem, self.words(role)))
        return self._stems[role]

    def groups(self, stem: str) -> tuple[str, ...]:
        """Give the groups of words of nearly one sense in which a stem stands."""
        return self._groups.get(stem, ())

    def words_of(self, role: str) -> frozenset[str]:
        """Give the words of a turn of speech whose phrases are single words."""
        return self._turn_words.get(role, frozenset())

    @cached_property
    def turns(self) -> dict[str, list[tuple[str, tuple[str, ...]]]]:
        """First word of a turn of speech -> its role and all its words, the longest first."""
        return _by_first_word(self.language.turns)

    @cached_property
    def moments(self) -> dict[str, list[tuple[str, tuple[str, ...]]]]:
        """First word of what says when -> the name of the condition and all its words, the longest first."""
        return _by_first_word(self.language.moments)

    @cached_property
    def _turn_words(self) -> dict[str, frozenset[str]]:
        return {role: frozenset(phrases) for role, phrases in self.language.turns.items()}

    @cached_property
    def _passed_over(self) -> re.Pattern[str] | None:
        phrases = sorted(self.words("passed_over"), key=len, reverse=True)
        return re.compile(rf"\b(?:{'|'.join(map(re.escape, phrases))})\b", re.IGNORECASE) if phrases else None

    def says_when(self, tokens: Sequence[Token]) -> bool:
        """Tell whether tokens begin with words that say when something is so, after what only fills: "it is hot"."""
        filling = self.words_of("within_when")
        full = (n for n, one in enumerate(tokens) if one.kind != "light" and one.written.lower() not in filling)
        place = next(full, len(tokens))
        left = [token.written.lower() for token in tokens[place:]]
        if left and tokens[place].kind == "amount" and tokens[place].values[0] in ("time", "distance"):
            return tokens[place].number >= _WHILE[tokens[place].values[0]]
        return any(tuple(left[: len(said)]) == said for _, said in self.moments.get(left[0], ())) if left else False

    def split(self, text: str) -> list[Token]:
        """Take a text apart; light words and stops are in the list too."""
        text = _HYPHEN.sub(" ", text.replace("’", "'"))
        tokens = sorted(self._find_signs(text), key=lambda token: token.start)
        taken = {place for token in tokens for place in range(token.start, token.end)}
        besides = () if self._passed_over is None else self._passed_over.finditer(text)
        over = {place for found in besides for place in range(*found.span())}
        last = ""
        for found in _WORD.finditer(text):
            if found.start() in over:
                tokens.append(Token("", found[0], "light", start=found.start(), end=found.end()))
            elif found.start() not in taken and not (found[0] == "." and self._is_shortened(last, text[found.end() :])):
                tokens += self._read_word(found)
            last = found[0].lower()
        return self._deny(self._join_rows(sorted(tokens, key=lambda token: token.start)))

    def in_rows(self, tokens: Sequence[Token]) -> list[Token]:
        """Call three gears or more of one row by the word for it: "1 3 5" are the odd ones."""
        return [
            replace(token, kind="word", values=(), stem=self.stem(row)) if (row := self.row_of(token)) else token
            for token in tokens
        ]

    def row_of(self, token: Token) -> str:
        """Give the word for the row of which a token names three gears or more; "" where it does not."""
        rows = self.language.rows.items() if token.kind == "gear" and len(token.values) >= _FEWEST_OF_ROW else ()
        return next((word for word, gears in rows if {*token.values} <= {*gears}), "")

    def _is_shortened(self, word: str, rest: str) -> bool:
        """Tell whether a full stop only shortens the word before it: the sentence goes on."""
        return word in self.words("shortened") and rest.lstrip()[:1].islower()

    def _stem(self, word: str) -> str:
        return self._stemmer.stemWord(word) if self._stemmer else word

    @cached_property
    def _stemmer(self) -> "snowballstemmer.stemmer.BaseStemmer | None":
        return snowballstemmer.stemmer(self.language.stemmer) if self.language.stemmer else None

    @cached_property
    def _lists(self) -> dict[str, frozenset[str]]:
        return {role: frozenset(words) for role, words in self.language.lists.items()}

    @cached_property
    def _stems(self) -> dict[str, frozenset[str]]:
        return {}

    @cached_property
    def _groups(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, list[str]] = {}
        named = {**self.language.alike, **{name: self.language.lists.get(name, ()) for name in ("sound", "unsound")}}
        for name, words in named.items():
            for word in dict.fromkeys(map(self.stem, words)):
                found.setdefault(word, []).append(name)
        return {word: tuple(names) for word, names in found.items()}

    def _find_signs(self, text: str) -> Iterator[Token]:
        """Find gears, shifts, codes and amounts, the first kind that fits at each place."""
        if not self._may_have_signs.search(text):
            return
        free = [True] * len(text)
        for kind, pattern in self._signs:
            for found in pattern.finditer(text):
                start, end = found.span()
                if start < end and all(free[start:end]):
                    free[start:end] = [False] * (end - start)
                    yield replace(self._make_sign(kind, found), written=found[0], start=start, end=end)

    def _make_sign(self, kind: str, found: re.Match[str]) -> Token:
        groups = [group.lower() for group in found.groups() if group]
        numbers = [self.language.ordinals.get(group, group) for group in groups]
        if kind == "amount":
            unit = found.groupdict().get("unit") or next(iter(self.language.amounts["distance"].units))
            return self._make_amount(found["number"], unit.lower())
        if kind == "stated":
            return Token("#stated", "", kind, tuple((one or "").lower() for one in found.groups()))
        if kind == "row":
            row = range(int(numbers[0]), int(numbers[1]) + 1)
            return Token("#gear", "", "gear", tuple(map(str, row)))
        if kind == "shift":
            stem = "#shift" if int(numbers[1]) > int(numbers[0]) else "#downshift"
            return Token(stem, "", kind, (f"{numbers[0]}_{numbers[1]}",))
        if kind == "lever":
            letter = found[0][0].lower()  # "R", "rev.", "reverse"
            return Token(self.stem(self.language.levers[letter]), "", kind, (letter,))
        values = (groups[0].upper(),) if kind == "code" else tuple(numbers)
        return Token(f"#{kind}", "", kind, values)

    def _make_amount(self, number: str, unit: str) -> Token:
        unit = " ".join(unit.split())
        number = self.language.numbers.get(number.lower(), number)
        for kind, amount in self.language.amounts.items():
            factor = amount.units.get(unit, amount.units.get(re.sub(r"(?<=^k)(?=\w)", " ", unit)))
            if factor is not None:
                value = read_number(number) * factor
                bound = sum(value > one for one in amount.bounds)
                return Token(f"#{kind}{bound}", "", "amount", (kind,), value)
        return Token("#amount", "", "amount", ("",))

    def _read_word(self, found: re.Match[str]) -> Iterator[Token]:
        """Read a word by its form, as one token or several; the first carries how strongly it parts."""
        written, start, end = found[0], *found.span()
        for stem, kind, values, parts in self._known(written.lower()):
            yield Token(stem, written, kind, values, parts=parts, start=start, end=end)

    def _read_form(self, written: str) -> list[tuple[str, str, tuple[str, ...], float]]:
        """Give stem, kind, values and parting of each word that is read for one."""
        word = written.removesuffix("'s").replace("'", "")
        parts = self.language.breaks.get(word, 0.0)
        if not written[0].isalnum():
            return [(STOP, "stop", (), 1.0 if written in _FULL_STOPS else parts)]
        known = []
        for form in self.language.forms.get(word, word).split():
            values = tuple(letter for letter, place_of in self.language.levers.items() if place_of == form)
            kind = "no" if form in self.words("negations") else "light" if form in self.words("light") else "word"
            stem = NO if kind == "no" else _number_stem(form) if form[0].isdigit() else self.stem(form)
            known.append((stem, "lever" if values else kind, values, parts))
            parts = 0.0
        return known

    def _join_rows(self, tokens: list[Token]) -> list[Token]:
        """Make one token of a row of gears, shifts or selector places: "second, third and fifth"."""
        joined: list[Token] = []
        place = 0
        while place < len(tokens):
            token, members = tokens[place], self._members_of_row(tokens, place)
            for member in members[1:]:
                between = {one.written.lower() for one in tokens[place + 1 : member]}
                is_choice = token.is_choice or bool(between & self.words("either"))
                values = tuple(dict.fromkeys((*token.values, *tokens[member].values)))
                token = replace(token, values=values, end=tokens[member].end, is_choice=is_choice)
                place = member
            place += 1
            joined.append(token)
        return joined

    def _members_of_row(self, tokens: Sequence[Token], place: int) -> list[int]:
        """Give the places of a row's members; commas alone do not join what more is said of."""
        members, token = [place], tokens[place]
        is_closed = False  # "first and second, third and fourth" are two rows
        while token.kind in _ROWS and (end := self._row_goes_on(tokens, members[-1] + 1, token)):
            between = {one.written.lower() for one in tokens[members[-1] + 1 : end]}
            goes_to = tokens[end + 1 : end + 2]  # "N-D and N-R" are two pairs
            if (is_closed and "," in between) or (token.kind == "lever" and [one.kind for one in goes_to] == ["lever"]):
                break
            is_closed = bool(between & self.words("joining"))
            members.append(end)
        if len(members) == 1 or is_closed or tokens[members[-1] - 1].written != ",":
            return members
        behind = next((one for one in tokens[members[-1] + 1 :] if one.kind != "light"), None)
        says_more = behind is not None and behind.kind != "stop"
        is_sound = behind is not None and behind.stem in self.stems("sound") | self.stems("works")
        return members[:1] if is_sound or (token.kind == "lever" and says_more) else members

    def _row_goes_on(self, tokens: Sequence[Token], place: int, token: Token) -> int:
        """Give the place of the next member of a row, or 0; "either" and "or" between them belong to the row."""
        start = place
        while place < len(tokens) and place - start < 3:
            one = tokens[place]
            if one.kind == token.kind:
                again = {inside.written.lower() for inside in tokens[start:place]} & self.words_of("again_in")
                is_near = place > start and (token.kind != "lever" or one.stem != token.stem)
                return place if is_near and (not again or self._ends_clause(tokens[place + 1 :])) else 0
            text = one.written.lower()
            is_joint = text in self.words("joining") | self.words("articles") or one.written in _JOINTS
            if not is_joint and (place == start or text not in self.words_of("again_in")):
                return 0
            place += 1
        return 0

    def _ends_clause(self, tokens: Sequence[Token]) -> bool:
        """Tell whether nothing more is said up to the next stop: "and in drive.", but not "and in drive it bangs"."""
        after = next((one for one in tokens if one.kind != "light"), None)
        return after is None or after.kind == "stop"

    def _deny(self, tokens: list[Token]) -> list[Token]:
        """Mark what a denial reaches: the telling words after it, up to a stop or a barrier."""
        settled, left = [], 0
        for token in tokens:
            if token.kind == "no":
                left = int(self.weights.get("reach", 0))
            elif token.kind == "stop" or token.written.lower() in self.words("barriers"):
                left = 0
            elif left and token.is_telling:
                token, left = replace(token, denied=True), left - 1
            settled.append(token)
        return settled


def _by_first_word(listed: Mapping[str, Sequence[str]]) -> dict[str, list[tuple[str, tuple[str, ...]]]]:
    """Sort phrases by their first word: it -> the list they stand in and all their words, the longest first."""
    found: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for name, phrases in listed.items():
        for phrase in phrases:
            words = tuple(phrase.split())
            found.setdefault(words[0], []).append((name, words))
    return {first: sorted(phrases, key=lambda one: -len(one[1])) for first, phrases in found.items()}


def _number_stem(written: str) -> str:
    """Tell a number by its size alone: how many, how fast or how warm, and more than that."""
    whole = re.match(r"\d+", written)  # "²" is a digit, but no number
    return f"#number{sum(whole is not None and int(whole[0]) > one for one in _SIZES)}"


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
