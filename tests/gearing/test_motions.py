"""Ratios, states and torques of gear trains against published and textbook values."""

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx, mark

from shiftlore.gearing.motions import (
    DRIVEN,
    NEUTRAL,
    OUTPUT_HELD,
    TIED_UP,
    Motion,
    analyse_states,
    compile_motion,
    find_directions,
    resolve_drive,
    solve_torques,
)
from shiftlore.gearing.trains import Coupling, CouplingKind, Mesh, Train


def _simple(sun: int, ring: int) -> Mesh:
    return Mesh("set", "set.sun", "set.ring", "set.carrier", -1, ring / sun)


def _simple_train(driver: str, driven: str, held: str, sun: int = 30, ring: int = 72) -> Train:
    joined = (("input", f"set.{driver}"), ("output", f"set.{driven}"))
    return Train((_simple(sun, ring),), joined, (Coupling("b", f"set.{held}"),))


def _ratio(train: Train, *closed: str) -> float:
    motion = compile_motion(train)
    states = analyse_states(motion, motion.mask(closed)[None, :])
    assert states.kind[0] == DRIVEN
    return float(1 / states.out[0])


@mark.parametrize(
    ("driver", "driven", "held", "ratio"),
    [
        ("sun", "carrier", "ring", 3.4),
        ("ring", "carrier", "sun", 1.416667),
        ("carrier", "ring", "sun", 0.7058824),
        ("sun", "ring", "carrier", -2.4),
        ("ring", "sun", "carrier", -0.4166667),
    ],
)
def test_analyse_states__willis_simple_set(driver: str, driven: str, held: str, ratio: float) -> None:
    # Source: Willis 1841, sun 30 and ring 72.
    assert _ratio(_simple_train(driver, driven, held), "b") == approx(ratio, abs=1e-6)


@mark.parametrize(
    ("driver", "driven", "held", "ratio"),
    [
        ("sun", "carrier", "ring", 3.0),
        ("ring", "carrier", "sun", 1.5),
        ("sun", "ring", "carrier", -2.0),
        ("ring", "sun", "carrier", -0.5),
    ],
)
def test_analyse_states__published_12_and_24_teeth(driver: str, driven: str, held: str, ratio: float) -> None:
    # Source: hobby forum, ratio of a planetary set with 12 and 24 teeth.
    assert _ratio(_simple_train(driver, driven, held, 12, 24), "b") == approx(ratio, abs=1e-12)


def _common_sun(front_sun: float, front_ring: float, rear_sun: float, rear_ring: float) -> Train:
    meshes = (
        Mesh("front", "front.sun", "front.ring", "front.carrier", -1, front_ring / front_sun),
        Mesh("rear", "rear.sun", "rear.ring", "rear.carrier", -1, rear_ring / rear_sun),
    )
    joined = (("front.sun", "rear.sun"), ("front.carrier", "rear.ring"), ("output", "front.carrier"))
    couplings = (
        Coupling("forward", "input", "front.ring"),
        Coupling("direct", "input", "front.sun"),
        Coupling("band", "front.sun"),
        Coupling("low", "rear.carrier"),
    )
    return Train(meshes, joined, couplings)


def test_analyse_states__common_sun_exam_question() -> None:
    # Source: exam question, 3-speed with a common sun: 57/28 and 80/37; values by the identity below.
    train = _common_sun(28, 57, 37, 80)
    found = [_ratio(train, "forward", other) for other in ("low", "band", "direct")] + [_ratio(train, "direct", "low")]
    assert approx(found, abs=1e-6) == [2.553343, 1.491228, 1.0, -2.162162]


@given(st.floats(1.2, 4.5), st.floats(1.2, 4.5))
def test_analyse_states__common_sun_identity(front: float, rear: float) -> None:
    # i1 = i2 + (i2 - 1) * |iR|, whatever the tooth counts (derived; agrees with published ratio lists).
    train = _common_sun(1, front, 1, rear)
    first, second = _ratio(train, "forward", "low"), _ratio(train, "forward", "band")
    reverse = _ratio(train, "direct", "low")
    assert first == approx(second + (second - 1) * abs(reverse), rel=1e-9)


def _two_suns(small: float, large: float, ring: float) -> Train:
    meshes = (
        Mesh("r", "r.large", "r.ring", "r.carrier", -1, ring / large),
        Mesh("r", "r.small", "r.ring", "r.carrier", 1, ring / small),
    )
    couplings = (
        Coupling("low", "input", "r.small"),
        Coupling("high", "input", "r.carrier"),
        Coupling("back", "input", "r.large"),
        Coupling("band", "r.large"),
        Coupling("brake", "r.carrier"),
    )
    return Train(meshes, (("output", "r.ring"),), couplings)


def test_analyse_states__two_suns_published_part_ratios() -> None:
    # Source: workshop description of a six-speed longitudinal automatic, 31/38/85 teeth (counts from memory).
    train = _two_suns(31, 38, 85)
    gears = (("low", "brake"), ("low", "band"), ("low", "high"), ("high", "band"), ("back", "brake"))
    assert approx([_ratio(train, *gear) for gear in gears], abs=0.005) == [2.74, 1.54, 1.0, 0.69, -2.24]


