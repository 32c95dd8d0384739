"""What a made-up vehicle shows beside chance: the signs that define its faults, and none that nothing in it makes.

Signs are drawn each by itself, so now and then a gauge reads right on a stuck regulator, or a sound clutch will not drive.
Such vehicles are met, but nobody learns from them what a check is good for.
"""

from collections.abc import Collection, Mapping
from typing import NamedTuple

import numpy as np

from shiftlore.compiling.lessons import MEASURED
from shiftlore.simulating import UnitBench

GOT_BY = ("scan", *MEASURED)
"""How a sign is got that may define a fault: by a tool, not by an ear (judgement)."""
P_DEFINES, LIFT_DEFINES = 0.6, 4.0
"""Share of the vehicles with a fault that show what defines it, and how many times as many as of those without (judgement)."""
P_STRAY, LIFT_STRAY = 0.2, 1.5
"""What fewer than this share of such vehicles show, and hardly more than of sound ones, has nothing to do with the fault."""


class Typical(NamedTuple):
    """Signs of a vehicle with some causes.

    Args:
        defining: finding -> the state that it shows; stray: findings that nothing in it makes.
    """

    defining: Mapping[str, int]
    stray: frozenset[str]


def find_typical(bench: UnitBench, causes: Collection[int]) -> Typical:
    """Find what defines the causes of a vehicle, and what would be mere chance; causes by their places."""
    compiled, tables, places = bench.compiled, bench.p_shown, [cause + 1 for cause in causes]
    sound = np.stack([table[0] for table in tables.values()])
    own, none, base = 1 - sound[:, places], 1 - sound[:, 0], 1 - sound @ compiled.faults.prior
    most, strongest = own.max(axis=1), np.take(places, own.argmax(axis=1))
    defines = most >= np.maximum(P_DEFINES, LIFT_DEFINES * base)
    is_stray = (most < P_STRAY) & (most < LIFT_STRAY * none)
    records = compiled.expansion.finding_records
    defining = {
        name: 1 + int(table[1:, place].argmax())
        for (name, table), place, it_does in zip(tables.items(), strongest, defines, strict=True)
        if it_does and records[name].got_by in GOT_BY
    }
    return Typical(defining, frozenset(name for name, stray in zip(tables, is_stray, strict=True) if stray))


def make_typical(
    bench: UnitBench,
    causes: Collection[int],
    readings: Mapping[str, int],
    kept: Collection[str] = (),
) -> dict[str, int]:
    """Give the signs of a vehicle with what defines its causes, and without what nothing in it makes: finding -> state.

    Args:
        kept: findings that stay as they are.
    """
    typical = find_typical(bench, causes)

    def settle(name: str, state: int) -> int:
        if name in kept:
            return state
        return 0 if name in typical.stray else state or typical.defining.get(name, 0)

    return {name: settle(name, state) for name, state in readings.items()}
