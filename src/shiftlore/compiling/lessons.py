"""What published repairs and judged vehicles have taught beside the rules: how much likelier each area is with such answers.

A log-linear likelihood per area over what a case says: its answers, the vehicle's life, the kind of unit, the speaker's own
words. It was learned with the rules' own ranking as its starting point (tests/support/lesson_learning.py), so it holds only
what they miss. It shapes the priors of the causes of an area, as backgrounds do, so all that follows stays exact; and it
belongs to the knowledge that came with the program.
"""

import contextlib
import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from io import BytesIO
from pathlib import Path
from typing import TypeVar
from zipfile import BadZipFile

import msgspec
import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.cases import Case
from shiftlore.compiling.evidence import CONDITION_SIGN, Observation
from shiftlore.compiling.expansion import Expansion
from shiftlore.knowledge import Knowledge
from shiftlore.knowledge.rulebook import RULES_ALONE, SHIPPED
from shiftlore.sheets import UnitSheet

SHIPPED_PATH = Path(__file__).with_name("lessons.npz")
_DAMAGED = (OSError, ValueError, KeyError, EOFError, BadZipFile)
Arrays = TypeVar("Arrays")
LearnedRepair = tuple[tuple[int, ...], str, tuple[str, ...]]
_Told = tuple[tuple[str, ...], tuple[str, ...], tuple[LearnedRepair, ...]]
_WORD = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
IS_WORD = "~"
"""Begins the features that are words: after all others when sorted."""
LETTERS = 6
"""Words are cut to so many letters, so that their endings do not part them."""
WORDS_COUNT = 2.5
"""Length of the features that are words beside all else (as `LETTERS`, by cross-validation over repairs)."""
FEW, FEW_WORDS = 60.0, 800.0
"""Squared weight of features at which they count 0.7 of their whole, and the same of words: two words are no report, and the
repairs that it was learned from told more (by cross-validation over the repairs, and over single sentences of them)."""
_KM_BANDS = (60_000, 120_000, 200_000)
TRUST = 0.69
"""Power of the rules' shares, too sure of themselves (by cross-validation, and calibration, over the repairs)."""
TRUST_MEASURED = 0.9
"""The same where a gauge, or the open unit, has shown something: what few repairs tell of and the rules know (by the same)."""
MEASURED = ("measure", "open")
P_FLOOR = 1e-6


class Lessons(Value, frozen=True, eq=False, dict=True):
    """The arrays of what was learned.

    Args:
        features: names, sorted; those of words last.
        areas: ids.
        weights: shape (n_features, n_areas), natural logarithms; base: shape (n_areas,).
        rarity: weight of each feature, shape (n_features,): rare ones weigh more.
        repairs: of each published repair the positions of its features, its id, and its causes by their ids.
    """

    features: tuple[str, ...]
    areas: tuple[str, ...]
    weights: np.ndarray
    base: np.ndarray
    rarity: np.ndarray
    repairs: tuple[LearnedRepair, ...] = ()

    @cached_property
    def first_word(self) -> int:
        """Give the position of the first feature that is a word."""
        return sum(not name.startswith(IS_WORD) for name in self.features)

    @cached_property
    def _place(self) -> dict[str, int]:
        return {name: i for i, name in enumerate(self.features)}

    def find(self, said: Iterable[str]) -> list[int]:
        """Give the positions of the features that are known, ascending."""
        return sorted({self._place[name] for name in said if name in self._place})

    def weigh(self, said: Iterable[str], shares: np.ndarray, trust: float = TRUST) -> np.ndarray:
        """Give per area by how much the rules' own share of it is to be multiplied, on any scale, shape (n_areas,).

        Args:
            shares: share of each area under the rules alone, shape (n_areas,); they count by a power of `trust`, for rules
                are too sure of themselves.
        """
        places = self.find(said)
        score = self.base + weigh_features(self, places) @ self.weights[places]
        score -= (1 - trust) * np.log(np.maximum(shares, P_FLOOR))
        factors: np.ndarray = np.exp(score - score.max())
        return factors

    def place_areas(self, areas: Iterable[str]) -> np.ndarray:
        """Give the position of each area; of those that were not learned the number of all."""
        place = {area: i for i, area in enumerate(self.areas)}
        return np.array([place.get(area, len(place)) for area in areas], dtype=np.intp)

    def count_published(self, cause: str) -> tuple[int, Mapping[str, int]]:
        """Count the published repairs of a cause, and in how many of them each feature stands."""
        own = [places for places, _, causes in self.repairs if cause in causes]
        return len(own), {self.features[i]: count for i, count in Counter(i for places in own for i in places).items()}

    def to_bytes(self) -> bytes:
        """Write the arrays as they are kept: not packed, for they are read whenever a case is ranked."""
        told = msgspec.msgpack.encode((self.features, self.areas, self.repairs))
        buffer = BytesIO()
        np.savez(
            buffer,
            told=np.frombuffer(told, np.uint8),
            weights=self.weights.astype(np.float16),
            base=self.base.astype(np.float32),
            rarity=self.rarity.astype(np.float16),
        )
        return buffer.getvalue()


