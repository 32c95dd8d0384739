"""Vehicles to practise on, drawn once a process, and rounds on them."""

from functools import cache

from pytest import MonkeyPatch

from shiftlore.practising import Move, Round, Wish, begin_round, draw_exercise
from shiftlore.practising.exercises import Exercise
from shiftlore.practising.rounds import replay
from support.trade import shipped

LEVEL, SEED = 1, 11


@cache
def exercise_of(level: int = LEVEL, seed: int = SEED, unit: str = "long5", area: str = "") -> Exercise:
    """Give a vehicle; by default one whose shift solenoid C sticks."""
    return draw_exercise(shipped(), Wish(unit, level, seed, area))


@cache
def undriven(level: int = LEVEL, seed: int = SEED, unit: str = "long5") -> Exercise:
    """Give the same vehicle without its drive, which is recorded second by second."""
    with MonkeyPatch.context() as patch:
        patch.setattr(
            "shiftlore.practising.exercises.drive_vehicle", lambda case, sheet, vehicle, seed: (vehicle, None)
        )
        return draw_exercise(shipped(), Wish(unit, level, seed))


def round_of(*acts: Move, level: int = LEVEL, seed: int = SEED) -> Round:
    """Give a round on a vehicle after some acts."""
    exercise = exercise_of(level, seed)
    return replay(exercise, acts) if acts else begin_round(exercise)
