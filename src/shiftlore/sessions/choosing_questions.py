"""Choose the next question, by what is expected to be learnt for the time it takes, and say why it is asked."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.compiling import CompiledCase, foresee_answers, is_moot, list_open_lives

ASKING_MINUTES = 0.5
"""How long an answer takes that the owner or the papers give (judgement)."""
LOOK = "look"
CHEAP_WAYS = ("owner", "history", LOOK)
CHEAP_LOOK_MINUTES = 10.0
"""A look that takes longer, opening counted in, is a check with a price, not a question (judgement)."""
P_TINY = 1e-12
LEAST_NATS = 0.05
"""Below this a question is expected to change too little to bother the owner with it (judgement)."""
LEAST_NATS_WANTED = 0.02
"""The same where more questions are asked for, or where a question tells two leading causes apart (judgement)."""
P_LEADING = 0.08
P_WORTH_ASKING = 0.12
"""A question about several parts or gears is put only if one of them is at least as probable as this (judgement)."""
P_NOT_ABSURD = 0.03
"""Nobody asks for what is rarer than this after all that was said (judgement)."""
RULED_OUT_SOUND = 0.995
"""A sound answer that is as sure as this is not worth asking for."""
SMALLEST_MOVE = 0.02
"""An answer that moves no cause further is not worth a number in the reason (judgement)."""


@dataclass(frozen=True, slots=True)
class Asking:
    """A question that could be asked, and what it is expected to tell.

    Args:
        findings: the open findings it would answer; several for a question such as "in which gears?".
        nats: expected information about the causes.
        worth: nats per minute, leaders' separation counted in.
        separates: the two leading causes, as written, that the rules tell apart by it; or None.
    """

    findings: tuple[str, ...]
    nats: float
    worth: float
    separates: tuple[str, str] | None = None


def binary_information(p_outcome: np.ndarray, p_after: np.ndarray, p_now: np.ndarray) -> float:
    """Give the expected change of belief, summed over the causes, in nats.

    Args:
        p_outcome: shape (k,).
        p_after: shape (k, n_causes).
        p_now: shape (n_causes,).
    Source: Lindley 1956, expected Kullback-Leibler gain of an experiment; causes taken one by one.
    """
    after = np.clip(p_after, P_TINY, 1 - P_TINY)
    now = np.clip(p_now, P_TINY, 1 - P_TINY)
    gain = after * np.log(after / now) + (1 - after) * np.log((1 - after) / (1 - now))
    return float(p_outcome @ gain.sum(axis=1))


def foresee(compiled: CompiledCase, predicted: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Give how likely each outcome of a finding is, and the causes after it, jobs done in vain counted in.

    Args:
        predicted: P(outcome | root state, answers), shape (k, n_states), as `predict_now` gives it.
    Returns: shapes (k,) and (k, n_causes); an impossible outcome leaves the causes as they are. Both as they are now:
        jobs of this visit that did not help are counted, as the ranking counts them.
    """
    joint = compiled.weigh_outcomes(predicted)
    weights = joint.sum(axis=1)
    told = weights > P_TINY
    after = np.where(told[:, None], joint / np.where(told, weights, 1.0)[:, None], compiled.faults_now)
    return weights, compiled.faults.sum_over_causes(after)


