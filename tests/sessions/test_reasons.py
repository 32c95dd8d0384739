"""Why a question is asked, in one sentence."""

import re

import pytest
from support.trade import compiled_of

from shiftlore.sessions import Candidate, rank_questions
from shiftlore.sessions.choosing_questions import foresee, list_cheap
from shiftlore.sessions.reasons import SMALLEST_MOVE, explain_question

ANSWERS = {"ratio_code_gear_2": "yes", "fluid_smell_burnt": "no"}


def test_explain_question__is_one_whole_sentence() -> None:
    compiled = compiled_of(ANSWERS)
    for candidate in rank_questions(compiled, list_cheap(compiled, ()))[:15]:
        text = explain_question(compiled, candidate)
        assert text[0].isupper() and text.endswith(".")
        assert "{name}" not in text and "\n" not in text


def test_explain_question__the_numbers_are_those_of_the_engine() -> None:
    compiled = compiled_of(ANSWERS)
    text = explain_question(compiled, Candidate(("fluid_level",), 0.1, 0.1))
    match = re.fullmatch(r'The answer "(.+)" would take "(.+)" from (\d+) to (\d+) %, "(.+)" to (\d+) %\.', text)
    assert match is not None, text
    node, labels = compiled.expansion.findings["fluid_level"], compiled.expansion.finding_records["fluid_level"].grade_labels
    said = {labels.get(grade, grade).lower(): i for i, grade in enumerate(node.grades)}
    cause = next(i for i, key in enumerate(compiled.causes) if compiled.expansion.causes[key].label == match.group(2))
    after = foresee(compiled, compiled.engine.predict(compiled.evidence, ["fluid_level"])["fluid_level"])[1]
    assert int(match.group(3)) == pytest.approx(100 * compiled.p_causes[cause], abs=0.51)
    assert int(match.group(4)) == pytest.approx(100 * after[said[match.group(1).lower()], cause], abs=0.51)
    assert int(match.group(6)) == pytest.approx(100 * after[0, cause], abs=0.51)


def test_explain_question__leaders_are_named() -> None:
    compiled = compiled_of(ANSWERS)
    first, second = list(compiled.knowledge.causes)[:2]
    text = explain_question(compiled, Candidate(("fluid_level",), 0.1, 0.1, (first, second)))
    assert text.startswith("It tells ") and " from " in text


def test_explain_question__what_moves_nothing_says_so() -> None:
    compiled = compiled_of(ANSWERS)
    cheap = list_cheap(compiled, ())
    predicted = compiled.engine.predict(compiled.evidence, cheap)
    moves = {key: abs(foresee(compiled, predicted[key])[1] - compiled.p_causes).max() for key in cheap}
    still = min(moves, key=lambda key: moves[key])
    assert moves[still] < SMALLEST_MOVE
    assert "It would shift several causes a little." == explain_question(compiled, Candidate((still,), 0, 0))
