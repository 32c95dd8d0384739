"""A unit set up for simulation."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from support.trade import shipped, unit_of

from shiftlore.advising import next_steps
from shiftlore.advising.situations import is_driven
from shiftlore.basics import UsageProblem
from shiftlore.cases import NOT_CURED, Answer, Case, Done
from shiftlore.compiling import compile_case
from shiftlore.simulating.habits import do_likeliest
from shiftlore.simulating.simulation import Work, act_on, draw_vehicles, start_work
from shiftlore.simulating.unit_bench import QUESTIONS, Action, WorkState, decide_next, prepare_work, set_up_bench


@cache
def _bench():
    return set_up_bench(unit_of())


def _state(evidence=None):
    situation = _bench().situation
    done, checked = np.zeros(len(situation.jobs), dtype=bool), np.zeros(len(situation.checks), dtype=bool)
    compiled = _bench().compiled.with_evidence(evidence or {})
    return _bench().believe(WorkState(compiled, np.zeros(0), 0, checked, done))


def test_believe__nothing_known_is_the_prior():
    prior = _bench().weighing.gather(_bench().compiled.faults.prior)
    assert prior == pytest.approx(_state().belief, abs=1e-9)


def test_believe__failed_job_moves_belief_away_from_its_causes():
    job = _bench().situation.job_index("overhaul")
    after = _bench().believe(replace(_state(), compiled=_state().compiled.with_vain(("overhaul",))))
    touched = _bench().situation.touches[job]
    assert touched @ after.belief < touched @ _state().belief


def test_stand__work_of_its_kind_in_vain_cures_less_the_second_time():
    # by hand: luck u is the same for both; given u >= p of the first, u < p of the second has (p2 - p1) / (1 - p1)
    bench, state = _bench(), _state()
    assert bench.situation is bench.stand(state)
    kinds = [job.kind for job in bench.situation.jobs]
    kind = next(kind for kind in kinds if kind and kinds.count(kind) > 1)
    first, second = [place for place, one in enumerate(kinds) if one == kind][:2]
    after = replace(state, compiled=state.compiled.with_vain((bench.situation.jobs[first].id,)))
    own = after.compiled.works[-1].faulty[bench.weighing.kept] == 0.0  # what the work itself brings is a fresh chance
    one, two = (bench.cures[place][bench.weighing.kept] for place in (first, second))
    expected = np.clip((two - one) / np.maximum(1 - one, 1e-9), 0.0, 1.0)
    assert expected[own] == pytest.approx(bench.stand(after).cures[second][: len(own)][own], abs=1e-9)
    others = [place for place, one in enumerate(kinds) if one != kind]
    assert bench.situation.cures[others] == pytest.approx(bench.stand(after).cures[others], abs=1e-12)


def test_decide_next__what_nobody_should_drive_is_not_driven_for_a_check():
    """Park that does not hold endangers people by itself; against the sign itself, and `is_driven`."""
    state = _state({"park_does_not_hold": 1})
    records = _bench().compiled.expansion.checks
    steps = decide_next(_bench(), state).steps
    made = [check for step in steps if step.kind == "check" for check in step.ids]
    assert made and not any(is_driven(state.compiled, records[check]) for check in made)


def test_list_open__what_is_known_is_not_checked():
    finding = _bench().layouts[_bench().situation.checks[0].id].combined[0].finding
    order = np.arange(len(_bench().situation.checks))
    assert 0 in _bench().list_open(_state(), order)
    assert 0 not in _bench().list_open(_state({finding: 0}), order)


def test_can_make__a_vehicle_that_does_not_go_is_not_driven():
    records = _bench().compiled.expansion.checks
    driven = [
        place for place, check in enumerate(_bench().situation.checks) if "does_not_go" in records[check.id].unless
    ]
    stands, goes = _state({"does_not_go": 1}), _state({"does_not_go": 0})
    assert driven and not any(_bench().can_make(stands)[place] for place in driven)
    able = zip(_bench().can_make(goes), _bench().situation.checks, strict=True)
    assert all(one or records[check.id].only_so for one, check in able)
    assert not set(driven) & set(_bench().list_open(stands, np.array(driven)))
    assert {_bench().situation.checks[place].id for place in driven}.isdisjoint(prepare_work(_bench(), stands).checks)


def _level(bench, opened):
    """The deepest level that is open; opened levels lie on one way here."""
    tree = bench.situation.access
    return next(node.id for node in reversed(tree.nodes) if tree.path_mask(node.id) == opened)


def _as_case(bench, vehicle, acts):
    """The case of a simulated vehicle, compiled on the hypotheses that simulation has.

    Args:
        acts: what was done, in order.
    """
    nodes, done = bench.compiled.expansion.findings, []
    told = lambda names: {name: Answer(name, nodes[name].grades[vehicle.readings[name]]) for name in names}  # noqa: E731
    findings = told([*vehicle.complaints, *bench.asked])
    for act in acts:
        if act.kind == "job":
            done.append(Done(act.ids[0], NOT_CURED))
        elif done:
            done[-1] = replace(done[-1], found_after={**done[-1].found_after, **told(bench.reveals[act.ids[0]])})
        else:
            findings |= told(bench.reveals[act.ids[0]])
    case = Case(bench.compiled.expansion.unit, complaint=vehicle.complaints, findings=findings, done=tuple(done))
    read = lambda answers: {name: vehicle.readings[name] for name in answers}  # noqa: E731
    found, compiled = {item.id: read(item.found_after) for item in done}, compile_case(bench.compiled.unit, case)
    works = tuple(work.vary(found=found[work.id], answers=()) for work in compiled.works)
    bare = {"opened": bench.compiled.opened, "leaned": None, "answers": (), "evidence": read(findings), "works": works}
    return compiled.vary(**bare)


@pytest.mark.parametrize("unit_id", ["long5", "trans6", "cvt"])
def test_decide_next__is_what_next_puts_first_of_the_same_vehicle(unit_id):
    """As it comes in, after checks, after a job in vain and after a check behind that."""
    bench = set_up_bench(unit_of(unit_id))
    compared = set()
    for number, vehicle in enumerate(draw_vehicles(bench, 2, np.random.default_rng(7))):
        work, acts = Work(start_work(bench, vehicle), frozenset(vehicle.causes)), []
        hopeless = np.ones((len(vehicle.causes), len(bench.situation.jobs)))
        for turn in range(4):
            decided = decide_next(bench, work.state)
            compiled = _as_case(bench, vehicle, acts)
            found = next_steps(compiled.vary(case=replace(compiled.case, access=_level(bench, work.state.opened))))
            compared.add("".join(act.kind[0] for act in acts))
            assert [step.ids for step in decided.steps[:1]] == [step.together for step in found.steps[:1]], acts
            assert decided.upper_bound == pytest.approx(found.upper_bound, rel=1e-6)
            looks = [step.ids[0] for step in decided.steps if step.kind != "job"]
            cheapest = bench.list_open(work.state, np.argsort(bench.check_costs, kind="stable"))[0]
            look = Action("check", (looks[0] if looks else bench.situation.checks[cheapest].id,))
            acts.append(do_likeliest(bench, work.state) if turn == 1 + number else look)
            work = act_on(bench, vehicle, work, acts[-1], hopeless)
    assert {"", "c", "cj", "cjc", "cc", "ccj"} == compared


def test_asked__questions_only_to_the_owner():
    records = unit_of().expansion.finding_records
    assert QUESTIONS == len(_bench().asked)
    assert all(records[name].got_by in ("owner", "history") for name in _bench().asked)


def test_set_up_bench__without_a_shop():
    with pytest.raises(UsageProblem, match="no shop"):
        set_up_bench(replace(unit_of(), knowledge=replace(shipped(), shop=None)))
