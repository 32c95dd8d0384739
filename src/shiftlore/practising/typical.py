"""What a made-up vehicle shows beside chance: the signs that define its faults, and none that nothing in it makes.

Signs are drawn each by itself, so now and then a gauge reads right on a stuck regulator, or a sound clutch will not drive.
Such vehicles are met, but nobody learns from them what a check is good for.
"""

from collections.abc import Collection, Mapping
from typing import NamedTuple

from shiftlore.compiling.lessons import MEASURED
from shiftlore.simulating import UnitBench

GOT_BY = ("scan", *MEASURED)
"""How a sign is got that may define a fault: by a tool, not by an ear (judgement)."""
P_DEFINES, LIFT_DEFINES = 0.6, 4.0
"""Share of the vehicles with a fault that show what defines it, and how many times as many as of those without (judgement)."""
P_STRAY, LIFT_STRAY = 0.1, 1.5
"""What fewer than this share of such vehicles show, and hardly more than of all others, has nothing to do with the fault."""


class Typical(NamedTuple):
    """Signs of a vehicle with some causes.

    Args:
        defining: finding -> the state that it shows; stray: findings that nothing in it makes.
    """

    defining: Mapping[str, int]
    stray: frozenset[str]


def find_typical(bench: UnitBench, causes: Collection[int]) -> Typical:
    """Find what defines the causes of a vehicle, and what would be mere chance; causes by their places."""
    compiled, records = bench.compiled, bench.compiled.expansion.finding_records
    names = list(compiled.expansion.findings)
    p = compiled.engine.predict({}, names)
    defining, stray, usual = {}, set(), compiled.faults.prior
    for name in names:
        table = p[name]
        own, none = 1 - table[0, [cause + 1 for cause in causes]], 1 - table[0, 0]
        base = 1 - float(table[0] @ usual)
        strongest = list(causes)[int(own.argmax())] + 1
        if records[name].got_by in GOT_BY and own.max() >= max(P_DEFINES, LIFT_DEFINES * base):
            defining[name] = 1 + int(table[1:, strongest].argmax())
        if own.max() < P_STRAY and own.max() < LIFT_STRAY * none:
            stray.add(name)
    return Typical(defining, frozenset(stray))


def make_typical(
    bench: UnitBench,
    causes: Collection[int],
    readings: Mapping[str, int],
    kept: Collection[str] = (),
    plain: bool = True,
) -> dict[str, int]:
    """Give the signs of a vehicle with what defines its causes, and without what nothing in it makes: finding -> state.

    Args:
        kept: findings that stay as they are; plain: whether signs are taken away too.
    """
    typical = find_typical(bench, causes)

    def settle(name: str, state: int) -> int:
        if name in kept:
            return state
        return 0 if plain and name in typical.stray else state or typical.defining.get(name, 0)

    return {name: settle(name, state) for name, state in readings.items()}
