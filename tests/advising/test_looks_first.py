"""What is made for a told sign goes before what costs as much, and the level of a careful visit before all else."""

from functools import cache

import pytest
from support.trade import compiled_of, shipped

from shiftlore.advising.looks_first import LOOK_FIRST, is_made_for, list_made_for, put_looks_first
from shiftlore.advising.situations import CaseSituation, prepare_situation
from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledCase, compile_case, compile_unit
from shiftlore.planning import Decision, Step, choose_step, list_looks


@pytest.fixture(scope="module")
def choice() -> Decision:
    return choose_step(_prepared().situation, _prepared().oracle)


@cache
def _prepared() -> CaseSituation:
    return prepare_situation(compiled_of({"no_drive_any": "yes"}))


def _put(choice: Decision, made_for: dict[str, int]) -> Decision:
    return put_looks_first(choice, made_for, _prepared().oracle.belief)


def _ids(found: Decision) -> list[tuple[str, ...]]:
    return [step.ids for step in found.steps]


def _price(step: Step) -> float:
    return step.cost.total + step.cost.closing_later


@pytest.mark.parametrize(
    ("speeds", "expected"),
    [(3, {"governor_look", "throttle_cable_look", "vacuum_modulator_look"}), (6, set()), (None, set())],
)
def test_is_made_for__only_what_the_vehicle_may_well_have(speeds: int | None, expected: set[str]) -> None:
    compiled = _of_kind(speeds)
    checks = (check for check in compiled.expansion.checks.values() if "no_upshift" in check.made_for)
    assert expected == {check.id for check in checks if is_made_for(compiled, check)}


def _of_kind(speeds: int | None) -> CompiledCase:
    case = Case("step-rwd", findings={"no_upshift": Answer("no_upshift", "yes")}, speeds=speeds)
    return compile_case(compile_unit(shipped(), case.vehicle), case)


def test_put_looks_first__without_a_sign_nothing_moves(choice: Decision) -> None:
    assert _ids(choice) == _ids(_put(choice, {}))


def test_put_looks_first__a_look_goes_before_what_costs_no_less_and_before_all_jobs(choice: Decision) -> None:
    checks = [step for step in choice.steps if step.kind == "check"]
    last = checks[-1]
    found = _put(choice, {last.ids[0]: 0})
    place = _ids(found).index(last.ids)
    assert sorted(_ids(choice)) == sorted(_ids(found))
    assert all(step.kind != "job" and _price(step) < _price(last) for step in found.steps[:place])
    assert found.steps[place + 1].kind == "job" or _price(last) <= _price(found.steps[place + 1])


def test_put_looks_first__what_begins_a_careful_visit_goes_first_and_of_one_place_the_cheapest_alone(
    choice: Decision,
) -> None:
    checks = sorted((step for step in choice.steps if step.kind == "check"), key=_price)
    cheap, dear, other = checks[0], checks[-1], checks[-2]
    found = _put(choice, {cheap.ids[0]: 3, dear.ids[0]: 3, other.ids[0]: 1})
    assert [other.ids, cheap.ids] == _ids(found)[:2]
    rest = [ids for ids in _ids(choice) if ids not in (other.ids, cheap.ids)]
    assert rest == _ids(found)[2:]


def test_put_looks_first__who_looks_first_has_not_stopped(choice: Decision) -> None:
    jobs = choice.vary(
        steps=tuple(sorted(choice.steps, key=lambda step: step.kind != "job")),
        stop=choice.stop.vary(advised=True, reason="job_pays_more"),
    )
    look = next(step for step in choice.steps if step.kind == "check")
    assert jobs.stop == _put(jobs, {}).stop
    stop = _put(jobs, {look.ids[0]: 0}).stop
    assert (False, LOOK_FIRST, look.ids[0], look.expected_saving) == (
        stop.advised,
        stop.reason,
        stop.best_check,
        stop.best_check_saving,
    )


def test_list_made_for__by_the_signs_that_are_told_and_a_level_while_it_is_open() -> None:
    late = compiled_of({"engage_delay_drive": "long"})
    look, shafts = (late.expansion.checks[key] for key in ("fluid_look", "shafts_turn_look"))
    assert (True, False) == (is_made_for(late, look), is_made_for(late, shafts))
    checks = {look.id: look, shafts.id: shafts}
    made_for = [
        list_made_for(late, checks, {look.id: names}) for names in (("fluid_level", "fluid_foam"), ("fluid_foam",))
    ]
    assert [{look.id: look.visit_order}, {}] == made_for


def test_list_looks__what_may_change_the_work_is_looked_at_though_it_saves_less_than_it_costs() -> None:
    told = {"range_will_not_select": "yes", "brake_switch_wrong_live": "yes"}
    prepared = prepare_situation(compiled_of(told, "step"))
    choice, belief = choose_step(prepared.situation, prepared.oracle), prepared.oracle.belief
    fuse = next(step for step in list_looks(choice, {"fuse_look": 0}, belief) if step.ids == ("fuse_look",))
    assert fuse.ids not in _ids(choice) and fuse.gross > 0.0 >= fuse.expected_saving
    assert choice.expected_total_now == pytest.approx(fuse.expected_total + fuse.expected_saving)
    listed = next(step for step in choice.steps if step.kind == "check")
    assert [listed] == list_looks(choice, {listed.ids[0]: 0}, belief) and [] == list_looks(choice, {}, belief)
