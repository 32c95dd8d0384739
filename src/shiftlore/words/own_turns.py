"""Which turns of speech belong to how a finding itself is said."""

import re
from collections.abc import Mapping, Sequence
from functools import cached_property, lru_cache

from shiftlore.knowledge.rulebook import NEAR
from shiftlore.words.vocabulary import Vocabulary

NO, YES = "no", "yes"
# In a phrase of `turns`: the end of a clause; and the end of a word.
END, ENDING = "$", "~"
# A turn that so great a share of all ways to say a finding has is part of it (judgement).
_OWN = 0.2
# Whatever is ever said of another part may be said of it.
_LEAST = {"other_part": 0.0, "compared": 0.04, "excepted": 0.05}
_KEPT = 4096


class OwnTurns:
    """Which turns belong to how a finding is said: "gone after the relearn" tells what helped, and not what has ended.

    Args:
        sayings: finding -> answer -> how people say it.
    """

    def __init__(self, sayings: Mapping[str, Mapping[str, Sequence[str]]], vocabulary: Vocabulary):
        self.sayings = sayings
        self.vocabulary = vocabulary
        self.has = lru_cache(_KEPT)(self._has)

    def _has(self, key: str, role: str) -> bool:
        texts = [
            text for answer, said in self.sayings.get(key, {}).items() if answer not in (NO, NEAR) for text in said
        ]
        pattern = self._patterns[role]
        return sum(bool(pattern.search(text)) for text in texts) > _LEAST.get(role, _OWN) * len(texts)

    @cached_property
    def _patterns(self) -> dict[str, re.Pattern[str]]:
        found = {}
        for role, phrases in self.vocabulary.language.turns.items():
            words = [re.escape(re.sub(rf"\s*[{END}{ENDING}]\S*$", "", phrase)) for phrase in phrases]
            found[role] = re.compile(rf"\b(?:{'|'.join(words)})\b")
        return found
