"""Sentences of owners, advisors and mechanics with the answers in them, and the score of a reader on them.

A reader is measured through one plain function, ``read(unit, text) -> {key: answer}``. A key is a finding or
background as it stands in a case, a code (``P0732``; not the finding that the code answers) or ``odometer_km``. An
answer is a word, a number, or a mapping of ``is``, ``doubt`` and ``when`` as in a case; the distance may be
``{at_least: 300000}``. What was said as either-or is given with all its members. What the reader leaves to the
person is not given at all.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import yaml

from shiftlore.compiling import compile_unit
from shiftlore.knowledge import Knowledge
from shiftlore.words import read_report

DATA = Path(__file__).parents[1] / "words" / "data"
BUILD, UNSEEN, FRESH, ASIDE = "build", "unseen", "fresh", "fresh_aside"
_EACH_ASIDE = 3
ODOMETER = "odometer_km"
NEAR_DISTANCE = 0.02  # miles are turned into kilometres by hand
NO_YES = ("no", "yes")
# The condition findings, by the short names that stand in ``when``.
CONDITIONS = {
    "hot": "worse_hot",
    "cold": "worse_cold",
    "load": "worse_load",
    "light_throttle": "worse_light_throttle",
    "kickdown": "only_kickdown",
    "coasting": "only_coasting",
    "turning": "only_turning",
    "first_start": "first_start_only",
    "wet": "after_wet",
    "low_speed": "low_speed_only",
    "high_speed": "high_speed_only",
    "at_times": "intermittent",
    "middle_speed": "speed_band_45_100",
    "above_speed": "above_speed_only",
    "hot_weather": "hot_weather",
    "stop_and_go": "stop_and_go_worst",
}

Answers = Mapping[str, Any]
Reader = Callable[[str, str], Answers]
Fitting = dict[str, tuple[Any, ...]]


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence and what is in it.

    Args:
        id: its number; unit: the sheet or kind; text: what was said.
        gold: what a trade person would enter, backgrounds and distance too: for each key the answers that fit.
        groups: ways to enter one and the same statement: one of each group is enough.
        optional: may be entered, need not be; wrong: opposites and tempting misreadings.
        doubted: keys that were said with doubt; tied: keys with the conditions that belong to them alone.
        wanted: what is said too, but no finding holds yet.
    """

    id: str
    unit: str
    text: str
    gold: Fitting
    groups: tuple[Fitting, ...] = ()
    optional: Fitting | None = None
    wrong: Fitting | None = None
    doubted: frozenset[str] = frozenset()
    tied: Mapping[str, frozenset[str]] | None = None
    wanted: tuple[str, ...] = ()

    def allows(self, key: str) -> tuple[Any, ...]:
        """Give all answers of a key that are right to enter."""
        pools = (self.gold, *self.groups, self.optional or {})
        return tuple(answer for pool in pools for answer in pool.get(key, ()))


@dataclass(frozen=True, slots=True)
class Score:
    """How a reader did: counts, and what to look at (sentence, key, answer), for the part to build on.

    Args:
        gold, found: answers to be found, and those found.
        given, right, opposite: answers given, those right to enter, those that contradict what was said.
        doubts, doubts_kept: doubtful and either-or answers that were found, and those given with a doubt.
        ties, ties_kept: found answers with a condition of their own, and those given with it.
        missed, surplus, opposed: the answers behind the counts.
    """

    gold: int
    found: int
    given: int
    right: int
    opposite: int
    doubts: int
    doubts_kept: int
    ties: int
    ties_kept: int
    missed: tuple[tuple[str, str, Any], ...]
    surplus: tuple[tuple[str, str, Any], ...]
    opposed: tuple[tuple[str, str, Any], ...]

    @property
    def recall(self) -> float:
        """Share of the answers in the sentences that were found, 0 to 1."""
        return self.found / self.gold if self.gold else 1.0

    @property
    def precision(self) -> float:
        """Share of the given answers that are right to enter, 0 to 1."""
        return self.right / self.given if self.given else 1.0

    @property
    def opposites(self) -> float:
        """Share of the given answers that contradict what was said, 0 to 1."""
        return self.opposite / self.given if self.given else 0.0

    def __str__(self) -> str:
        """Give the three shares in a line, with the counts behind them."""
        return (
            f"recall {self.recall:.1%} ({self.found} of {self.gold}), precision {self.precision:.1%} "
            f"({self.right} of {self.given}), opposites {self.opposites:.1%} ({self.opposite}), "
            f"doubts kept {self.doubts_kept} of {self.doubts}, conditions tied {self.ties_kept} of {self.ties}"
        )


