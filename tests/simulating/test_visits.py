"""Whole visits told act by act: thirty of them stand in tests/simulating/golden/visits.txt for a mechanic to read."""

import os
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from support.trade import unit_of

from shiftlore.reports.trials_text import render_visit
from shiftlore.simulating import (
    Action,
    Visit,
    draw_luck,
    draw_vehicles,
    plan_and_persist,
    set_up_bench,
    simulate_unit,
    start_work,
    watch_visits,
    work_on,
)
from shiftlore.simulating.simulation import work_through
from shiftlore.simulating.visits import tell_acts

GOLDEN = Path(__file__).parent / "golden" / "visits.txt"
UNITS = ("long5", "long6", "trans4", "trans6", "cvt", "dct")
EACH, SEED, CURRENCY, WIDTH = 5, 4, "EUR", 100
TOLD_AGAIN = {"cvt": 2, "trans6": 3}
"""Visits that every run of the tests makes anew; all thirty are where the golden files are written."""


def _tell(bench, vehicle, policy, luck):
    state = start_work(bench, vehicle)
    return tell_acts(bench, vehicle, state, [*work_through(bench, vehicle, state, policy, luck)])


@cache
def _visits(unit: str, count: int) -> tuple[Visit, ...]:
    bench = set_up_bench(unit_of(unit))
    drawn = draw_vehicles(bench, EACH, np.random.default_rng(SEED))[:count]
    lucks = [draw_luck(bench, vehicle, (SEED, number)) for number, vehicle in enumerate(drawn)]
    return tuple(_tell(bench, vehicle, plan_and_persist, luck) for vehicle, luck in zip(drawn, lucks, strict=True))


def _write(unit: str, count: int) -> list[str]:
    return ["\n".join(render_visit(i, visit, CURRENCY, WIDTH)) for i, visit in enumerate(_visits(unit, count), 1)]


def test_tell_acts__thirty_whole_visits_are_as_they_were_read():
    if os.environ.get("SHIFTLORE_UPDATE_GOLDEN"):
        parts = [f"== {unit}\n" + "\n\n".join(_write(unit, EACH)) for unit in UNITS]
        GOLDEN.write_text("\n\n".join(parts) + "\n", encoding="utf-8")
    chapters = dict(part.split("\n", 1) for part in GOLDEN.read_text(encoding="utf-8").split("== ")[1:])
    assert list(UNITS) == list(chapters)
    told = {unit: chapter.strip().split("\n\n") for unit, chapter in chapters.items()}
    assert [EACH] * len(UNITS) == [len(visits) for visits in told.values()]
    for unit, count in TOLD_AGAIN.items():
        assert told[unit][:count] == _write(unit, count)


@pytest.mark.parametrize("unit", TOLD_AGAIN)
def test_tell_acts__nothing_is_done_twice_and_only_one_scan_is_made(unit):
    records = unit_of(unit).expansion
    for visit in _visits(unit, TOLD_AGAIN[unit]):
        ids = [name for act in visit.acts for name in act.ids]
        assert len(set(ids)) == len(ids)
        scans = [act for act in visit.acts if act.kind == "check" and _is_scan(records, act.ids[0])]
        assert len(scans) <= 1


def _is_scan(expansion, check):
    return any(expansion.finding_records[finding].none_by for finding in expansion.reveals[check])


@pytest.mark.parametrize("unit", TOLD_AGAIN)
def test_tell_acts__costs_of_a_cured_vehicle_add_up(unit):
    for visit in _visits(unit, TOLD_AGAIN[unit]):
        if visit.cured:
            assert visit.total == pytest.approx(sum(act.cost for act in visit.acts), rel=1e-12)
            assert [act.cured for act in visit.acts].index(True) == len(visit.acts) - 1


@cache
def _bench():
    return set_up_bench(unit_of("long5"))


def _fixed(*actions):
    waiting = list(actions)
    return lambda at, state: waiting.pop(0) if waiting else Action("leave")


def test_tell_acts__is_what_work_on_counts():
    """Two ways through the same work: the sum that the table holds, and the story."""
    bench = _bench()
    vehicle = draw_vehicles(bench, 3, np.random.default_rng(5))[1]
    luck = draw_luck(bench, vehicle, (5, 1))
    acts = [Action("check", (check.id,)) for check in bench.situation.checks[:3]]
    run = work_on(bench, vehicle, start_work(bench, vehicle), _fixed(*acts), luck)
    visit = _tell(bench, vehicle, _fixed(*acts), luck)
    assert (run.total, run.cured) == (pytest.approx(visit.total, rel=1e-12), visit.cured)
    assert [ids for _, ids, _ in run.acts] == [act.ids for act in visit.acts]


def test_tell_acts__a_check_tells_only_what_is_new_and_speaks():
    bench = _bench()
    for vehicle in draw_vehicles(bench, 4, np.random.default_rng(6)):
        check = max(bench.reveals, key=lambda key: len(bench.reveals[key]))
        twice = [Action("check", (check,)), Action("check", (check,))]
        first, again = _tell(bench, vehicle, _fixed(*twice), draw_luck(bench, vehicle, (6, 0))).acts
        spoken = [name for name in bench.reveals[check] if vehicle.readings[name] and name not in vehicle.complaints]
        known = [name for name in spoken if name not in bench.asked]
        assert min(len(known), 5) >= len(first.showed) >= min(len(known), 4)
        assert () == again.showed


def test_tell_acts__leaving_at_once_is_an_uncured_vehicle():
    bench = _bench()
    vehicle = draw_vehicles(bench, 1, np.random.default_rng(7))[0]
    visit = _tell(bench, vehicle, _fixed(), draw_luck(bench, vehicle, (7, 0)))
    assert ((), False, bench.situation.uncured_cost) == (visit.acts, visit.cured, visit.total)
    assert len(vehicle.complaints) == len(visit.complaints)


def test_render_visit__says_what_it_was_and_for_how_much():
    visit = _visits("cvt", 2)[0]
    told = " ".join(" ".join(render_visit(1, visit, CURRENCY, 80)).split())
    assert told.startswith("Vehicle 1. The owner says: ")
    assert visit.causes[0] in told and f"for EUR {visit.total:,.0f}." in told
    assert max(map(len, render_visit(1, visit, CURRENCY, 80))) <= 80


def test_watch_visits__tells_the_first_vehicles_as_they_are_worked_on():
    told: list[Visit] = []
    simulate_unit(unit_of("cvt"), EACH, SEED, only=["overhaul", "cheapest_check"], watch=watch_visits(told, 2))
    assert 2 == len(told)
    assert all(visit.complaints and visit.causes for visit in told)
    alone = simulate_unit(unit_of("cvt"), EACH, SEED, only=["overhaul"])
    watched: list[Visit] = []
    simulate_unit(unit_of("cvt"), EACH, SEED, only=["overhaul"], watch=watch_visits(watched, EACH))
    assert alone.policies[0].mean_total == pytest.approx(np.mean([visit.total for visit in watched]), rel=1e-12)
