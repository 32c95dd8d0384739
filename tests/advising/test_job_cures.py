"""What jobs put right after what was done in vain, and what they are made for."""

import pytest
from support.trade import compiled_of

from shiftlore.advising import offer_options
from shiftlore.advising.job_cures import (
    cures_of,
    is_meant,
    is_under_warranty,
    list_complained,
    list_others_work,
    tell_tried,
)
from shiftlore.advising.options_candidates import prepare_cures
from shiftlore.advising.situations import least_cure, prepare_situation
from shiftlore.cases import Done, Onset


def test_cures_of__after_a_service_in_vain_its_kind_cures_what_it_is_surer_by() -> None:
    fresh = compiled_of({"shudder_light_throttle": "yes"})
    failed = compiled_of({"shudder_light_throttle": "yes"}, done=(Done("plain_service", "not_cured"),))
    jobs, cause = (
        ["fluid_exchange_lines", "converter_exchange_job"],
        fresh.causes.index("converter_clutch_glazed_shudder"),
    )
    service = cures_of(fresh, ["plain_service"])[0, cause]
    (lines, other), (left, same) = cures_of(fresh, jobs)[:, cause], cures_of(failed, jobs)[:, cause]
    assert 0 < service < lines
    assert (lines - service) / (1 - service) == pytest.approx(left, abs=1e-12)
    assert other == same


def test_cures_of__what_a_service_may_have_brought_is_as_easy_to_put_right_as_ever() -> None:
    fresh, failed, again = (
        compiled_of({"shudder_light_throttle": "yes"}, done=done)
        for done in ((), (Done("plain_service", "not_cured"),), (Done("plain_service", "came_back"),))
    )
    brought, glazed = fresh.causes.index("fluid_wrong_type"), fresh.causes.index("converter_clutch_glazed_shudder")
    assert failed.works[0].faulty[brought] > 0.0 == failed.works[0].faulty[glazed]
    table = [cures_of(one, ["fluid_exchange_lines"])[0] for one in (fresh, failed, again)]
    assert table[0][brought] == pytest.approx(table[1][brought], abs=1e-12)
    assert table[0][brought] == pytest.approx(table[2][brought], abs=1e-12)
    assert table[0][glazed] > table[1][glazed] + 0.1


def test_cures_of__what_came_back_is_cured_by_the_same_again_as_far_as_it_is_new() -> None:
    """Common practice: what new fluid has eased for three weeks is not cured by new fluid; after years it may be."""
    shudder = {"shudder_light_throttle": "yes"}
    job = "fluid_exchange_lines"
    none, soon, late = (
        compiled_of(shudder, done=done)
        for done in ((), (Done(job, "came_back", after_days=21),), (Done(job, "came_back", after_km=40_000.0),))
    )
    glazed = none.causes.index("converter_clutch_glazed_shudder")
    ever, weeks, years = (cures_of(one, ["wrong_fluid_out"])[0, glazed] for one in (none, soon, late))
    assert 0 < weeks < 0.3 * ever
    assert weeks < years < ever
    converter = "converter_exchange_job"
    assert cures_of(soon, [converter])[0, glazed] == cures_of(none, [converter])[0, glazed]


def test_is_meant__only_where_what_it_is_made_for_is_likely():
    """Without a sign of coolant nobody is offered a radiator with the overhaul."""
    foams = compiled_of({"fluid_foam": "yes", "fluid_level": "high", "runs_hot": "yes"}, "long8")
    milky = compiled_of({"fluid_milky": "yes", "coolant_lost": "yes"}, "long8")
    assert [False, True] == [is_meant(case, "radiator_and_overhaul") for case in (foams, milky)]
    assert is_meant(foams, "level_correction")
    situation = prepare_situation(foams).situation
    assert "radiator_and_overhaul" in situation.list_unfit(prepare_situation(foams).oracle.belief)


@pytest.mark.parametrize(("answer", "result"), [("no", ""), ("yes", "not_cured"), ("for_a_time", "came_back")])
def test_cures_of__what_was_tried_before_cures_little_again_however_it_is_told(answer: str, result: str) -> None:
    """New fluid that had helped for a time raised the chance of new fluid: the belief knew of it, the cure did not."""
    shudder, job = {"shudder_light_throttle": "yes"}, "fluid_exchange_lines"
    fresh, told = (compiled_of(shudder, background={"replaced_fluid": one}) for one in ("no", answer))
    glazed = fresh.causes.index("converter_clutch_glazed_shudder")
    ever, again = (cures_of(one, [job])[0, glazed] for one in (fresh, told))
    assert (again < 0.3 * ever) == bool(result) and (again == ever) == (not result)
    assert result == tell_tried(told, (job,))
    assert "" == tell_tried(told, ("converter_exchange_job",)) == tell_tried(told, (job, "converter_exchange_job"))
    assert not told.works


