"""Laws of gear trains on drawn ones, against exact fractions that share no code with the room.

The oracle writes one equation per join, mesh and closed element over the speeds of all nodes and eliminates in
fractions: whether input and output move, and how fast, follows from ranks alone.
"""

from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from pytest import approx, mark
from support.layouts import LAYOUTS

from shiftlore.gearing import describe_unit, unit_facts
from shiftlore.gearing.motions import (
    DRIVEN,
    INPUT_HELD,
    NEUTRAL,
    OUTPUT_HELD,
    TIED_UP,
    analyse_states,
    compile_motion,
    resolve_drive,
    solve_torques,
)
from shiftlore.gearing.trains import Coupling, CouplingKind, Mesh, Train
from shiftlore.sheets import UnitSheet, load_sheet

MANY_LEFT_OUT = (HealthCheck.filter_too_much,)
"""How many drawn states are of the kind that a law is about is left to chance."""


@dataclass(frozen=True)
class Drawn:
    """A train with whole tooth counts, and what is closed in it."""

    train: Train
    teeth: tuple[tuple[int, int], ...]
    closed: frozenset[str]


@st.composite
def drawn_trains(draw: st.DrawFn, one_ways: bool = False) -> Drawn:
    """Draw one to three planetary sets, joined and tied at random; few combinations of elements are gears."""
    count = draw(st.integers(1, 3))
    teeth = tuple((draw(st.integers(20, 40)), draw(st.integers(50, 99))) for _ in range(count))
    meshes, members = [], []
    for place, (sun, ring) in enumerate(teeth):
        names = [f"s{place}.{part}" for part in ("sun", "ring", "carrier")]
        meshes.append(Mesh(f"s{place}", *names, draw(st.sampled_from([-1, 1])), ring / sun))
        members += names
    mixed = draw(st.permutations(members))
    joined = [tuple(draw(st.permutations(members))[:2]) for _ in range(count - 1)]
    joined += [("input", mixed[0]), ("output", mixed[1])]
    couplings = []
    for place in range(draw(st.integers(2, 5))):
        first, second = draw(st.permutations(members))[:2]
        kind = CouplingKind.ONE_WAY if one_ways and place < 2 else CouplingKind.FRICTION
        lets = draw(st.sampled_from([-1, 1])) if kind == CouplingKind.ONE_WAY else 0
        couplings.append(Coupling(f"e{place}", first, draw(st.sampled_from(["case", second])), kind, lets))
    train = Train(tuple(meshes), tuple(joined), tuple(couplings))
    free = [item.id for item in couplings if item.kind == CouplingKind.FRICTION]
    return Drawn(train, teeth, frozenset(draw(st.sets(st.sampled_from(free))) if free else ()))


def _equations(drawn: Drawn) -> tuple[list[list[Fraction]], list[str]]:
    """Write every equation over the speeds of all nodes; the case stands still, so it has no column."""
    train = drawn.train
    nodes = sorted(
        {name for mesh in train.meshes for name in (mesh.member, mesh.base, mesh.carrier)} | {"input", "output"}
    )
    rows = []

    def row(**weights: Fraction) -> list[Fraction]:
        return [weights.get(name, Fraction(0)) for name in nodes]

    for first, second in train.joined:
        rows.append(row(**{first: Fraction(1), second: Fraction(-1)}) if first != second else row())
    for mesh, (sun, ring) in zip(train.meshes, drawn.teeth, strict=True):
        # Willis 1841: the sun turns against the carrier as the ring does, times ring over sun teeth.
        step = mesh.sign * Fraction(ring, sun)
        rows.append(row(**{mesh.member: Fraction(1), mesh.base: -step, mesh.carrier: step - 1}))
    for item in train.couplings:
        if item.id in drawn.closed:
            rows.append(
                row(**{item.first: Fraction(1), **({item.second: Fraction(-1)} if item.second != "case" else {})})
            )
    return rows, nodes


