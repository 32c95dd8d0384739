"""A unit compiled once, and what a distance and a background make of it."""

import hashlib
from pathlib import Path

import numpy as np
import pytest
from support.fleets import LIVES, draw_evidence
from support.trade import make_case, shipped, small_case, small_unit, unit_of, write_small

import shiftlore
from shiftlore.basics import UnknownId
from shiftlore.cases import Vehicle
from shiftlore.compiling import CompiledUnit, Prepared, compile_unit, compiled_units, list_known
from shiftlore.compiling.compiled_units import BOUNDS_KEPT, GROUNDS_KEPT, Ground, Grounds
from shiftlore.compiling.faults import NONE
from shiftlore.compiling.gates import build_tables
from shiftlore.compiling.priors import background_factor, list_lived, wear_factor
from shiftlore.knowledge import collect_knowledge, load_knowledge

CLOSE = 1e-12


def test_compile_unit__an_unknown_id_names_the_nearest() -> None:
    with pytest.raises(UnknownId, match="long5"):
        compile_unit(shipped(), "long-5")


def test_prepare__how_often_a_sign_is_seen_among_vehicles() -> None:
    """By hand from the tables: P(finding reaches a grade) over all single causes."""
    prepared = small_case().prepared
    tables = prepared.single.tables
    gate = tables.gates["fluid_colour"]
    below = (
        gate.cum_root
        * np.prod(
            [1 - tables.p_hidden[h] * (1 - row[:, None]) for h, row in zip(gate.hidden, gate.cum_hidden, strict=True)],
            axis=0,
        )
        if gate.hidden
        else gate.cum_root
    )
    assert 1 == pytest.approx(prepared.how_often("fluid_colour", 0), abs=1e-12)
    for grade in (1, 2):
        expected = float((1 - below[grade - 1]) @ tables.prior)
        assert expected == pytest.approx(prepared.how_often("fluid_colour", grade), abs=1e-12)


def test_prepare__only_so_many_are_remembered() -> None:
    unit = compile_unit(small_unit().knowledge, "long5")
    first = unit.prepare(make_case("long5", odometer_km=1_000.0))
    for i in range(2, 8):
        unit.prepare(make_case("long5", odometer_km=1_000.0 * i))
    assert len(unit.prepared) <= 4
    assert first is not unit.prepare(make_case("long5", odometer_km=1_000.0))


def test_prepare__the_same_life_has_the_same_tables() -> None:
    first, second = small_case({"gear_slips_1": "yes"}), small_case({"gear_slips_2": "yes"})
    assert first.prepared is second.prepared
    assert first.prepared is not small_case(background={"usage": "towing"}).prepared


def test_list_known__a_unit_that_is_not_there_knows_only_the_units() -> None:
    known = list_known(shipped(), "nothing")
    assert ({}, tuple(shipped().sheets)) == (known.findings, known.units)


def test_known_of__speaks_of_the_units_own_instances() -> None:
    known = list_known(shipped(), "long5")
    assert ("no", "yes") == known.findings["ratio_code_gear_5"]
    assert "ratio_code_gear_6" not in known.findings
    assert "P0732" in known.codes and "pan_drop" in known.checks


def test_known_of__a_kind_with_fewer_gears_speaks_of_fewer() -> None:
    four = list_known(shipped(), Vehicle("step", 4))
    assert (
        "slips_gear_4" in four.findings and "slips_gear_5" not in four.findings and "slip_gear_5" not in four.measures
    )


def test_known_of__numbers_may_be_given_in_the_units_of_their_kind() -> None:
    measures = list_known(shipped(), "long5").measures
    assert (("kPa", "bar", "psi", "MPa"), ("rpm",)) == (measures["line_pressure_idle"], measures["slip_gear_3"])
    assert {"ratio_gear_5", "ratio_gear_r", "tcc_slip", "fluid_temperature"} <= set(measures)


def test_known_of__a_scan_without_codes_rules_out_the_codes_that_it_would_have_shown() -> None:
    """A generic scan tool shows circuit codes; codes of the module's own it may not (common practice)."""
    known = list_known(shipped(), "long5")
    circuit = known.code_findings["P0753"]
    assert all(circuit in known.excludes[scan] for scan in ("no_codes_generic_scan", "no_codes_module_scan"))
    assert known.code_findings["P0732"] in known.excludes["no_codes_module_scan"]
    assert {"at_once": {"began_suddenly": "yes", "grew_slowly": "no"}}.items() <= known.onset_says.items()
    assert {"yes"} == {*known.event_says["recent_service"]}
    assert {"just_now", "used"} == {*known.event_says["rebuilt"]}  # "it began when the used unit went in"