def test_cures_of__told_as_a_life_or_as_a_job_that_came_back_it_comes_to_the_same() -> None:
    shudder, job = {"shudder_light_throttle": "yes"}, "fluid_exchange_lines"
    life = compiled_of(shudder, background={"replaced_fluid": "for_a_time"})
    work = compiled_of(shudder, done=(Done(job, "came_back"),))
    glazed = life.causes.index("converter_clutch_glazed_shudder")
    assert cures_of(work, [job])[0, glazed] == pytest.approx(cures_of(life, [job])[0, glazed], abs=1e-12)


def test_tried__a_part_renewed_just_before_it_began_was_not_tried_for_it() -> None:
    before = compiled_of({"shifts_erratic": "yes"}, background={"replaced_range_switch": "before_it"})
    assert () == before.tried


@pytest.mark.parametrize(("answer", "told"), [("no", ()), ("earlier", ()), ("just_now", ("rebuilt",))])
def test_list_others_work__what_it_began_after_and_nothing_older(answer: str, told: tuple[str, ...]) -> None:
    """A clutch fitted elsewhere two weeks ago goes back to that shop first (common practice)."""
    been = compiled_of({"slips": "yes"}, background={"rebuilt": answer, "usage": "towing"})
    labels = been.knowledge.backgrounds
    assert tuple(labels[name].label for name in told) == list_others_work(been)
    fitted = compiled_of({"engine_stalls_stopping": "yes"}, "dct", onset=Onset(after=("recent_repair",)))
    assert (labels["recent_repair"].label,) == list_others_work(fitted)


@pytest.mark.parametrize(
    ("age", "km", "holds"),
    [
        ("under_five", 9_000, True),
        ("under_five", None, True),
        ("under_five", 240_000, False),
        ("five_to_ten", 9_000, False),
    ],
)
def test_is_under_warranty__by_age_and_distance(age: str, km: int | None, holds: bool) -> None:
    """The maker's warranty of a new car is the first that a colleague asks for (common practice)."""
    assert holds == is_under_warranty(compiled_of({"slips": "yes"}, background={"age": age}, odometer_km=km))
    assert not is_under_warranty(compiled_of({"slips": "yes"}))


OWN = [
    ("step-fwd", {"key_lock_wrong": "comes_out"}),
    ("step-rwd", {"key_lock_wrong": "locked_in"}),
    ("trans6", {"leak_outside": "yes", "leak_on_exhaust": "yes", "fluid_level": "right"}),
    ("long6", {"lever_leaves_park_unlocked": "yes"}),
]


@pytest.mark.parametrize(("unit", "told"), OWN)
def test_list_complained__what_nobody_complained_of_sells_no_job(unit: str, told: dict[str, str]) -> None:
    """A key that came out in Drive was to be put right by a valve body or a used transmission, EUR 2,148."""
    owner, slips = compiled_of(told, unit), compiled_of({**told, "slips": "yes"}, unit)
    worn = owner.causes.index("valve_body_bores_worn")
    assert "valve_body_bores_worn" not in list_complained(owner) and "valve_body_bores_worn" in list_complained(slips)
    means = [prepare_cures(one, ["valve_body_exchange"]).means["valve_body_exchange"][worn] for one in (owner, slips)]
    helps = not list_complained(owner).isdisjoint(owner.expansion.cures["valve_body_exchange"])  # its plug's seal leaks
    assert means[0] == 0.0 < means[1] and (least_cure(owner, "valve_body_exchange") > 1.0) != helps
    kinds = {owner.expansion.jobs[job].kind for one in offer_options(owner).options for job in one.jobs}
    assert "valve_body" not in kinds


@pytest.mark.parametrize("told", [{}, {"worse_hot": "yes"}, {"slips": "no"}])
def test_list_complained__of_who_told_nothing_but_circumstances_all_may_be_meant(told: dict[str, str]) -> None:
    assert list_complained(compiled_of(told)) == {*compiled_of(told).causes}
