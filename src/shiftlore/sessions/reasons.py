"""Say why a question is asked: what each answer would change."""

import numpy as np

from shiftlore.compiling import CompiledCase
from shiftlore.sessions.choosing_questions import Candidate, foresee_each

SMALLEST_MOVE = 0.02


def explain_question(compiled: CompiledCase, candidate: Candidate) -> str:
    """Say what an answer would change, in one sentence with the likeliest mover.

    Args:
        candidate: a question; of several findings the first stands for all.
    """
    causes = compiled.expansion.causes
    if candidate.separates:
        first, second = (_name_in_general(compiled, name) for name in candidate.separates)
        return f"It tells {first} from {second}, the two that lead."
    predicted = compiled.engine.predict(compiled.evidence, candidate.findings)
    now = compiled.p_causes
    foreseen = foresee_each(compiled, predicted)
    best = max(
        ((key, row) for key in candidate.findings for row in range(1, len(foreseen[key][0]))),
        key=lambda item: _expected_move(*foreseen[item[0]], item[1], now),
    )
    after = foreseen[best[0]][1]
    mover = int(np.argmax(np.abs(after[best[1]] - now)))
    if abs(after[best[1], mover] - now[mover]) < SMALLEST_MOVE:
        return "It would shift several causes a little."
    label = causes[compiled.causes[mover]].label
    now_to = f"{now[mover] * 100:.0f} to {after[best[1], mover] * 100:.0f} %"
    sound_to = f"{after[0, mover] * 100:.0f} %"
    if len(candidate.findings) > 1:
        told = compiled.expansion.findings[best[0]].label
        return f'A yes at "{told}" would take "{label}" from {now_to}.'
    told, sound = _say_grade(compiled, best[0], best[1]), _say_grade(compiled, best[0], 0)
    told = f"The answer {told}" if told.startswith('"') else told.capitalize()
    return f'{told} would take "{label}" from {now_to}, {sound} to {sound_to}.'


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
        key=lambda i: float(compiled.p_causes[i]),
    )
    return f'"{causes[compiled.causes[likeliest]].label}"'