def foresee_each(
    compiled: CompiledCase, predicted: Mapping[str, np.ndarray]
) -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Give the same as `foresee` for many findings at once, which is quicker than one by one."""
    p_outcome, after = foresee(compiled, np.concatenate(list(predicted.values())))
    cuts = np.cumsum([len(table) for table in predicted.values()])[:-1]
    return dict(zip(predicted, zip(np.split(p_outcome, cuts), np.split(after, cuts), strict=True), strict=True))


def list_cheap(compiled: CompiledCase, asked: Iterable[str]) -> list[str]:
    """List the open findings that cost no more than a question or a look."""
    minutes, done = look_minutes(compiled), set(asked)

    def is_cheap(key: str) -> bool:
        way = compiled.expansion.finding_records[key].got_by
        return way in CHEAP_WAYS and (way != LOOK or minutes.get(key, 0.0) <= CHEAP_LOOK_MINUTES)

    records = compiled.expansion.finding_records
    shown = {records[finding].id for finding in compiled.telling}
    general = {one.id for one in records.values() if shown.intersection(one.general_of)} | shown
    answers = {one.finding: one.grade for one in compiled.all_answers}
    return [
        key
        for key in compiled.open_findings()
        if key not in done
        and records[key].asked
        and not records[key].stands_for
        and is_cheap(key)
        and not is_moot(compiled.expansion, answers, key)
        and (not records[key].asked_after or general.intersection(records[key].asked_after))
    ]


def look_minutes(compiled: CompiledCase) -> dict[str, float]:
    """Give the minutes in which each finding can be had at best, opening counted in where it is closed now."""
    knowledge = compiled.knowledge
    opened = set(knowledge.access_path(compiled.case.access))
    best: dict[str, float] = {}
    for key, check in compiled.expansion.checks.items():
        closed = [level for level in knowledge.access_path(check.access) if level not in opened]
        opening = sum(knowledge.access[level].open_minutes for level in closed)
        for finding in compiled.expansion.reveals[key]:
            best[finding] = min(best.get(finding, np.inf), check.minutes + opening)
    return best


def find_leaders(compiled: CompiledCase, p_now: np.ndarray) -> tuple[str, str] | None:
    """Name the templates of the two leading causes, if both are in earnest."""
    order = [i for i in np.argsort(-p_now, kind="stable") if p_now[i] >= P_LEADING]
    templates = [compiled.expansion.causes[compiled.causes[i]].template for i in order]
    leaders = list(dict.fromkeys(templates))[:2]
    return (leaders[0], leaders[1]) if len(leaders) == 2 else None


def list_separators(compiled: CompiledCase, leaders: tuple[str, str] | None) -> set[str]:
    """List the findings that the rules name to tell the two leaders apart, expanded."""
    if leaders is None:
        return set()
    causes = compiled.knowledge.causes
    named = [
        finding
        for own, other in (leaders, leaders[::-1])
        for alike in causes[own].looks_like
        if alike.cause == other
        for finding in alike.tells_apart
    ]
    return {key for finding in named for key in compiled.expansion.of_template.get(finding, (finding,))}


def rank_questions(compiled: CompiledCase, open_findings: Sequence[str]) -> list[Asking]:
    """Rank the questions that could be asked now, best first; one that tells two leading causes apart goes first.

    Findings of one template asked together ("in which gears?") make one question.
    """
    if not open_findings:
        return []
    p_now = compiled.causes_now
    foreseen = foresee_each(compiled, compiled.predict_now(tuple(open_findings)))
    leaders = find_leaders(compiled, p_now)
    separators = list_separators(compiled, leaders)
    minutes = look_minutes(compiled)
    askings = []
    for findings in group_findings(compiled, open_findings).values():
        nats = _weigh_findings([foreseen[finding] for finding in findings], p_now)
        is_look = compiled.expansion.finding_records[findings[0]].got_by == LOOK
        takes = minutes.get(findings[0], 0.0) if is_look else ASKING_MINUTES
        between = leaders if separators & set(findings) else None
        askings.append(Asking(tuple(findings), nats, nats / (takes + 1), between))
    return sorted(askings, key=lambda one: (not (one.separates and one.nats >= LEAST_NATS_WANTED), -one.worth))


def find_telling_life(compiled: CompiledCase, least: float) -> str | None:
    """Name the background, asked alone, that is expected to tell most; None where none tells as much per minute as `least`."""
    told = {}
    for record in list_open_lives(compiled):
        p_outcome, after = foresee(compiled, foresee_answers(compiled, record)[1])
        told[record.id] = binary_information(p_outcome, after, compiled.causes_now)
    name = max(told, key=lambda one: told[one], default="")
    return name if name and told[name] >= max(LEAST_NATS, least * (ASKING_MINUTES + 1)) else None


def _weigh_findings(foreseen: Sequence[tuple[np.ndarray, np.ndarray]], p_now: np.ndarray) -> float:
    """Sum what the findings of one question are expected to tell, in nats."""
    told = [(p, after) for p, after in foreseen if p[0] < RULED_OUT_SOUND]
    likeliest = max(1 - float(p[0]) for p, _ in foreseen)
    is_worth = likeliest >= (P_NOT_ABSURD if len(foreseen) == 1 else P_WORTH_ASKING)
    return sum(binary_information(p, after, p_now) for p, after in told) if is_worth else 0.0


def group_findings(compiled: CompiledCase, findings: Iterable[str]) -> Mapping[str, list[str]]:
    """Put findings of one template that are asked together under one key, all others under their own."""
    groups: dict[str, list[str]] = {}
    records = compiled.expansion.finding_records
    for key in findings:
        record = records[key]
        together = record.scope.each is not None and record.together and record.grades == ("no", "yes")
        groups.setdefault(record.id if together else key, []).append(key)
    return groups


def explain_question(compiled: CompiledCase, asking: Asking) -> str:
    """Say what an answer would change, in one sentence with the likeliest mover.

    Args:
        asking: a question; of several findings the first stands for all.
    """
    if asking.separates:
        first, second = (_name_in_general(compiled, name) for name in asking.separates)
        return f"It tells {first} from {second}, the two that lead."
    expansion, now = compiled.expansion, compiled.causes_now
    foreseen = foresee_each(compiled, compiled.predict_now(asking.findings))
    rows = [(key, row) for key in asking.findings for row in range(1, len(foreseen[key][0]))]
    key, row = max(rows, key=lambda place: _expected_move(*foreseen[place[0]], place[1], now))
    after = foreseen[key][1]
    mover = int(np.argmax(np.abs(after[row] - now)))
    if abs(after[row, mover] - now[mover]) < SMALLEST_MOVE:
        return "It would shift several causes a little."
    label = expansion.causes[compiled.causes[mover]].label
    move = f'would take "{label}" from {now[mover] * 100:.0f} to {after[row, mover] * 100:.0f} %'
    if len(asking.findings) > 1:
        return f'A yes at "{expansion.findings[key].label}" {move}.'
    told, sound = _say_grade(compiled, key, row), _say_grade(compiled, key, 0)
    told = f"The answer {told}" if told.startswith('"') else told.capitalize()
    return f"{told} {move}, {sound} to {after[0, mover] * 100:.0f} %."


def _expected_move(p_outcome: np.ndarray, after: np.ndarray, row: int, now: np.ndarray) -> float:
    """Weigh how much an answer moves one cause with how probable the answer is."""
    return float(p_outcome[row] * np.max(np.abs(after[row] - now)))


def _say_grade(compiled: CompiledCase, finding: str, position: int) -> str:
    """Say an answer in running text: `a yes`, `a no`, or the grade in quotes."""
    grade = compiled.expansion.findings[finding].grades[position]
    label = compiled.expansion.finding_records[finding].grade_labels.get(grade, grade)
    return f"a {grade}" if grade in ("yes", "no") else f'"{label}"'


def _name_in_general(compiled: CompiledCase, template: str) -> str:
    """Name a cause in running text; one per part by its likeliest part."""
    causes = compiled.expansion.causes
    likeliest = max(
        (i for i, cause in enumerate(compiled.causes) if causes[cause].template == template),
        key=lambda i: float(compiled.causes_now[i]),
    )
    return f'"{causes[compiled.causes[likeliest]].label}"'
