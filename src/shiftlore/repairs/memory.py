"""Remembered cases, one by one and many of them as arrays; and the published repairs that come with the program.

What a case is compared with must be at hand in some milliseconds, so beliefs and signs are kept as sparse arrays, and words
are only read of the few that are shown. What published repairs presented was weighed by the rules alone: what they taught
beside the rules would know them again.
"""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from io import BytesIO
from pathlib import Path

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.compiling.lessons import read_shipped
from shiftlore.knowledge import Knowledge

PUBLISHED_PATH = Path(__file__).with_name("published.npz")
SHOP, PUBLISHED = "shop", "published"
LEAST_BELIEF = 2e-3
"""Beliefs below are not kept."""
MOST_TOLD = 100
"""Letters of what was presented that are kept to be shown."""
_SMALL = ("belief_column", "sign_finding", "sign_word", "places", "causes")
_TABLES = ("templates", "findings", "words", "units", "areas", "causes", "makers")


@dataclass(frozen=True, slots=True)
class Remembered:
    """A case that is over, as far as a later one may look like it.

    Args:
        source: `SHOP` or `PUBLISHED`.
        told: what it presented, in one short line.
        area, causes: what it was; causes by their ids, as written or expanded; none where the rules have no such cause.
        vehicle: id of the unit sheet or kind that it was judged on.
        beliefs: cause as written -> how probable what it presented made it, on any scale.
        signs: finding -> grade, of what it presented.
        cause: what it was, in words; "" leaves it to the labels of the causes.
        from_whom: kind of publisher and a hash of the address; "" of a shop's own.
    """

    id: str
    source: str
    told: str
    area: str
    causes: tuple[str, ...] = ()
    vehicle: str = ""
    beliefs: Mapping[str, float] = field(default_factory=dict, hash=False)
    signs: Mapping[str, str] = field(default_factory=dict, hash=False)
    cause: str = ""
    from_whom: str = ""


class Memory(Value, frozen=True, eq=False):
    """Many remembered cases as arrays.

    Args:
        source: `SHOP` or `PUBLISHED`, of all of them.
        tables: names of causes as written, findings, grades, units, areas, causes and publishers, by what they are.
        belief_owner, belief_column, belief: of each belief the case, the cause, and its share, shape (n_beliefs,).
        sign_owner, sign_finding, sign_word: of each sign the case, the finding, and the grade, shape (n_signs,).
        places: unit, area, publisher and first cause of each case, shape (n_cases + 1, 4); the causes lie in `causes`.
        causes: places of all causes in their table, case by case.
        text: id, line and cause in words of every case; text_end: where each ends, shape (3 * n_cases,).
        made_from: hash of what it was made from.
    """

    source: str
    tables: Mapping[str, tuple[str, ...]]
    belief_owner: np.ndarray
    belief_column: np.ndarray
    belief: np.ndarray
    sign_owner: np.ndarray
    sign_finding: np.ndarray
    sign_word: np.ndarray
    places: np.ndarray
    causes: np.ndarray
    text: bytes
    text_end: np.ndarray
    made_from: str = ""

    def __len__(self) -> int:
        return len(self.places) - 1

    def _text_of(self, case: int, part: int) -> str:
        at = 3 * case + part
        return self.text[int(self.text_end[at - 1]) if at else 0 : int(self.text_end[at])].decode()

    def id_of(self, case: int) -> str:
        """Give the id of one of the cases."""
        return self._text_of(case, 0)

    def signs_of(self, case: int) -> dict[str, str]:
        """Give what one of the cases presented, finding -> grade."""
        first, last = np.searchsorted(self.sign_owner, (case, case + 1)).tolist()
        pairs = zip(self.sign_finding[first:last].tolist(), self.sign_word[first:last].tolist(), strict=True)
        return {self.tables["findings"][finding]: self.tables["words"][word] for finding, word in pairs}

    def beliefs_of(self, case: int) -> dict[str, float]:
        """Give what was believed of one of the cases, cause as written -> probability."""
        first, last = np.searchsorted(self.belief_owner, (case, case + 1)).tolist()
        pairs = zip(self.belief_column[first:last].tolist(), self.belief[first:last].tolist(), strict=True)
        return {self.tables["templates"][column]: p for column, p in pairs}

    def recall(self, case: int) -> Remembered:
        """Give one of the cases as a record."""
        unit, area, maker, first = self.places[case].tolist()
        causes = self.causes[first : int(self.places[case + 1, 3])].tolist()
        return Remembered(
            id=self.id_of(case),
            source=self.source,
            told=self._text_of(case, 1),
            area=self.tables["areas"][area],
            causes=tuple(self.tables["causes"][place] for place in causes),
            vehicle=self.tables["units"][unit],
            beliefs=self.beliefs_of(case),
            signs=self.signs_of(case),
            cause=self._text_of(case, 2),
            from_whom=self.tables["makers"][maker],
        )


