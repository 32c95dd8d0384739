"""Nothing is run, rolled or driven that lies open, and nothing is looked at that is known: over random visits."""

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.trade import shipped, unit_of

from shiftlore.advising import next_steps
from shiftlore.advising.looks_first import is_made_for
from shiftlore.advising.situations import prepare_situation
from shiftlore.cases import Answer, Case
from shiftlore.compiling import compile_case
from shiftlore.planning import LookAhead

UNITS = ("long5", "cvt", "dct")
MOVING = {"road_test", "stall_test", "standing_under_power", "wheels_turning_lifted"}
"""Cautions that only what runs, pulls or rolls can need: by their texts in the trade's own safety sheets."""

TOGETHER = {"standing", "lifted", "covers_off", "wheels_off", "undertray_off"}
"""Levels at which a vehicle is still closed and holds its fluid."""


@cache
def _signs(unit_id):
    records = unit_of(unit_id).expansion.finding_records
    return [name for name, record in records.items() if record.complaint and not record.none_by]


@pytest.mark.parametrize("check", sorted(shipped().checks))
def test_checks__what_warns_of_motion_needs_the_vehicle_together(check):
    record = shipped().checks[check]
    assert record.running or not MOVING & set(record.cautions)
    assert not record.running or set(shipped().access_path(record.access)) <= TOGETHER


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(UNITS), st.sampled_from(sorted(shipped().access)), st.integers(0, 10**6))
def test_next_steps__what_moves_is_closed_first_and_the_closing_is_in_the_price(unit_id, access, seed):
    rng = np.random.default_rng(seed)
    complaint = str(rng.choice(_signs(unit_id)))
    case = Case(unit_id, access=access, findings={complaint: Answer(complaint, "yes")})
    for _ in range(3):
        compiled = compile_case(unit_of(unit_id), case)
        prepared = prepare_situation(compiled)
        plan = next_steps(compiled, look=LookAhead(depth=1))
        opened, tree = prepared.situation.opened, prepared.situation.access
        for step in plan.steps:
            if step.kind == "check":
                _judge_step(compiled, opened, tree, step)
        looks = [step for step in plan.steps if step.kind == "check"]
        _judge_worth(prepared, looks)
        if not looks:
            return
        chosen = looks[int(rng.integers(len(looks)))]
        place = prepared.situation.check_index(chosen.together[0])
        outcomes = prepared.oracle.outcomes(chosen.together[0])
        shown = int(rng.choice(len(outcomes.labels), p=outcomes.likelihoods @ prepared.oracle.belief))
        now = prepared.situation.reach_check(place, opened)[2]
        level = max((node.id for node in tree.nodes if tree.path_mask(node.id) == now), key=len, default=case.access)
        more = {name: Answer(name, grade) for name, grade in outcomes.answers[shown].items()}
        case = Case(unit_id, access=level, findings={**case.findings, **more})


def _judge_step(compiled, opened, tree, step):
    for check in step.together:
        record = compiled.expansion.checks[check]
        if record.running:
            left_open = opened & ~tree.path_mask(record.access)
            closing = sum(node.close_cost for i, node in enumerate(tree.nodes) if left_open >> i & 1)
            assert (check,) == step.together
            assert step.cost.closing_first == pytest.approx(closing, abs=1e-6)
            assert step.cost.access >= closing - 1e-6


def _judge_worth(prepared, looks):
    """A good diagnostician makes no check whose result is known, but for what is made for a sign that is told, and one scan
    where one holds the other."""
    records = prepared.compiled.expansion.finding_records
    made = {check for step in looks for check in step.together}
    for check in made:
        outcomes = prepared.oracle.outcomes(check)
        is_known = (outcomes.likelihoods @ prepared.oracle.belief).max() > 0.95
        assert not is_known or is_made_for(prepared.compiled, prepared.checks[check])
    shown = {
        check: {name for name in prepared.oracle.reveals[check] if not records[name].none_by}
        for check in made
        if any(records[name].none_by for name in prepared.oracle.reveals[check])
    }
    assert not [one for one in shown for other in shown if shown[one] < shown[other]]
