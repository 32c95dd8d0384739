"""Defects of a drive, put into its control and elements."""

from collections.abc import Sequence

from shiftlore.basics import UsageProblem
from shiftlore.driving.driveable import Driveable
from shiftlore.driving.shifting import Wrongs
from shiftlore.gearing import Defect, apply_defect
from shiftlore.sheets import LOCK_DRAG, DriveDefect


def work_defects(unit: Driveable, defects: Sequence[DriveDefect]) -> Wrongs:
    """Say what defects do to control and elements.

    Raises: UsageProblem: the sheet does not tell what a defect does.
    """
    wrongs = Wrongs()
    for item in defects:
        _ELEMENT_DEFECTS.get(item.kind, _put_general)(unit, item, wrongs)
    return wrongs


def _couplings(unit: Driveable, element: str) -> frozenset[str]:
    """Name the couplings that an element is, or has a part in where whole gears stand for elements."""
    if not unit.is_lumped:
        return frozenset({element})
    return frozenset(gear for gear in unit.ratios if element in unit.elements[gear])


def _put_slip(unit: Driveable, item: DriveDefect, wrongs: Wrongs) -> None:
    for name in _couplings(unit, item.part):
        wrongs.lost_share[name] = 1 - (1 - wrongs.lost_share.get(name, 0.0)) * (1 - item.size)


def _put_stuck(unit: Driveable, item: DriveDefect, wrongs: Wrongs) -> None:
    if unit.is_lumped:
        raise UsageProblem(
            f"{unit.sheet.id} has no gear sets on its sheet, so what {item.part} does when it is stuck is not known."
        )
    wrongs.stuck.add(item.part)


def _put_delay(unit: Driveable, item: DriveDefect, wrongs: Wrongs) -> None:
    seconds = wrongs.slow_fill if item.kind == "flare" else wrongs.slow_release
    seconds[item.part] = seconds.get(item.part, 0.0) + item.size


def _put_solenoid(unit: Driveable, item: DriveDefect, wrongs: Wrongs) -> None:
    """Let `gearing` say what is applied in each gear with the solenoid stuck."""
    solenoid, powered = unit.sheet.solenoids[item.part], bool(item.size)
    closes = powered != (solenoid.unpowered == "applies")
    if solenoid.type == "tcc":
        wrongs.lock_stuck, wrongs.lock_never = (LOCK_DRAG, False) if closes else (0.0, True)
        return
    if solenoid.type == "line" or (solenoid.type == "pressure_control" and not solenoid.controls):
        wrongs.pressure_full = powered == (solenoid.unpowered == "releases")
        wrongs.pressure_share = 1.0 if wrongs.pressure_full else 0.35
        return
    oiled = frozenset().union(*unit.elements.values())
    for name in unit.ratios:
        case = apply_defect(unit.sheet, Defect("sol_on" if powered else "sol_off", item.part), name)
        if not case.is_known:
            raise UsageProblem(f"{unit.sheet.id}: the sheet does not tell what {item.part} does in gear {name}.")
        real = case.closed & oiled
        if unit.is_lumped:
            real = frozenset(other for other in unit.ratios if unit.elements[other] == real)
        wrongs.adds[name] = wrongs.adds.get(name, frozenset()) | (real - unit.parts[name])
        wrongs.takes[name] = wrongs.takes.get(name, frozenset()) | (unit.parts[name] - real)


def _put_general(unit: Driveable, item: DriveDefect, wrongs: Wrongs) -> None:
    size = item.size
    if item.kind == "lockup_slip":
        wrongs.lock_share *= 1 - size
    elif item.kind == "lockup_stuck":
        wrongs.lock_stuck = size
    elif item.kind == "lockup_never":
        wrongs.lock_never = True
    elif item.kind == "lockup_shudder":
        wrongs.shudder = size
    elif item.kind == "engage_late":
        wrongs.engage_late_s = size
    elif item.kind == "low_pressure":
        wrongs.pressure_share = min(wrongs.pressure_share, 1 - size)
    elif item.kind == "hunting":
        wrongs.back_share = 1.02
    elif item.kind == "module_off":
        if unit.sheet.failsafe_gear not in unit.ratios:
            raise UsageProblem(f"{unit.sheet.id} states no failsafe gear. Write failsafe_gear into the sheet.")
        wrongs.failsafe_s = size


_ELEMENT_DEFECTS = {
    "slip": _put_slip,
    "lost": _put_slip,
    "stuck": _put_stuck,
    "flare": _put_delay,
    "bind": _put_delay,
    "solenoid": _put_solenoid,
}
