"""Turn what was measured in a log into answers: a grade by the rules' bounds, doubted where the interval crosses one."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shiftlore.compiling import CompiledUnit
from shiftlore.knowledge import Finding, name_in_general
from shiftlore.knowledge.forms import LOG_MEASURES
from shiftlore.knowledge.records import Traced
from shiftlore.tracing.measured import FEWEST_FOR_INTERVAL, Estimate, Figures, estimate_median
from shiftlore.tracing.recordings import THROTTLE, TIME, WARMTH, Flags, Floats, Recording

AT_TIMES, FEWEST_AT_TIMES = 0.2, 3
"""What shows in a fifth of the samples, and in three, is there at times, though the middle is sound (judgement)."""
MOST_PLACES = 5


@dataclass(frozen=True, slots=True)
class TracedFinding:
    """One answer that a log gives.

    Args:
        is_grade: the answer; doubt: word for how sure, None where the interval lies clear of every bound.
        measured, unit: the median, and low, high: its 95 % interval; of what shows only at times, of those samples.
        samples: stretches or events that it rests on; at_times: how many of them show it, where not the most do.
        number: name under which a case holds the measured value, or "".
        general: label of all of its template; is_sound: whether it says that nothing is there.
        hertz: how often a second what was measured swings, or None.
        rows, at_s: rows of the file, and times, at which it shows; warmth_c, throttle_percent: at the first of these.
    """

    is_grade: str
    doubt: str | None
    measured: float
    unit: str
    samples: int
    low: float
    high: float
    label: str
    says: str
    measure: str
    general: str = ""
    is_sound: bool = False
    number: str = ""
    at_times: int = 0
    hertz: float | None = None
    rows: tuple[int, ...] = ()
    at_s: tuple[float, ...] = ()
    warmth_c: float | None = None
    throttle_percent: float | None = None


class LogJudge:
    """Grades what was measured in a log of one unit.

    Args:
        figures: all that was measured.

    `ungraded` is what was measured and has no limit: template of the finding -> figure and unit.
    """

    def __init__(self, unit: CompiledUnit, recording: Recording, figures: Sequence[Figures]):
        self.unit, self.recording = unit, recording
        self.figures: Mapping[tuple[str, str], Figures] = {(one.name, one.instance): one for one in figures}
        self.ungraded: dict[str, str] = {}
        self.doubt = next(iter(unit.knowledge.words.doubts))

    def judge(self) -> dict[str, TracedFinding]:
        """Give every answer of the log; where two measures answer, the more telling one counts."""
        found: dict[str, TracedFinding] = {}
        for key, record in self.unit.expansion.finding_records.items():
            grades = self.unit.expansion.findings[key].grades
            for traced in record.traced:
                answer = self._answer(key, record, traced)
                held = found.get(key)
                if answer is not None and (held is None or _rank(grades, answer) > _rank(grades, held)):
                    found[key] = answer
        return found

    def _answer(self, key: str, record: Finding, traced: Traced) -> TracedFinding | None:
        instance = key.removeprefix(record.id).removeprefix("_")
        figures = self.figures.get((traced.by, instance))
        if figures is None or len(figures.samples) < traced.fewest:
            return None
        grades = self.unit.expansion.findings[key].grades
        estimate = estimate_median(figures.samples)
        number = f"{traced.number}_{instance}" if traced.number and instance else traced.number
        grade = self._grade(key, traced, number, estimate.value)
        shows = np.ones(len(figures.samples), bool)
        at_times = 0
        if not figures.exact and grade in (None, grades[0]):
            wrong = self._mark_wrong(key, traced, number, figures.samples)
            if wrong.sum() >= FEWEST_AT_TIMES and wrong.mean() >= AT_TIMES:
                at_times, shows = int(wrong.sum()), wrong
                estimate = estimate_median(figures.samples[wrong])
                grade = self._grade(key, traced, number, estimate.value)
        if grade is None:
            self.ungraded[record.id] = f"{estimate.value:.4g} {LOG_MEASURES[traced.by].unit}"
        if grade is None or (traced.silent and grade == grades[0]):
            return None
        is_sure = self._is_sure(key, traced, (number, grade), estimate, figures) and not at_times
        return TracedFinding(
            grade,
            None if is_sure else self.doubt,
            measured=round(estimate.value, 3),
            unit=LOG_MEASURES[traced.by].unit,
            samples=len(figures.samples),
            low=round(estimate.low, 3),
            high=round(estimate.high, 3),
            label=self.unit.expansion.findings[key].label,
            says=self.unit.expansion.name_answer(key, grade),
            measure=traced.by,
            general=name_in_general(record),
            is_sound=grade == grades[0],
            number=number,
            at_times=at_times,
            hertz=None if figures.hertz is None else round(float(np.median(figures.hertz[shows])), 1),
            **self._place(figures, shows),
        )

    def _mark_wrong(self, key: str, traced: Traced, number: str, samples: Floats) -> Flags:
        """Mark the samples that tell of a fault: none where the least and the most of them tell of none."""
        sound = (None, self.unit.expansion.findings[key].grades[0])
        is_sound = [self._grade(key, traced, number, float(end(samples))) == sound[1] for end in (np.min, np.max)]
        if all(is_sound):
            return np.zeros(len(samples), bool)
        return np.array([self._grade(key, traced, number, value) not in sound for value in samples.tolist()])

    def _is_sure(self, key: str, traced: Traced, answer: tuple[str, str], estimate: Estimate, figures: Figures) -> bool:
        """Tell whether the whole interval gives the same answer, and is worth the name."""
        if figures.exact:
            return True
        ends = (self._grade(key, traced, answer[0], end) for end in (estimate.low, estimate.high))
        return estimate.count >= FEWEST_FOR_INTERVAL and all(end == answer[1] for end in ends)

    def _grade(self, key: str, traced: Traced, number: str, value: float) -> str | None:
        """Give the answer of a single figure; None where it says nothing."""
        if number:
            return self.unit.dials.grade(number, value).get(key)
        low = -np.inf if traced.low is None else traced.low
        high = np.inf if traced.high is None else traced.high
        return traced.grade if low <= value <= high else self.unit.expansion.findings[key].grades[0]

    def _place(self, figures: Figures, shows: np.ndarray) -> dict[str, Any]:
        """Say where it shows, and how warm and how hard pressed the vehicle was at the first place."""
        places = figures.rows[shows] if len(figures.rows) == len(shows) else figures.rows
        places = places[:MOST_PLACES]
        if not len(places):
            return {}
        found: dict[str, Any] = {
            "rows": tuple(int(row) for row in self.recording.rows[places]),
            "at_s": tuple(round(float(at), 2) for at in self.recording.columns[TIME][places]),
        }
        for name, channel in (("warmth_c", WARMTH), ("throttle_percent", THROTTLE)):
            if self.recording.has(channel):
                value = float(self.recording.columns[channel][places[0]])
                found[name] = round(value, 1) if np.isfinite(value) else None
        return found


def _rank(grades: Sequence[str], answer: TracedFinding) -> tuple[int, bool]:
    """Order answers: what tells more goes first, and of these what is sure."""
    return grades.index(answer.is_grade), answer.doubt is None