def prepare(unit: CompiledUnit, **more: object) -> Prepared:
    """Prepare a case that says nothing but its life."""
    return unit.prepare(make_case("long5", {}, **more))


def grounds_of(unit: CompiledUnit) -> Grounds:
    return Grounds(unit.knowledge, unit.expansion, unit.arrays)


def test_of_life__a_distance_makes_no_new_tables() -> None:
    found = {id(prepare(unit_of("long5"), odometer_km=km).ground) for km in (1e4, 1e5, 2e5)}
    assert 1 == len(found)


def test_of_life__a_background_that_raises_a_leak_makes_some() -> None:
    found = {id(prepare(unit_of("long5"), background=life).ground) for life in LIVES}
    assert 3 <= len(found) <= len(LIVES)


def test_of_life__tables_are_those_that_the_life_makes() -> None:
    unit, case = unit_of("long5"), make_case("long5", {}, background=LIVES[1])
    lived, names = list_lived(unit.knowledge, case), (NONE, *unit.expansion.causes)
    wanted = build_tables(unit.arrays, lived, unit.knowledge.backgrounds, np.full(len(names), 1 / len(names)), names)
    found = unit.prepare(case).single.tables
    assert wanted.p_hidden == pytest.approx(found.p_hidden, abs=CLOSE)
    for key, gate in wanted.gates.items():
        assert gate.cum_root == pytest.approx(found.gates[key].cum_root, abs=CLOSE)


def test_weigh__distance_and_use_multiply() -> None:
    unit, place = small_unit(), list(small_unit().expansion.causes).index("worn_pump")
    lives: tuple[dict[str, dict[str, float]], ...] = ({}, {"usage": {"towing": 1.0}})
    plain, far, towed = (
        float(grounds_of(unit).weigh((km,), life)[place])
        for km, life in ((150_000.0, lives[0]), (300_000.0, lives[0]), (300_000.0, lives[1]))
    )
    assert 2**1.2 == pytest.approx(far / plain, rel=1e-12)
    assert 1.8 / (0.9 + 0.1 * 1.8) == pytest.approx(towed / far, rel=1e-12)


@pytest.mark.parametrize("distances", [(), (30_000.0,), (90_000.0, 250_000.0)])
def test_weigh__every_cause_by_its_own_numbers(distances: tuple[float, ...]) -> None:
    """By hand, one cause at a time: base rate, mean of the wear factors, hazard ratios."""
    unit, case = unit_of("long5"), make_case("long5", {}, background=LIVES[2])
    lived, knowledge = list_lived(unit.knowledge, case), unit.knowledge
    wanted = [
        one.share
        * np.mean([wear_factor(km, one.cause.wear, knowledge.words.reference_km) for km in distances or (None,)])
        * background_factor(one.cause.raised_by, lived, knowledge.backgrounds)
        for one in unit.expansion.causes.values()
    ]
    assert wanted == pytest.approx(grounds_of(unit).weigh(distances, lived).tolist(), rel=1e-12)


def test_reach__is_how_often_a_sign_shows() -> None:
    prepared = prepare(unit_of("long5"), odometer_km=90_000.0)
    table = prepared.single.predict({}, ("slips",))["slips"]
    assert float(table[1:].sum(axis=0) @ prepared.prior) == pytest.approx(prepared.how_often("slips", 1), rel=1e-9)


def test_bound__the_same_answers_are_bounded_once() -> None:
    ground, evidence = Ground(prepare(unit_of("long5")).single), draw_evidence(1)
    first = ground.bound(evidence)
    assert first is ground.bound(dict(evidence)) is not ground.bound({**evidence, "slips": 1})
    ground.forget()
    assert first is not ground.bound(evidence)


