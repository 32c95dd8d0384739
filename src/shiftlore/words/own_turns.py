"""Which turns of speech belong to how a finding itself is said."""

import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import cached_property, lru_cache

from shiftlore.knowledge.rulebook import NEAR
from shiftlore.words.vocabulary import STOPS, Token, Vocabulary

NO, YES = "no", "yes"
# In a phrase of `turns`: the end of a clause; and the end of a word.
END, ENDING = "$", "~"
# A turn that so great a share of all ways to say a finding has is part of it (judgement).
_OWN = 0.2
# Whatever is ever said of another part may be said of it.
_LEAST = {
    "other_part": 0.0,
    "other_work": 0.0,
    "other_lamp": 0.0,
    "broke": 0.02,
    "poured": 0.04,
    "compared": 0.04,
    "excepted": 0.05,
}
_KEPT = 4096
_LEAST_NAMED, _NEARLY_ALL = 10, 0.9
_AS_OFTEN = 0.8  # tried on sentences_build.yaml
_BOUNDS = ("above", "below")
# Of so many ways to say a finding that name a place or bound, so great a share deny there, or do not (judgement).
_LEAST_SAID, _MOST_OF = 3, 0.8


class OwnTurns:
    """Which turns belong to how a finding is said: "gone after the relearn" tells what helped, and not what has ended.

    Args:
        sayings: finding -> answer -> how people say it.
    """

    def __init__(self, sayings: Mapping[str, Mapping[str, Sequence[str]]], vocabulary: Vocabulary):
        self.sayings = sayings
        self.vocabulary = vocabulary
        self.has = lru_cache(_KEPT)(self._has)
        self._stems_of = lru_cache(_KEPT)(self._find_stems)
        self._subjects_of = lru_cache(_KEPT)(self._find_subjects)
        self._gear_of = lru_cache(_KEPT)(self._find_gear)
        self._is_of_row = lru_cache(_KEPT)(self._find_rowed)
        self._sides_of = lru_cache(_KEPT)(self._find_sides)

    def _has(self, key: str, role: str) -> bool:
        texts = [
            text for answer, said in self.sayings.get(key, {}).items() if answer not in (NO, NEAR) for text in said
        ]
        pattern = self._patterns[role]
        return sum(bool(pattern.search(text)) for text in texts) > _LEAST.get(role, _OWN) * len(texts)

    def is_turned(self, key: str, words: Sequence[Token], sentence: Sequence[Token]) -> bool:
        """Tell whether a place or bound stands in words that say a finding the other way round than it is said: "noise in
        neutral" of one that is only in gear, "fine below 60" of one that is only at low speed.

        Args:
            words: of the statement; sentence: all around them.
        """
        anchors = [anchor for clause in _part(sentence) for anchor in self._anchors(clause) if anchor[0] in words]
        sides = self._sides_of(key) if anchors else {}
        if sides and any(token.written.lower() in self.vocabulary.words_of("restricts") for token in words):
            sides = {anchor: denies for anchor, denies in sides.items() if not denies}
        for clause in _part(sentence):
            own = [token for token in clause if token in words]
            for denies in {sides[one] for token, one in anchors if token in own and one in sides}:
                if denies != self._denies(clause if denies else own):
                    return True
        return False

    def is_only_named(self, key: str, words: Sequence[Token]) -> bool:
        """Tell whether words are those alone by which a finding is named where nothing is found too: "transfer case"."""
        return len(words) > 1 and {token.stem for token in words} <= self._subjects_of(key)

    def is_of_other_gear(self, key: str, words: Sequence[Token]) -> bool:
        """Tell whether words name gears, and not the one that nearly all ways to say a finding name, where they name any; or a
        row of gears, where a finding is said of such rows and is read by the word for it: "1, 3 and 5 gone".
        """
        named = {gear for token in words if token.kind == "gear" for gear in token.values}
        if named and self._gear_of(key) not in ("", *named):
            return True
        return any(map(self.vocabulary.row_of, words)) and self._is_of_row(key)

    def _find_rowed(self, key: str) -> bool:
        """Tell whether a finding is said of a row of gears."""
        return any(self.vocabulary.row_of(token) for clause in self._wholes(key) for token in clause)

    def _wholes(self, key: str) -> Iterator[list[Token]]:
        for text in self.sayings.get(key, {}).get(YES, ()):
            yield self.vocabulary.split(re.sub(r"[()|]", " ", text))

    def _find_gear(self, key: str) -> str:
        """Give the one gear that nearly all ways to say a finding name, of those that name any; "" for none."""
        clauses = [
            {gear for one in clause if one.kind == "gear" for gear in one.values} for clause in self._clauses(key)
        ]
        counts = Counter(gear for gears in clauses for gear in gears)
        gear, count = next(iter(counts.most_common(1)), ("", 0))
        return gear if count >= max(_LEAST_NAMED, _NEARLY_ALL * sum(map(bool, clauses))) else ""

    def knows(self, key: str, token: Token) -> bool:
        """Tell whether a word stands in any way to say that something is so."""
        return token.stem in self._stems_of(key)

    def _find_stems(self, key: str) -> frozenset[str]:
        texts = [
            text for answer, said in self.sayings.get(key, {}).items() if answer not in (NO, NEAR) for text in said
        ]
        return frozenset(token.stem for text in texts for token in self.vocabulary.split(text))

    def _find_subjects(self, key: str) -> frozenset[str]:
        """Give the stems that are said, not denied, nearly as often where all is well as where it is not."""
        shares = []
        for texts in (self.sayings.get(key, {}).get(answer, ()) for answer in (YES, NO)):
            tokens = [
                {one.stem for one in self.vocabulary.split(text) if one.kind != "no" and not one.denied}
                for text in texts
            ]
            counts = Counter(stem for stems in tokens for stem in stems)
            shares.append({stem: count / len(texts) for stem, count in counts.items()})
        there, sound = shares
        return frozenset(stem for stem, share in sound.items() if share >= _AS_OFTEN * there.get(stem, 0.0))

    def _anchors(self, clause: Sequence[Token]) -> list[tuple[Token, str]]:
        """Give the places of a clause, and words before a bound, "above 60", each with what it is called."""
        found = [(token, one) for token in clause if token.kind == "lever" for one in token.values]
        for place, token in enumerate(clause):
            bound = [role for role in _BOUNDS if token.written.lower() in self.vocabulary.words_of(role)]
            found += [(token, role) for role in bound if all(map(self._is_number, clause[place + 1 : place + 2]))]
        return found

    def _is_number(self, token: Token) -> bool:
        is_named = token.written.lower() in self.vocabulary.language.numbers
        return token.kind == "amount" or is_named or token.written[0].isdigit()

    def _denies(self, tokens: Iterable[Token]) -> bool:
        """Tell whether tokens deny, say that all is well, or that something ends."""
        tokens = list(tokens)
        sound = self.vocabulary.stems("sound") - self.vocabulary.stems("bare")
        text = " ".join(token.written.lower() for token in tokens)
        is_sound = any(token.stem in sound and not token.denied for token in tokens)
        return is_sound or any(token.kind == "no" for token in tokens) or bool(self._patterns["ended"].search(text))

    def _find_sides(self, key: str) -> dict[str, bool]:
        """Tell beside which places, or bounds, a finding is said with a denial, and beside which without; where it is not
        said both ways that tells nothing.
        """
        said: dict[str, list[bool]] = {}
        for clause in self._clauses(key):
            for anchor in {one for _, one in self._anchors(clause)}:
                said.setdefault(anchor, []).append(self._denies(clause))
        found = {
            anchor: denies
            for anchor, each in said.items()
            for denies in (True, False)
            if len(each) >= _LEAST_SAID and each.count(denies) >= _MOST_OF * len(each)
        }
        kinds = {anchor: {found[one] for one in found if (one in _BOUNDS) == (anchor in _BOUNDS)} for anchor in found}
        return {anchor: denies for anchor, denies in found.items() if len(kinds[anchor]) > 1}

    def _clauses(self, key: str) -> Iterator[list[Token]]:
        """Give the clauses of all ways to say that a finding is there."""
        for tokens in self._wholes(key):
            yield from _part(tokens)

    @cached_property
    def _patterns(self) -> dict[str, re.Pattern[str]]:
        found = {}
        for role, phrases in self.vocabulary.language.turns.items():
            words = [re.escape(re.sub(rf"\s*[{END}{ENDING}]\S*$", "", phrase)) for phrase in phrases]
            found[role] = re.compile(rf"\b(?:{'|'.join(words)})\b")
        return found


def _part(tokens: Iterable[Token]) -> Iterator[list[Token]]:
    """Part tokens into clauses."""
    clause: list[Token] = []
    for token in tokens:
        if token.parts >= STOPS:
            yield clause
            clause = []
        clause.append(token)
    yield clause