def _reduce(rows: list[list[Fraction]]) -> list[list[Fraction]]:
    """Gauss-Jordan elimination; gives the rows that are left."""
    left, done, column = [list(item) for item in rows], [], 0
    while left and column < len(left[0]):
        pivot = next((item for item in left if item[column]), None)
        if pivot is not None:
            left.remove(pivot)
            pivot = [value / pivot[column] for value in pivot]
            done = [[a - item[column] * b for a, b in zip(item, pivot, strict=True)] for item in done] + [pivot]
            left = [[a - item[column] * b for a, b in zip(item, pivot, strict=True)] for item in left]
        column += 1
    return done


def _judge(drawn: Drawn) -> tuple[int, Fraction | None]:
    """Tell the kind of state, and the output speed at input speed 1 where the state is a gear."""
    rows, nodes = _equations(drawn)
    ends = [[Fraction(name == end) for name in nodes] for end in ("input", "output")]
    rank = len(_reduce(rows))
    moves_in, moves_out = (len(_reduce([*rows, end])) > rank for end in ends)
    if not moves_in:
        return (INPUT_HELD if moves_out else TIED_UP), None
    if not moves_out:
        return OUTPUT_HELD, None
    if len(_reduce([*rows, *ends])) == rank + 2:
        return NEUTRAL, None
    with_one = [[*item, Fraction(0)] for item in rows] + [[*ends[0], Fraction(1)]]
    target = [*ends[1], Fraction(0)]
    for item in _reduce(with_one):
        pivot = next((place for place, value in enumerate(item) if value), None)
        if pivot is not None and pivot < len(nodes) and target[pivot]:
            target = [a - target[pivot] * b for a, b in zip(target, item, strict=True)]
    return DRIVEN, -target[-1]


def _states(drawn: Drawn, train: Train | None = None):
    motion = compile_motion(train or drawn.train)
    return motion, analyse_states(motion, motion.mask(drawn.closed)[None, :])


@settings(max_examples=150, deadline=None)
@given(drawn_trains())
def test_analyse_states__kind_and_ratio_are_those_of_exact_fractions(drawn: Drawn) -> None:
    kind, out = _judge(drawn)
    _, states = _states(drawn)
    assert kind == states.kind[0]
    if out is not None:
        assert float(out) == approx(float(states.out[0]), rel=1e-9, abs=1e-9)


@settings(max_examples=100, deadline=None)
@given(drawn_trains())
def test_analyse_states__every_set_keeps_to_willis(drawn: Drawn) -> None:
    motion, states = _states(drawn)
    speeds = {name: float(motion.basis[row] @ states.q[0]) for name, row in motion.nodes.items()}
    for mesh, (sun, ring) in zip(drawn.train.meshes, drawn.teeth, strict=True):
        member, base, carrier = (speeds.get(name, 0.0) for name in (mesh.member, mesh.base, mesh.carrier))
        assert sun * (member - carrier) == approx(mesh.sign * ring * (base - carrier), abs=1e-7)


@settings(max_examples=100, deadline=None)
@given(drawn_trains(), st.randoms(use_true_random=False))
def test_analyse_states__names_and_order_do_not_matter(drawn: Drawn, dice) -> None:
    names = sorted({name for mesh in drawn.train.meshes for name in (mesh.member, mesh.base, mesh.carrier)})
    mixed = [f"x{place}" for place in range(len(names))]
    dice.shuffle(mixed)
    new = {**dict(zip(names, mixed, strict=True)), "case": "case", "input": "input", "output": "output"}
    meshes = [
        replace(mesh, member=new[mesh.member], base=new[mesh.base], carrier=new[mesh.carrier])
        for mesh in drawn.train.meshes
    ]
    couplings = [replace(item, first=new[item.first], second=new[item.second]) for item in drawn.train.couplings]
    joined = [tuple(new[name] for name in group) for group in drawn.train.joined]
    for parts in (meshes, couplings, joined):
        dice.shuffle(parts)
    _, before = _states(drawn)
    _, after = _states(
        drawn, replace(drawn.train, meshes=tuple(meshes), couplings=tuple(couplings), joined=tuple(joined))
    )
    assert before.kind[0] == after.kind[0]
    assert float(before.out[0]) == approx(float(after.out[0]), rel=1e-7, abs=1e-7)