def test_grounds__no_more_is_kept_than_stated(monkeypatch: pytest.MonkeyPatch) -> None:
    assert 1 <= GROUNDS_KEPT and 1 <= BOUNDS_KEPT
    monkeypatch.setattr("shiftlore.compiling.compiled_units.GROUNDS_KEPT", 1)
    monkeypatch.setattr("shiftlore.compiling.compiled_units.BOUNDS_KEPT", 1)
    unit = unit_of("long5")
    grounds = grounds_of(unit)
    for life in LIVES:
        ground = grounds.of_life(list_lived(unit.knowledge, make_case("long5", {}, background=life)))
        for answers in ({"slips": 1}, {"worse_hot": 1}):
            ground.bound(answers)
    assert [1, 1] == [len(grounds._grounds), len(ground._bounds)]


@pytest.fixture
def kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[Path, Path]:
    """Give the small folder, its unit compiled once, and the file that this left in the cache."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.delenv("SHIFTLORE_CACHE", raising=False)
    folder = write_small(tmp_path / "small")
    compile_unit(load_knowledge(folder), "long5")
    (file,) = (tmp_path / "cache" / "shiftlore").glob("*.unit")
    return folder, file


def fail(*_: object) -> None:
    raise AssertionError("it was written out anew")


def test_compile_unit__a_unit_is_written_out_once_for_all_processes(
    kept: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, _ = kept
    monkeypatch.setattr(compiled_units, "flatten_states", fail)
    unit = compile_unit(load_knowledge(folder), "long5")
    assert small_unit().expansion == unit.expansion


def test_compile_unit__a_changed_rule_or_sheet_is_written_out_anew(kept: tuple[Path, Path]) -> None:
    folder, file = kept
    sheet = folder / "units" / "long5.yaml"
    sheet.write_text(sheet.read_text(encoding="utf-8") + "# a word more\n", encoding="utf-8")
    compile_unit(load_knowledge(folder), "long5")
    assert 2 == len([*file.parent.glob("*.unit")])


def test_compile_unit__what_is_kept_and_damaged_is_written_out_anew(kept: tuple[Path, Path]) -> None:
    folder, file = kept
    body = b"no arrays at all"
    file.write_bytes(hashlib.blake2b(body, digest_size=20).hexdigest().encode() + b"\n" + body)
    assert small_unit().expansion == compile_unit(load_knowledge(folder), "long5").expansion
    assert len(file.read_bytes()) > 1000, "and kept again"


def test_compile_unit__rules_that_were_read_from_no_files_are_not_kept(kept: tuple[Path, Path]) -> None:
    folder, file = kept
    unit = compile_unit(collect_knowledge(folder)[0], "long5")
    assert small_unit().expansion == unit.expansion
    assert [file] == [*file.parent.glob("*.unit")]


def test_compile_unit__other_code_writes_out_anew(kept: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch) -> None:
    folder, file = kept
    monkeypatch.setattr(compiled_units, "code_age", lambda *rooms: "later")
    compile_unit(load_knowledge(folder), "long5")
    assert 2 == len([*file.parent.glob("*.unit")])


def test_known_of__what_slips_in_a_gear_speaks_against_a_vehicle_that_does_not_move() -> None:
    denied = {*list_known(shipped(), Vehicle("trans4")).denied_by["no_drive_any"]}
    assert {"slips", "slips_gear_3"} <= denied and "park_does_not_hold" not in denied


@pytest.mark.parametrize(
    ("unit", "job", "instead"),
    [
        ("cvt", "plain_service", "cvt_service"),
        ("dct", "plain_service", "dct_service"),
        ("long8", "cvt_service", "plain_service"),
    ],
)
def test_list_known__work_of_another_unit_is_told_with_what_is_done_here(unit: str, job: str, instead: str) -> None:
    """Else a service done in vain is sold again as if nobody had done it."""
    text = f"shiftlore: 1\nunit: {unit}\ncomplaint: [slips]\nfindings: {{slips: yes}}\ndone: [{{job: JOB, result: not_cured}}]\n"
    (problem,) = shiftlore.read_case(text.replace("JOB", job), shipped()).warnings
    assert f"Write {instead} (" in problem.write_instead
    assert not shiftlore.read_case(text.replace("JOB", instead), shipped()).warnings
    known = list_known(shipped(), unit)
    foreign = {one for one in shipped().jobs if known.tell_foreign(one)}
    assert foreign == {*shipped().jobs} - {*unit_of(unit).expansion.job_templates.values()}
    assert not any(map(known.tell_foreign, unit_of(unit).expansion.jobs))