@given(st.floats(1.5, 3.5), st.floats(1.3, 3.5))
def test_analyse_states__two_suns_identity(small: float, large: float) -> None:
    # i4 = |iR| / (1 + |iR|) and i2 = i4 * (1 + i1 / |iR|) (derived; agrees with a published ratio list).
    train = _two_suns(1 / small, 1 / large, 1)
    first, reverse = _ratio(train, "low", "brake"), abs(_ratio(train, "back", "brake"))
    fourth = _ratio(train, "high", "band")
    assert fourth == approx(reverse / (1 + reverse), rel=1e-9)
    assert _ratio(train, "low", "band") == approx(fourth * (1 + first / reverse), rel=1e-9)


def test_analyse_states__simple_set_before_two_suns() -> None:
    # Source: workshop description, 37/71 before 31/38/85: seven published ratios (counts from memory).
    front = Mesh("f", "f.sun", "f.ring", "f.carrier", -1, 71 / 37)
    rear = _two_suns(31, 38, 85)
    joined = (("case", "f.sun"), ("input", "f.ring"), ("output", "r.ring"))
    couplings = (
        Coupling("a", "f.carrier", "r.small"),
        Coupling("b", "f.carrier", "r.large"),
        Coupling("e", "input", "r.carrier"),
        Coupling("c", "r.large"),
        Coupling("d", "r.carrier"),
    )
    train = Train((front, *rear.meshes), joined, couplings)
    gears = ("ad", "ac", "ab", "ae", "be", "ec", "bd")
    found = [_ratio(train, *gear) for gear in gears]
    assert approx(found, abs=0.005) == [4.17, 2.34, 1.52, 1.14, 0.87, 0.69, -3.40]


def test_analyse_states__nothing_closed_is_neutral() -> None:
    motion = compile_motion(_two_suns(31, 38, 85))
    states = analyse_states(motion, np.array([motion.mask([]), motion.mask(["low"])]))
    assert states.kind.tolist() == [NEUTRAL, NEUTRAL]


def test_analyse_states__two_gears_at_once_tie_up() -> None:
    motion = compile_motion(_two_suns(31, 38, 85))
    states = analyse_states(motion, motion.mask(["low", "high", "band"])[None, :])
    assert states.kind.tolist() == [TIED_UP]


def test_analyse_states__output_held_is_told_apart() -> None:
    motion = compile_motion(_two_suns(31, 38, 85))
    states = analyse_states(motion, motion.mask(["band", "brake"])[None, :])
    assert states.kind.tolist() == [OUTPUT_HELD]


@given(st.integers(15, 60), st.integers(61, 150), st.floats(-3, 3), st.floats(-3, 3))
def test_compile_motion__levers_agree_with_willis(sun: int, ring: int, sun_speed: float, ring_speed: float) -> None:
    # Source: Benford and Leising 1981, SAE 810102: speeds lie on a line; sun-carrier is as the ring's teeth.
    motion = compile_motion(_simple_train("sun", "carrier", "ring", sun, ring))
    order = [motion.nodes[f"set.{part}"] for part in ("sun", "ring", "carrier")]
    rows = motion.basis[order]
    speeds = rows[2] @ np.linalg.solve(rows[:2], np.array([sun_speed, ring_speed]))
    lever = sun_speed + (ring_speed - sun_speed) * ring / (sun + ring)
    assert lever == approx(float(speeds), abs=1e-9)


def test_solve_torques__lever_forces() -> None:
    # Source: Benford and Leising 1981: torques on sun, ring and carrier are as zs : zr : -(zs + zr).
    motion = compile_motion(_simple_train("sun", "carrier", "ring"))
    torque, load = solve_torques(motion, motion.mask(["b"])[None, :])
    assert torque[0, 0] == approx(72 / 30, abs=1e-12)
    assert load[0] == approx(-(30 + 72) / 30, abs=1e-12)


def test_solve_torques__equal_elements_share_equally() -> None:
    train = _simple_train("sun", "carrier", "ring")
    twice = Train(train.meshes, train.joined, (*train.couplings, Coupling("b2", "set.ring")))
    motion = compile_motion(twice)
    torque, _ = solve_torques(motion, motion.mask(["b", "b2"])[None, :])
    assert torque[0].tolist() == approx([1.2, 1.2], abs=1e-12)