@settings(max_examples=75, deadline=None, suppress_health_check=MANY_LEFT_OUT)
@given(drawn_trains())
def test_analyse_states__a_lost_element_adds_no_gear(drawn: Drawn) -> None:
    # Without one-way clutches a gear keeps its ratio or falls to neutral; a neutral stays one.
    motion, whole = _states(drawn)
    assume(whole.kind[0] in (DRIVEN, NEUTRAL))
    for name in drawn.closed:
        less = analyse_states(motion, motion.mask(drawn.closed - {name})[None, :])
        assert less.kind[0] in (whole.kind[0], NEUTRAL)
        if less.kind[0] == DRIVEN:
            assert float(less.out[0]) == approx(float(whole.out[0]), rel=1e-7, abs=1e-7)


@settings(max_examples=75, deadline=None, suppress_health_check=MANY_LEFT_OUT)
@given(drawn_trains())
def test_analyse_states__a_stuck_element_frees_nothing(drawn: Drawn) -> None:
    motion, whole = _states(drawn)
    assume(whole.kind[0] not in (DRIVEN, NEUTRAL))
    for item in drawn.train.couplings:
        more = analyse_states(motion, motion.mask(drawn.closed | {item.id})[None, :])
        assert more.kind[0] not in (DRIVEN, NEUTRAL)


@settings(max_examples=75, deadline=None, suppress_health_check=MANY_LEFT_OUT)
@given(drawn_trains())
def test_solve_torques__are_those_of_free_bodies(drawn: Drawn) -> None:
    # Every node in balance: the torques of joins, meshes and elements on it add up with input and load to nothing.
    motion, states = _states(drawn)
    assume(states.kind[0] == DRIVEN and 1e-3 < abs(states.out[0]) < 1e3)
    torque, load = solve_torques(motion, motion.mask(drawn.closed)[None, :])
    rows, nodes = _equations(drawn)
    forces = np.array([[float(value) for value in row] for row in rows]).T
    outside = np.array([(name == "input") + (name == "output") * float(load[0]) for name in nodes])
    size = len(rows) - len(drawn.closed)
    closed = [item.id for item in drawn.train.couplings if item.id in drawn.closed]
    given_torque = [float(torque[0, motion.places[name]]) for name in closed]
    rest = outside + forces[:, size:] @ np.array(given_torque) if closed else outside
    inner, *_ = np.linalg.lstsq(forces[:, :size], -rest, rcond=None)
    assert forces[:, :size] @ inner + rest == approx(np.zeros(len(nodes)), abs=1e-7)
    assert float(load[0]) * float(states.out[0]) == approx(-1.0, abs=1e-9)


@settings(max_examples=150, deadline=None)
@given(drawn_trains(one_ways=True))
def test_resolve_drive__what_holds_makes_the_gear_and_carries_its_load(drawn: Drawn) -> None:
    motion, _bare = _states(drawn)
    closed = motion.mask(drawn.closed)[None, :]
    (driven,) = resolve_drive(motion, closed, np.zeros_like(closed))
    if driven.state == "driven":
        held = motion.mask(drawn.closed | set(driven.holding))[None, :]
        assert driven.ratio == approx(float(1 / analyse_states(motion, held).out[0]), rel=1e-9)
        torque, _ = solve_torques(motion, held)
        lets = {item.id: item.lets for item in drawn.train.couplings}
        assert all(torque[0, motion.places[name]] * lets[name] > 0 for name in driven.holding)
    else:
        assert driven.ratio is None and driven.holding == ()


@settings(max_examples=100, deadline=None, suppress_health_check=MANY_LEFT_OUT)
@given(drawn_trains(one_ways=True))
def test_resolve_drive__lost_one_way_clutches_leave_what_is_applied(drawn: Drawn) -> None:
    motion, bare = _states(drawn)
    assume(not (bare.kind[0] == DRIVEN and abs(bare.out[0]) < 1e-6))
    closed = motion.mask(drawn.closed)[None, :]
    lost = motion.mask(item.id for item in drawn.train.couplings if item.kind == CouplingKind.ONE_WAY)[None, :]
    (driven,) = resolve_drive(motion, closed, lost)
    assert driven.holding == ()
    assert (driven.state == "driven") == (bare.kind[0] == DRIVEN)
    assert (driven.state == "neutral") == (bare.kind[0] == NEUTRAL)