def gather_memory(remembered: Sequence[Remembered], made_from: str = "") -> Memory:
    """Turn records into arrays; beliefs are brought to a sum of one, and the smallest left out.

    Args:
        remembered: all of one source.
        made_from: hash of what they were made from.
    """
    tables: dict[str, dict[str, int]] = {name: {} for name in _TABLES}

    def place(table: str, name: str) -> int:
        return tables[table].setdefault(name, len(tables[table]))

    beliefs: list[tuple[int, int, float]] = []
    signs: list[tuple[int, int, int]] = []
    places: list[tuple[int, int, int, int]] = []
    causes: list[int] = []
    texts: list[bytes] = []
    for i, one in enumerate(remembered):
        total = sum(one.beliefs.values()) or 1.0
        beliefs += [
            (i, place("templates", key), p / total) for key, p in one.beliefs.items() if p / total >= LEAST_BELIEF
        ]
        signs += [(i, place("findings", key), place("words", grade)) for key, grade in one.signs.items()]
        places.append(
            (place("units", one.vehicle), place("areas", one.area), place("makers", one.from_whom), len(causes))
        )
        causes += [place("causes", cause) for cause in one.causes]
        texts += [text.encode() for text in (one.id, one.told, one.cause)]
    by_column = np.array(beliefs, float).reshape(-1, 3).T
    sign_columns = np.array(signs, np.int64).reshape(-1, 3).T
    return Memory(
        source=remembered[0].source if remembered else SHOP,
        tables={name: tuple(table) for name, table in tables.items()},
        belief_owner=by_column[0].astype(np.int64),
        belief_column=by_column[1].astype(np.int64),
        belief=by_column[2],
        sign_owner=sign_columns[0],
        sign_finding=sign_columns[1],
        sign_word=sign_columns[2],
        places=np.array([*places, (0, 0, 0, len(causes))], np.int64),
        causes=np.array(causes, np.int64),
        text=b"".join(texts),
        text_end=np.cumsum([len(text) for text in texts], dtype=np.int64),
        made_from=made_from,
    )


def from_bytes(content: bytes) -> Memory:
    """Read the arrays as they were written.

    Raises: ValueError, KeyError, EOFError, BadZipFile: they are damaged.
    """
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        told, text = json.loads(kept["told"].tobytes()), kept["text"].tobytes()
        arrays = {name: kept[name] for name in ("belief", "text_end", *_SMALL)}
        owners = [np.repeat(np.arange(len(row)), row) for row in kept["counts"]]
    arrays["belief"] = arrays["belief"].astype(np.float32)
    tables = {name: tuple(told["tables"][name]) for name in _TABLES}
    return Memory(
        source=told["source"],
        tables=tables,
        belief_owner=owners[0],
        sign_owner=owners[1],
        text=text,
        made_from=told["made_from"],
        **arrays,
    )


def choose_published(knowledge: Knowledge) -> Memory | None:
    """Give the published repairs that came with the rules; None for other rules, or where what they taught is left out."""
    return read_shipped(knowledge, PUBLISHED_PATH, from_bytes)


def shorten(lines: Iterable[str], most: int = MOST_TOLD) -> str:
    """Tell in one line as much of some as there is room for; a first one that is too long is cut at a word.

    Example:
        >>> shorten(["slips in third.", "the fluid is brown", "no code"], 36)
        'slips in third; the fluid is brown'
        >>> shorten(["slips in third when it is hot"], 20)
        'slips in third ...'
    """
    told = ""
    for line in lines:
        line = " ".join(line.split()).rstrip(". ")
        longer = f"{told}; {line}" if told else line
        if len(longer) > most:
            return told or f"{line[: most - 4].rsplit(' ', 1)[0]} ..."
        told = longer
    return told
