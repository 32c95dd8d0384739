"""Set ratios from gear ratios."""

from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from shiftlore.gearing.motions import analyse_states, compile_motion
from shiftlore.gearing.solving import solve_ratios
from shiftlore.gearing.trains import Coupling, GearState, Mesh, Train


def _train(front: float | None, small: float | None, large: float | None) -> Train:
    meshes = (
        Mesh("f", "f.sun", "f.ring", "f.carrier", -1, front),
        Mesh("r", "r.large", "r.ring", "r.carrier", -1, large),
        Mesh("r", "r.small", "r.ring", "r.carrier", 1, small),
    )
    couplings = (
        Coupling("a", "f.carrier", "r.small"),
        Coupling("b", "f.carrier", "r.large"),
        Coupling("e", "input", "r.carrier"),
        Coupling("c", "r.large"),
        Coupling("d", "r.carrier"),
    )
    return Train(meshes, (("case", "f.sun"), ("input", "f.ring"), ("output", "r.ring")), couplings)


GEARS = {"1": "ad", "2": "ac", "3": "ab", "4": "ae", "5": "be", "6": "ec", "R": "bd"}


def _states(ratios: dict[str, float]) -> list[GearState]:
    return [GearState(name, ratios[name], frozenset(GEARS[name])) for name in ratios]


def test_solve_ratios__published_list_gives_the_tooth_counts() -> None:
    # Source: workshop description, printed ratios; teeth 37/71 and 31/38/85 (from memory).
    printed = {"1": 4.17, "2": 2.34, "3": 1.52, "4": 1.14, "5": 0.87, "6": 0.69, "R": -3.40}
    solution = solve_ratios(_train(None, None, None), _states(printed))
    ratios = [mesh.ratio for mesh in solution.train.meshes]
    assert approx(ratios, rel=0.01) == [71 / 37, 85 / 38, 85 / 31]
    assert solution.worst_percent < 0.6
    assert len(solution.solved_from) == 3 and len(solution.proved_on) == 4


@settings(max_examples=25, deadline=None)
@given(st.floats(1.4, 2.6), st.floats(2.3, 3.3), st.floats(1.8, 2.9))
def test_solve_ratios__exact_ratios_come_back(front: float, small: float, large: float) -> None:
    motion = compile_motion(_train(front, small, large))
    ratios = {
        name: float(1 / analyse_states(motion, motion.mask(closed)[None, :]).out[0]) for name, closed in GEARS.items()
    }
    solution = solve_ratios(_train(None, None, None), _states(ratios))
    assert solution.worst_percent == approx(0, abs=0.05)


def test_solve_ratios__names_sets_that_nothing_fixes() -> None:
    solution = solve_ratios(_train(None, None, None), _states({"3": 1.52}))
    assert solution.open_sets == ("r",)
    assert solution.train.meshes[0].ratio == approx(1 / 0.52, rel=1e-4)


def test_solve_ratios__a_list_that_fits_nothing_shows_its_error() -> None:
    printed = {"1": 4.17, "2": 2.34, "3": 1.52, "4": 1.14, "5": 0.99, "6": 0.69, "R": -3.40}
    assert solve_ratios(_train(None, None, None), _states(printed)).worst_percent > 2


@settings(max_examples=15, deadline=None)
@given(
    st.floats(1.4, 2.6), st.floats(2.3, 3.3), st.floats(1.8, 2.9), st.sampled_from(sorted(GEARS)), st.floats(1.1, 1.4)
)
def test_solve_ratios__one_wrong_ratio_cannot_hide(
    front: float, small: float, large: float, wrong: str, off: float
) -> None:
    motion = compile_motion(_train(front, small, large))
    ratios = {
        name: float(1 / analyse_states(motion, motion.mask(closed)[None, :]).out[0]) for name, closed in GEARS.items()
    }
    ratios[wrong] *= off
    # Seven ratios and three unknowns: the wrong one leaves an error that a printed ratio may not have.
    assert solve_ratios(_train(None, None, None), _states(ratios)).worst_percent > 1


@settings(max_examples=15, deadline=None)
@given(st.floats(1.4, 2.6), st.floats(2.3, 3.3), st.floats(1.8, 2.9), st.permutations(sorted(GEARS)))
def test_solve_ratios__order_of_the_chart_does_not_matter(
    front: float, small: float, large: float, order: list[str]
) -> None:
    motion = compile_motion(_train(front, small, large))
    ratios = {
        name: float(1 / analyse_states(motion, motion.mask(closed)[None, :]).out[0]) for name, closed in GEARS.items()
    }
    found = [
        [mesh.ratio for mesh in solve_ratios(_train(None, None, None), _states(each)).train.meshes]
        for each in (ratios, {name: ratios[name] for name in order})
    ]
    assert found[0] == approx(found[1], rel=1e-3)