def load_said(part: str) -> list[Sentence]:
    """Load sentences: ``build`` or ``fresh``, or ``unseen`` or ``fresh_aside``, on which one measures and never reads them."""
    text = (DATA / f"sentences_{part.removesuffix('_aside')}.yaml").read_text(encoding="utf-8")
    entries = yaml.load(text, yaml.CSafeLoader)
    if part in (FRESH, ASIDE):
        entries = [one for one in entries if (int(one["id"][1:]) % _EACH_ASIDE == 0) == (part == ASIDE)]
    return [make_sentence(entry) for entry in entries]


def allow_implied(knowledge: Knowledge, sentences: Iterable[Sentence]) -> list[Sentence]:
    """Allow what the gold implies: the general finding of a special one that is there, and the finding of a code."""
    generals = _list_generals(knowledge)
    return [replace(one, optional={**_implied(knowledge, one, generals), **(one.optional or {})}) for one in sentences]


def _list_generals(knowledge: Knowledge) -> dict[str, list[str]]:
    generals: dict[str, list[str]] = {}
    for finding in knowledge.findings.values():
        for special in finding.general_of:
            generals.setdefault(special, []).append(finding.id)
    return generals


def _implied(knowledge: Knowledge, sentence: Sentence, generals: Mapping[str, Sequence[str]]) -> Fitting:
    known = compile_unit(knowledge, sentence.unit).expansion.findings
    waiting = [
        known[key].template if key in known else knowledge.codes[key].finding if key in knowledge.codes else key
        for pool in (sentence.gold, *sentence.groups)
        for key, fit in pool.items()
        if key not in known or known[key].grades[0] not in fit
    ]
    found: Fitting = {knowledge.codes[key].finding: ("yes",) for key in sentence.gold if key in knowledge.codes}
    while waiting:
        for general in generals.get(waiting.pop(), ()):
            if general not in found and general not in sentence.gold:
                found[general] = ("yes",)
                waiting.append(general)
    return found


def make_sentence(entry: Mapping[str, Any]) -> Sentence:
    """Make a sentence of its entry in the file."""
    sure = {**entry.get("gold", {}), **entry.get("background", {})}
    if ODOMETER in entry:
        sure[ODOMETER] = entry[ODOMETER]
    both = [item for group in entry.get("either", ()) for item in group.items()]
    gold = {**sure, **dict(both)}
    said = [item for group in (gold, *entry.get("one_of", ())) for item in group.items()]
    return Sentence(
        entry["id"],
        entry["unit"],
        entry["text"],
        _fitting(gold),
        tuple(_fitting(group) for group in entry.get("one_of", ())),
        _fitting(entry.get("optional", {})),
        _fitting(entry.get("wrong", {})),
        frozenset({key for key, answer in said if _part(answer, "doubt")} | {key for key, _ in both}),
        {key: frozenset(_part(answer, "when")) for key, answer in said if _part(answer, "when")},
        tuple(entry.get("wanted", ())),
    )


def score(read: Reader, sentences: Iterable[Sentence]) -> Score:
    """Measure a reader on sentences.

    A condition that the reader ties to one answer counts as said too.
    """
    counts = dict.fromkeys(
        ("gold", "found", "given", "right", "opposite", "doubts", "doubts_kept", "ties", "ties_kept"), 0
    )
    missed: list[tuple[str, str, Any]] = []
    surplus: list[tuple[str, str, Any]] = []
    opposed: list[tuple[str, str, Any]] = []
    for sentence in sentences:
        raw = read(sentence.unit, sentence.text)
        given = _with_conditions(raw)
        for wish in ({key: fit} for key, fit in sentence.gold.items()):
            _count_wish(sentence, wish, given, raw, counts, missed)
        for wish in sentence.groups:
            _count_wish(sentence, wish, given, raw, counts, missed)
        for key, answer in given.items():
            counts["given"] += 1
            if _fits(answer, sentence.allows(key)):
                counts["right"] += 1
                continue
            surplus.append((sentence.id, key, answer))
            if contradicts(sentence, key, answer):
                counts["opposite"] += 1
                opposed.append((sentence.id, key, answer))
    return Score(**counts, missed=tuple(missed), surplus=tuple(surplus), opposed=tuple(opposed))


