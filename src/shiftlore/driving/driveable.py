"""What of a unit sheet can be driven: its train with the torque on every element, or one lumped coupling a gear."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from shiftlore.basics import UsageProblem
from shiftlore.gearing import (
    ENGINE,
    INPUT,
    OUTPUT,
    Array,
    Coupling,
    CouplingKind,
    GearState,
    Motion,
    Train,
    WorkedTrain,
    analyse_states,
    compile_motion,
    list_states,
    load_couplings,
    work_out,
)
from shiftlore.sheets import UnitSheet, list_used_members


@dataclass(frozen=True, slots=True, eq=False)
class Driveable:
    """A unit as the simulator needs it.

    Args:
        train, motion: of the sheet, or with one coupling a gear from input to output where it states ratios alone.
        is_lumped: whether the latter.
        forward: names of the forward gears, lowest first; `reverse`: the first reverse gear, or None.
        ratios: gear -> input over output speed.
        parts: gear, or "" for neutral -> friction couplings that are applied under drive.
        brakes_engine: gear -> those applied besides when the pedal is let go.
        elements: gear, or "" -> elements of the sheet that are applied under drive, one-way clutches left out.
        shares: gear -> coupling -> torque on it in multiples of the input torque.
        moves: gear -> motion of the train at input speed 1, shape (d,).
        lockup: gears in which the converter clutch may work.
    """

    sheet: UnitSheet
    train: Train
    motion: Motion
    is_lumped: bool
    forward: tuple[str, ...]
    reverse: str | None
    ratios: Mapping[str, float]
    parts: Mapping[str, frozenset[str]]
    brakes_engine: Mapping[str, frozenset[str]]
    elements: Mapping[str, frozenset[str]]
    shares: Mapping[str, Mapping[str, float]]
    moves: Mapping[str, Array]
    lockup: frozenset[str]

    @property
    def top_ratio(self) -> float:
        """The smallest forward ratio."""
        return min(self.ratios[name] for name in self.forward)


def prepare_unit(sheet: UnitSheet) -> Driveable:
    """Make a unit ready to be driven.

    Raises: UsageProblem: the sheet does not say enough, or is of a build that is not simulated; says which.
    """
    if sheet.kind_only:
        raise UsageProblem(f"{sheet.id} stands for units that are not known. Choose a unit with a sheet of its own.")
    if any(item.kind == "variator" for item in sheet.sets.values()):
        raise UsageProblem(
            f"{sheet.id} has a belt and no gears. Only units that shift from gear to gear can be driven."
        )
    if any(item.type == "dog" for item in sheet.elements.values()):
        raise UsageProblem(
            f"{sheet.id} shifts by sleeves, without a converter. Only units with a converter can be driven."
        )
    if ENGINE in list_used_members(sheet):
        raise UsageProblem(
            f"{sheet.id} has a shaft past the converter. Only units driven by the turbine alone can be driven."
        )
    worked = work_out(sheet)
    ratios = {name: line.ratio for name, line in worked.lines.items() if name in sheet.gears and line.ratio is not None}
    forward = [gear.name for gear in sheet.gears.values() if gear.kind == "forward"]
    bare = [name for name in forward if name not in ratios]
    if bare or not forward:
        raise UsageProblem(f"{sheet.id} has no ratio for gear {', '.join(bare) or '1'}. Write it into the sheet.")
    reverse = next((gear.name for gear in sheet.gears.values() if gear.kind == "reverse" and gear.name in ratios), None)
    one_way = {item.id for item in sheet.elements.values() if item.type == "one_way_clutch"}
    elements = {name: frozenset(line.on) - one_way for name, line in sheet.gears.items() if name in ratios}
    neutral = next((gear for gear in sheet.gears.values() if gear.kind == "neutral"), None)
    elements[""] = frozenset(neutral.on) - one_way if neutral else frozenset()
    is_lumped = worked.motion is None or worked.train is None
    train, motion, states = _lump(ratios) if is_lumped else _take(worked, ratios)
    names = list(states)
    closed = motion.masks(states.values())
    result = analyse_states(motion, closed)
    torque = np.abs(load_couplings(motion, closed, result))
    shares = {
        name: {item: float(torque[row, place]) for item, place in motion.places.items() if closed[row, place]}
        for row, name in enumerate(names)
    }
    friction = {item.id for item in train.couplings if item.kind == CouplingKind.FRICTION}
    parts = {name: (frozenset({name}) if is_lumped else elements[name]) & friction for name in names}
    return Driveable(
        sheet,
        train,
        motion,
        is_lumped=is_lumped,
        forward=tuple(sorted(forward, key=lambda name: -ratios[name])),
        reverse=reverse,
        ratios=ratios,
        brakes_engine={name: frozenset(sheet.gears[name].coast) & friction for name in names},
        parts={**parts, "": frozenset() if is_lumped else elements[""] & friction},
        elements=elements,
        shares=shares,
        moves=dict(zip(names, result.q, strict=True)),
        lockup=frozenset(sheet.lockup_gears),
    )


def _take(worked: WorkedTrain, ratios: Mapping[str, float]) -> tuple[Train, Motion, dict[str, GearState]]:
    assert worked.train is not None and worked.motion is not None
    states = list_states(worked.sheet, worked.train)
    return worked.train, worked.motion, {name: states[name] for name in ratios}


def _lump(ratios: Mapping[str, float]) -> tuple[Train, Motion, dict[str, GearState]]:
    """Stand one coupling between input and output for each gear: `w_input = ratio * w_output`."""
    couplings = tuple(Coupling(name, INPUT, OUTPUT, factor=ratio) for name, ratio in ratios.items())
    train = Train((), (), couplings)
    states = {name: GearState(name, ratio, frozenset({name})) for name, ratio in ratios.items()}
    return train, compile_motion(train), states
