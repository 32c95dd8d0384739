"""Reads words once more, with fewer of them: do they still say the same; and which classes are no other answer than one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import numpy.typing as npt

from shiftlore.knowledge import Finding, Knowledge
from shiftlore.words.denials import denies_another, find_meant
from shiftlore.words.trained import NONE, Features, Segment, Trained, weigh
from shiftlore.words.vocabulary import STOPS, Token

# So sure is a reading with fewer words that they still say it; and so much more than any other answer of the finding.
SURE_AGAIN, _CLEARLY = 0.5, 0.15
_FOUND, _CONDITION, _LIFE = range(3)


@dataclass(frozen=True, eq=False)
class Rereader:
    """Reads words once more, with fewer of them.

    Args:
        allowed: per class 0, or less for a class that the vehicle cannot have; kin: per class those that are no other answer.
    """

    trained: Trained
    features: Features
    allowed: npt.NDArray
    kin: npt.NDArray | None = None

    def says(self, words: Sequence[Token], label: str, least: float = SURE_AGAIN) -> bool:
        """Tell whether words speak of a class, at least so surely."""
        if not words or all(map(self.features.is_bare, words)):
            return False
        found, sure = self._weigh(words)
        same = self.trained.place_of.get(label)
        return same is not None and sure > least and self._is_kin(found, same)

    def label(self, words: Sequence[Token], least: float = SURE_AGAIN) -> str:
        """Name the class of which words speak; the class of nothing where that is not sure."""
        if not words:
            return NONE
        found, sure = self._weigh(words)
        return self.trained.classes[found] if sure > least else NONE

    def says_else(self, words: Sequence[Token], label: str) -> bool:
        """Tell whether words speak of something, and of no kin of a class."""
        found, sure = self._weigh(words)
        return (
            sure > SURE_AGAIN
            and self.trained.classes[found] not in (NONE, label)
            and not self._is_kin(found, self.trained.place_of[label])
        )

    def _weigh(self, words: Sequence[Token]) -> tuple[int, float]:
        """Give the place of the class of which words speak most surely, and how surely."""
        labels, sures = weigh(self.trained.whole(words, self.features)[None] + self.allowed, self.kin)
        return int(labels[0]), float(sures[0])

    def list_needed(
        self, words: Sequence[Token], label: str, findings: Mapping[str, Finding] | None = None
    ) -> list[Token]:
        """List the words that may be needed to say a class: not those never met, without which it is said as well, nor those
        on the other side of "and" that tell something else.

        Args:
            findings: given for what tells of the life of the vehicle: what is found may stand behind it.
        """
        needed = list(self._trim(words, label))
        for end in range(2, len(needed)) if findings is not None else ():
            record = (findings or {}).get(self.label(needed[end:]).partition(":")[0])
            is_found = record is not None and not record.condition
            if is_found and self._says_without(needed[end:], needed[:end], needed, label):
                needed = needed[:end]
                break
        for token in [*needed]:
            if not self.trained.knows(token) and len(needed) > 1:
                left = [one for one in needed if one is not token]
                needed = left if self.says(left, label) else needed
        return needed

    def own_part(self, words: Sequence[Token], parts: Sequence[float], label: str) -> Sequence[Token]:
        """Give the words that say a class: where stops part them and one part alone says it, that: "fluid done, still flares";
        of what is graded the fewest parts in a row: "burnt smell, new mechatronic, no better".

        Args:
            parts: how strongly each is parted from the one before.
        """
        joints = [place for place in range(1, len(words)) if parts[place] >= STOPS]
        ends = [0, *joints, len(words)]
        for count in range(1, len(joints) + 1 if ":" in label else min(2, len(joints) + 1)):
            rows = [words[start:end] for start, end in zip(ends, ends[count:], strict=False)]
            saying = [row for row in rows if self.says(row, label)]
            if saying:
                return saying[0] if len(saying) == 1 else words
        return words

    def part_behind(self, starts: Sequence[int], words: Sequence[Token], label: str) -> Sequence[Token]:
        """Give the words from one of these places on where they say a class by themselves, and what stands before them is
        denied: "no longer slips since the fluid change".
        """
        for start in starts:
            before, left = ([one for one in words if (one.start < start) == is_before] for is_before in (True, False))
            if any(one.kind == "no" for one in before) and left and self.says_yes(left, label):
                return left
        return words

    def rejoin(
        self,
        segments: Sequence[Segment],
        telling: Sequence[Token],
        parts: Sequence[float],
        findings: Mapping[str, Finding],
    ) -> list[Segment]:
        """Join what says when to what it says it of, where both together are a special case of that: "stalls when I stop".

        Args:
            segments: in order; telling: the tokens that they count; parts: how strongly each is parted from the one before.
        """
        openers = self.features.vocabulary.words_of("opens_when")
        joined: list[Segment] = []
        for two in segments:
            one = joined[-1] if joined else None
            is_next = one is not None and one.end == two.start and parts[two.start] < STOPS
            if one is not None and is_next and telling[two.start].written.lower() in openers:
                label, general = self.label(telling[one.start : two.end]), findings.get(one.label)
                if general is not None and label in general.general_of and label != two.label:
                    joined[-1] = replace(one, end=two.end, label=label)
                    continue
            joined.append(two)
        return joined

    def denies_another(self, words: Sequence[Token], sentence: Sequence[Token], label: str) -> bool:
        """Tell whether a denial in words of a class says something of its own, and denies nothing of it."""
        return denies_another(words, sentence, partial(self.says_else, label=label))

    def meant(self, words: Sequence[Token], sentence: Sequence[Token], label: str) -> Sequence[Token]:
        """Give the words of a class without a place that is only set off from what is meant; maybe none."""
        return find_meant(words, sentence, self.features.vocabulary, partial(self.says, label=label))

    def _trim(self, words: Sequence[Token], label: str) -> Sequence[Token]:
        """Leave out what stands on one side of "and" where the rest says a class no worse: "low, and pink milkshake"."""
        joining = self.features.vocabulary.words("joining")
        for joint in [
            place for place, token in enumerate(words) if token.written.lower() in joining and not token.values
        ]:
            for left, rest in ((words[:joint], words[joint + 1 :]), (words[joint + 1 :], words[:joint])):
                if self._says_without(left, rest, words, label):
                    return rest
        return words

    def _says_without(self, left: Sequence[Token], rest: Sequence[Token], words: Sequence[Token], label: str) -> bool:
        """Tell whether words say a class no worse without some that tell something else, and deny nothing."""
        tells = sum(not self.features.is_bare(token) for token in left)
        if any(token.kind == "no" or token.denied for token in left) or not self.says(rest, label):
            return False
        if not tells or (tells == 1 and not self._senses(left).isdisjoint(self._senses(rest))):
            return False  # "slow and lazy" is one thing said twice
        place = self.trained.place_of[label]
        whole, part = (self.trained.whole(said, self.features)[place] for said in (words, rest))
        return bool(part >= whole)

    def _senses(self, words: Sequence[Token]) -> set[str]:
        """Name the groups of words of one sense to which words belong that are no mere names of parts."""
        unsound = self.features.vocabulary.stems("unsound")
        told = [token for token in words if not self.features.is_bare(token)]
        broken = {"unsound" for token in told if token.stem in unsound}
        return broken.union(*(self.features.vocabulary.groups(token.stem) for token in told))

    def _is_kin(self, one: int, other: int) -> bool:
        return one == other or bool(self.kin is not None and self.kin[one, other])

    def says_grade(self, words: Sequence[Token], label: str) -> bool:
        """Tell whether words speak of a class, and clearly rather than of another answer of the same finding."""
        if not self.says(words, label):
            return False
        row = self.trained.whole(words, self.features)
        own, key = self.trained.place_of[label], label.partition(":")[0]
        others = [
            place for name, place in self.trained.place_of.items() if name.partition(":")[0] == key and place != own
        ]
        return not others or bool(row[own] > max(row[others]) + _CLEARLY)

    def says_yes(self, words: Sequence[Token], label: str, least: float = SURE_AGAIN) -> bool:
        """Tell whether words speak of a class, at least so surely, and say that it is so."""
        is_other = ":" in label
        return self.says(words, label, least) and (
            is_other or self.trained.yes(words, label, self.features) > SURE_AGAIN
        )


def find_kin(knowledge: Knowledge, keys: Sequence[str], beside: np.ndarray) -> np.ndarray:
    """Tell per class which classes are no other answer than it: itself, general and special ones, what is said beside it;
    and whatever else says that nothing was found.
    """
    nothing = np.array([key in knowledge.findings and knowledge.findings[key].none_by is not None for key in keys])
    kin = np.eye(len(keys), dtype=bool) | (beside[:, None] & beside) | (nothing[:, None] & nothing)
    places = {key: place for place, key in enumerate(keys)}
    for general in knowledge.findings.values():
        for special in general.general_of:
            if general.id in places and special in places:
                kin[places[general.id], places[special]] = kin[places[special], places[general.id]] = True
    return kin


def find_layer(knowledge: Knowledge, key: str) -> int:
    """Part what is found, under which condition, and how the vehicle lived: the same words may tell of each."""
    if key in knowledge.backgrounds:
        return _LIFE
    return _CONDITION if key in knowledge.findings and knowledge.findings[key].condition else _FOUND
