"""Say why a question is asked: what each answer would change."""

import numpy as np

from shiftlore.compiling import CompiledCase
from shiftlore.sessions.choosing_questions import Candidate, foresee

SMALLEST_MOVE = 0.02


def explain_question(compiled: CompiledCase, candidate: Candidate) -> str:
    """Say what an answer would change, in one sentence with the likeliest mover.

    Args:
        candidate: a question; of several findings the first stands for all.
    """
    causes = compiled.expansion.causes
    if candidate.separates:
        first, second = (compiled.knowledge.causes[name] for name in candidate.separates)
        return f"It tells {_name(first.label)} from {_name(second.label)}."
    predicted = compiled.engine.predict(compiled.evidence, candidate.findings)
    now = compiled.p_causes
    foreseen = {key: foresee(compiled, predicted[key])[1] for key in candidate.findings}
    best = max(
        ((key, row) for key in candidate.findings for row in range(1, len(foreseen[key]))),
        key=lambda item: float(np.max(np.abs(foreseen[item[0]][item[1]] - now))),
    )
    after = foreseen[best[0]]
    mover = int(np.argmax(np.abs(after[best[1]] - now)))
    if abs(after[best[1], mover] - now[mover]) < SMALLEST_MOVE:
        return "It would shift several causes a little."
    label = causes[compiled.causes[mover]].label
    node = compiled.expansion.findings[best[0]]
    grade = compiled.expansion.finding_records[best[0]].grade_labels.get(node.grades[best[1]], node.grades[best[1]])
    which = "A yes" if grade == "yes" else f'"{grade}"'
    return (
        f"{which} would take \"{label}\" from {now[mover] * 100:.0f} to {after[best[1], mover] * 100:.0f} %, "
        f"the sound answer to {after[0, mover] * 100:.0f} %."
    )


def _name(label: str) -> str:
    """Put a template's label into running text."""
    return '"' + label.replace(" {name}", "").replace("{name}", "the part") + '"'