def weigh_features(lessons: Lessons, places: Sequence[int]) -> np.ndarray:
    """Weigh the features of a case: all but words at length one, and words; rare ones weigh more, few less; shape (n,)."""
    row: np.ndarray = lessons.rarity[places]
    cut = bisect_left(places, lessons.first_word)
    for part, length, few in ((row[:cut], 1.0, FEW), (row[cut:], WORDS_COUNT, FEW_WORDS)):
        part *= length / float(np.sqrt((part**2).sum() + few))
    return row


def from_bytes(content: bytes) -> Lessons:
    """Read the arrays as they were written.

    Raises: ValueError, KeyError, EOFError, BadZipFile: they are damaged.
    """
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        features, areas, repairs = msgspec.msgpack.decode(kept["told"].tobytes(), type=_Told)
        rarity = kept["rarity"].astype(float)
        return Lessons(features, areas, kept["weights"], kept["base"], rarity=rarity, repairs=repairs)


def count_published(knowledge: Knowledge, cause: str) -> tuple[int, Mapping[str, int]]:
    """Count the published repairs of a cause as it is written, and in how many of them each `finding=grade` was told."""
    lessons = choose_lessons(knowledge)
    return (0, {}) if lessons is None else lessons.count_published(cause)


def choose_lessons(knowledge: Knowledge) -> Lessons | None:
    """Give what was learned beside the rules that came with the program; None for other rules, or where it is switched off."""
    return read_shipped(knowledge, SHIPPED_PATH, from_bytes)


def read_shipped(knowledge: Knowledge, path: Path, read: Callable[[bytes], Arrays]) -> Arrays | None:
    """Give arrays that came with the program and belong to its rules, read once; None for other rules, where they are left
    out, or where the file is damaged.
    """
    if not knowledge.worked_out.get(SHIPPED) or knowledge.worked_out.get(RULES_ALONE):
        return None
    if path not in knowledge.worked_out:
        knowledge.worked_out[path] = None
        with contextlib.suppress(*_DAMAGED):
            knowledge.worked_out[path] = read(path.read_bytes())
    arrays: Arrays | None = knowledge.worked_out[path]
    return arrays


def list_features(expansion: Expansion, sheet: UnitSheet, case: Case, answers: Iterable[Observation]) -> Iterator[str]:
    """Name what a case says: answers, also without their instance; the vehicle's life; the kind of unit; words, notes too."""
    for answer in answers:
        record = expansion.finding_records.get(answer.finding)
        # A condition of one finding tells what the condition tells.
        general = (answer.finding if record is None else record.id).partition(CONDITION_SIGN)[0]
        names = dict.fromkeys((answer.finding, general))
        yield from (f"{name}={answer.grade}" for name in names)
    yield from (f"{name}={grade}" for name, grade in case.background.items())
    if case.onset is not None:
        yield from (f"after={name}" for name in case.onset.after)
        yield f"how={case.onset.how}"
    yield from (f"tag={tag}" for tag in sheet.tags)
    yield from (f"{key}={value}" for key, value in (("speeds", case.speeds), ("layout", case.layout)) if value)
    if case.odometer_km is not None:
        yield f"km={sum(case.odometer_km >= km for km in _KM_BANDS)}"
    yield from list_words((*case.said, case.note))


def choose_trust(expansion: Expansion, answers: Iterable[Observation]) -> float:
    """Give the power by which the rules' shares count for these answers."""
    records, findings = expansion.finding_records, expansion.findings
    told = (one for one in answers if one.grade != findings[one.finding].grades[0] and one.finding in records)
    return TRUST_MEASURED if any(records[one.finding].got_by in MEASURED for one in told) else TRUST


def list_words(texts: Iterable[str]) -> Iterator[str]:
    """Name the words of texts and their pairs, as features."""
    for text in texts:
        words = [word[:LETTERS] for word in _WORD.findall(text.lower())]
        yield from (f"{IS_WORD}{word}" for word in words)
        yield from (f"{IS_WORD}{first} {second}" for first, second in zip(words, words[1:], strict=False))


def lean(
    lessons: Lessons, places: np.ndarray, said: Iterable[str], p_causes: np.ndarray, trust: float = TRUST
) -> np.ndarray:
    """Give how much likelier published repairs make each cause, shape (n_causes,).

    Args:
        places: of each cause the position of its area (`Lessons.place_areas`); said: features of the case.
        p_causes: chances of single causes under the rules alone, on any scale, shape (n_causes,); trust: as in `weigh`.
    """
    factors = lessons.weigh(said, share_areas(places, p_causes, len(lessons.areas))[:-1], trust)
    return np.append(factors, 1.0)[places]


def share_areas(places: np.ndarray, p_causes: np.ndarray, n_areas: int) -> np.ndarray:
    """Add the chances of single causes up to shares of areas, shape (n_areas + 1,), the last of areas that are not known.

    Args:
        places: of each cause the position of its area; p_causes: shape (n_causes,).
    """
    shares = np.bincount(places, p_causes, n_areas + 1)
    return shares / max(float(shares.sum()), 1e-300)