@mark.parametrize("name", sorted(LAYOUTS))
def test_unit_facts__other_names_of_elements_change_nothing(name: str) -> None:
    sheet = load_sheet(LAYOUTS[name])
    new = {item: f"z{place}" for place, item in enumerate(reversed(sorted(sheet.elements)))}
    before, after = unit_facts(sheet), unit_facts(_rename(sheet, new))
    for table in ("applied", "lost_share"):
        told = {(new[element], gear): share for (element, gear), share in getattr(before, table).items()}
        assert told == approx(dict(getattr(after, table)))
    told = {(new[element], gear): share for (element, gear), share in before.torque_share.items()}
    assert told == approx(dict(after.torque_share), abs=1e-6)
    stuck, there = (
        describe_unit(it, stuck=[f"{item}=on" for item in it.elements]).stuck for it in (sheet, _rename(sheet, new))
    )
    for element in sheet.elements:
        for gear, remains in stuck[f"{element}=on"].items():
            other = there[f"{new[element]}=on"][gear]
            assert (remains.had, remains.state, remains.feels) == (other.had, other.state, other.feels)
    assert dict(before.stuck_share) == dict(after.stuck_share)


def _rename(sheet: UnitSheet, new: dict[str, str]) -> UnitSheet:
    def line(gear):
        return gear.vary(on={new[k]: share for k, share in gear.on.items()}, coast=tuple(new[k] for k in gear.coast))

    return sheet.vary(
        elements={new[key]: item.vary(id=new[key]) for key, item in sheet.elements.items()},
        gears={key: line(gear) for key, gear in sheet.gears.items()},
        ranges={key: line(gear) for key, gear in sheet.ranges.items()},
        solenoids={k: s.vary(controls={new[e]: share for e, share in s.controls.items()}) for k, s in sheet.solenoids.items()},
        other_patterns=tuple(item.vary(applies=tuple(new[k] for k in item.applies)) for item in sheet.other_patterns),
        pressure_switches={k: s.vary(monitors=tuple(new[e] for e in s.monitors)) for k, s in sheet.pressure_switches.items()},
    )  # fmt: skip


@mark.parametrize(
    ("second", "reverse", "first"),
    [(1.45, 2.2, 2.45), (1.54, 2.2, 2.74)],
)
def test_common_sun_list__first_follows_from_second_and_reverse(second: float, reverse: float, first: float) -> None:
    # Source: published lists of two common three-speeds (from memory); i1 = i2 + (i2 - 1) |iR|, within rounding.
    front, rear = 1 / (second - 1), reverse
    meshes = (
        Mesh("f", "f.sun", "f.ring", "f.carrier", -1, front),
        Mesh("r", "r.sun", "r.ring", "r.carrier", -1, rear),
    )
    joined = (("f.sun", "r.sun"), ("f.carrier", "r.ring"), ("output", "f.carrier"), ("input", "f.ring"))
    motion = compile_motion(Train(meshes, joined, (Coupling("low", "r.carrier"), Coupling("band", "f.sun"))))
    out = analyse_states(motion, np.array([motion.mask(["low"]), motion.mask(["band"])])).out
    assert [1 / value for value in out] == approx([first, second], abs=0.02)


def test_two_suns_list__two_ratios_foretell_the_others() -> None:
    # Source: published list of a four-speed transaxle (from memory): 2.71, 1.44, 1, 0.74, reverse 2.88.
    meshes = (
        Mesh("m", "m.large", "m.ring", "m.carrier", -1, 2.88),
        Mesh("m", "m.small", "m.ring", "m.carrier", 1, 2.71),
    )
    couplings = (
        Coupling("low", "input", "m.small"),
        Coupling("high", "input", "m.carrier"),
        Coupling("back", "input", "m.large"),
        Coupling("band", "m.large"),
        Coupling("brake", "m.carrier"),
    )
    motion = compile_motion(Train(meshes, (("output", "m.ring"),), couplings))
    gears = [("low", "band"), ("low", "high"), ("high", "band")]
    out = analyse_states(motion, np.array([motion.mask(gear) for gear in gears])).out
    assert [1 / value for value in out] == approx([1.44, 1.0, 0.74], abs=0.005)
