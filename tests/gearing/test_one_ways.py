"""One-way clutches that decide for themselves."""

import numpy as np
from pytest import approx

from shiftlore.gearing.motions import Motion, compile_motion
from shiftlore.gearing.one_ways import find_directions, resolve_drive
from shiftlore.gearing.trains import Coupling, CouplingKind, Mesh, Train


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