@st.composite
def _random_trains(draw: st.DrawFn) -> tuple[Train, list[str]]:
    """Draw two to four sets with random joins and elements; most combinations of elements are no gears."""
    count = draw(st.integers(2, 4))
    meshes, members = [], []
    for place in range(count):
        name = f"s{place}"
        sign = draw(st.sampled_from([-1, 1]))
        meshes.append(Mesh(name, f"{name}.sun", f"{name}.ring", f"{name}.carrier", sign, draw(st.floats(1.3, 4.2))))
        members += [f"{name}.sun", f"{name}.ring", f"{name}.carrier"]
    joined = [tuple(draw(st.permutations(members))[:2]) for _ in range(draw(st.integers(1, count)))]
    ends = draw(st.permutations(members))
    joined += [("input", ends[0]), ("output", ends[1])]
    couplings = []
    for place in range(draw(st.integers(3, 6))):
        first, second = draw(st.permutations(members))[:2]
        couplings.append(Coupling(f"e{place}", first, draw(st.sampled_from(["case", second]))))
    return Train(tuple(meshes), tuple(joined), tuple(couplings)), [item.id for item in couplings]


@settings(max_examples=150, deadline=None)
@given(_random_trains(), st.data())
def test_solve_torques__power_and_torque_balance_on_random_trains(
    drawn: tuple[Train, list[str]], data: st.DataObject
) -> None:
    train, names = drawn
    motion = compile_motion(train)
    closed = np.array([motion.mask(data.draw(st.sets(st.sampled_from(names)))) for _ in range(6)])
    states = analyse_states(motion, closed)
    good = np.flatnonzero((states.kind == DRIVEN) & (np.abs(states.out) > 1e-3) & (np.abs(states.out) < 1e3))
    if not len(good):
        return
    torque, load = solve_torques(motion, closed[good])
    assert load * states.out[good] == approx(-np.ones(len(good)), abs=1e-9)
    push = motion.b_in + torque @ motion.rows + load[:, None] * motion.b_out
    assert push == approx(np.zeros(push.shape), abs=1e-8)


def _train(lets: int = 1) -> Train:
    meshes = (
        Mesh("front", "front.sun", "front.ring", "front.carrier", -1, 2.2),
        Mesh("rear", "rear.sun", "rear.ring", "rear.carrier", -1, 2.2),
    )
    joined = (("front.sun", "rear.sun"), ("front.carrier", "rear.ring"), ("output", "front.carrier"))
    couplings = (
        Coupling("forward", "input", "front.ring"),
        Coupling("direct", "input", "front.sun"),
        Coupling("band", "front.sun"),
        Coupling("low", "rear.carrier"),
        Coupling("roller", "rear.carrier", kind=CouplingKind.ONE_WAY, lets=lets),
    )
    return Train(meshes, joined, couplings)


def _resolve(motion: Motion, closed: list[list[str]], lost: tuple[str, ...] = ()) -> list:
    masks = np.array([motion.mask(item) for item in closed])
    gone = np.array([motion.mask(lost) for _ in closed])
    return resolve_drive(motion, masks, gone)


def test_resolve_drive__roller_holds_in_first_and_overruns_above() -> None:
    motion = compile_motion(_train())
    first, second, third = _resolve(motion, [["forward"], ["forward", "band"], ["forward", "direct"]])
    assert (first.holding, second.holding, third.holding) == (("roller",), (), ())
    assert [first.ratio, third.ratio] == approx([1 + 1 / 2.2 + 1.0, 1.0], abs=1e-9)


def test_resolve_drive__no_engine_braking_through_the_roller() -> None:
    motion = compile_motion(_train())
    drive, held = _resolve(motion, [["forward"], ["forward", "low"]])
    assert (drive.brakes_engine, held.brakes_engine) == (False, True)
    assert drive.ratio == approx(held.ratio, abs=1e-9)


def test_resolve_drive__lost_roller_is_neutral() -> None:
    motion = compile_motion(_train())
    assert _resolve(motion, [["forward"]], ("roller",))[0].state == "neutral"


def test_resolve_drive__wrong_way_round_is_neutral_in_first_and_binds_above() -> None:
    motion = compile_motion(_train(lets=-1))
    first, second = _resolve(motion, [["forward"], ["forward", "band"]])
    assert (first.state, second.state) == ("neutral", "tied_up")


def test_resolve_drive__roller_of_the_low_carrier_holds_back_reverse() -> None:
    # Reverse turns the carrier's reaction forward: the roller overruns, so reverse needs the brake.
    motion = compile_motion(_train())
    bare, braked = _resolve(motion, [["direct"], ["direct", "low"]])
    assert bare.state == "neutral"
    assert braked.ratio == approx(-2.2, abs=1e-9)


def test_find_directions__chart_tells_the_direction() -> None:
    motion = compile_motion(_train(lets=0))
    chart = np.array([motion.mask(["forward", "roller"]), motion.mask(["forward", "band"])])
    found, against = find_directions(motion, chart, (motion.places["roller"],))
    assert found == {motion.places["roller"]: 1}
    assert against == {motion.places["roller"]: []}


def test_find_directions__reverse_through_it_contradicts() -> None:
    motion = compile_motion(_train(lets=0))
    chart = np.array([motion.mask(["forward", "roller"]), motion.mask(["direct", "roller"])])
    _, against = find_directions(motion, chart, (motion.places["roller"],))
    assert against == {motion.places["roller"]: [1]}