def contradicts(sentence: Sentence, key: str, answer: Any) -> bool:
    """Tell whether an answer says the opposite of the sentence, or is a misreading that it names."""
    allowed = sentence.allows(key)
    turned = answer in NO_YES and bool(allowed) and answer not in allowed
    return turned or _fits(answer, (sentence.wrong or {}).get(key, ()))


def read_today(knowledge: Knowledge) -> Reader:
    """Give the reader of ``find --report`` in the form that is measured, held to what the unit has."""

    def read(unit: str, text: str) -> Answers:
        report = read_report(knowledge, compile_unit(knowledge, unit).expansion, text)
        given: dict[str, Any] = {ODOMETER: report.odometer_km} if report.odometer_km is not None else {}
        both = [answer for group in report.either for answer in group]
        for answer in (*report.answers, *both):
            doubt = "either" if answer in both else answer.doubt
            given[answer.id] = {"is": answer.answer, "doubt": doubt, "when": answer.when}
        return given

    return read


def score_statements(knowledge: Knowledge) -> tuple[float, float, float]:
    """Measure the reader on single statements of the street, by plain ids: recall, precision, and share of opposites."""
    unit = "step"
    expansion, generals, read = (
        compile_unit(knowledge, unit).expansion,
        _list_generals(knowledge),
        read_today(knowledge),
    )
    wanted = found = given = right = opposite = 0
    for entry in yaml.load((DATA / "statements_street.yaml").read_text(encoding="utf-8"), yaml.CSafeLoader):
        holds = {key: _word(answer) for key, answer in entry["holds"].items()}
        holds = {key: one for key, one in holds.items() if key in knowledge.backgrounds or key in expansion.of_template}
        got = {
            expansion.finding_records[key].id if key in expansion.finding_records else key: answer
            for key, answer in _with_conditions(read(unit, entry["text"])).items()
            if key not in knowledge.codes and key != ODOMETER
        }
        allowed = {*holds, *(general for key in holds for general in generals.get(key, ()))}
        wanted, given = wanted + len(holds), given + len(got)
        found += sum(got.get(key) == answer for key, answer in holds.items())
        right += sum(key in allowed and holds.get(key, answer) == answer for key, answer in got.items())
        opposite += sum(holds.get(key, answer) != answer for key, answer in got.items())
    return found / wanted, right / given, opposite / given


def _with_conditions(raw: Answers) -> dict[str, Any]:
    """Give the plain answers of a reader, and the conditions that it ties to one as answers of their own."""
    given = {CONDITIONS[name]: "yes" for answer in raw.values() for name in _part(answer, "when")}
    return given | {key: _plain(answer) for key, answer in raw.items()}


def _count_wish(
    sentence: Sentence,
    wish: Fitting,
    given: Answers,
    raw: Answers,
    counts: dict[str, int],
    missed: list[tuple[str, str, Any]],
) -> None:
    counts["gold"] += 1
    hit = next((key for key, fit in wish.items() if key in given and _fits(given[key], fit)), None)
    if hit is None:
        missed.extend((sentence.id, key, fit) for key, fit in wish.items())
        return
    counts["found"] += 1
    if hit in sentence.doubted:
        counts["doubts"] += 1
        counts["doubts_kept"] += bool(_part(raw.get(hit), "doubt"))
    if hit in (sentence.tied or {}):
        counts["ties"] += 1
        counts["ties_kept"] += sentence.tied[hit] == frozenset(_part(raw.get(hit), "when"))


def _fitting(answers: Answers) -> Fitting:
    return {key: tuple(map(_word, _listed(_plain(answer)))) for key, answer in answers.items()}


def _fits(answer: Any, fitting: Sequence[Any]) -> bool:
    return any(_same(_word(answer), one) for one in fitting)


def _same(one: Any, other: Any) -> bool:
    """Compare two answers; distances may differ by the rounding of miles."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return _same(one.get("at_least"), other.get("at_least"))
    if isinstance(one, int | float) and isinstance(other, int | float):
        return abs(one - other) <= NEAR_DISTANCE * abs(other)
    return bool(one == other)


def _plain(answer: Any) -> Any:
    return _word(answer["is"] if isinstance(answer, Mapping) and "is" in answer else answer)


def _word(answer: Any) -> Any:
    """Give yes and no as words, as YAML reads them as true and false."""
    return NO_YES[answer] if isinstance(answer, bool) else answer


def _listed(answer: Any) -> Sequence[Any]:
    return answer if isinstance(answer, list) else [answer]


def _part(answer: Any, name: str) -> Any:
    return answer.get(name, ()) if isinstance(answer, Mapping) else ()
