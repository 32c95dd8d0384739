"""How surely the parts of a unit belong together: element and gear, solenoid and element, either and a shift."""

from collections.abc import Mapping

from shiftlore.gearing.charts import WorkedTrain
from shiftlore.gearing.defects import Remains
from shiftlore.sheets import SheetSolenoid, UnitSheet

Shares = Mapping[tuple[str, str], float]

# How surely a solenoid has to do with a gear, element or shift where the sheet does not say (judgement).
UNTOLD = 0.3
# An element that is applied but carries no torque in a gear hardly shows there.
IDLE_TORQUE = 1e-6


def find_applied(sheet: UnitSheet) -> dict[tuple[str, str], float]:
    """Read (element, gear) -> share off the chart; neutral and held ranges do not count."""
    gears = [gear for gear in sheet.gears.values() if gear.kind != "neutral"]
    return {(name, gear.id): share for gear in gears for name, share in gear.on.items() if share > 0}


def find_shifts(
    sheet: UnitSheet, applied: Shares, shift_ends: Mapping[str, tuple[str, str]]
) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str], float]]:
    """Say which elements come on and which go off in each upshift."""
    coming, going = {}, {}
    for shift, (start, end) in shift_ends.items():
        for name in sheet.elements:
            change = applied.get((name, end), 0.0) - applied.get((name, start), 0.0)
            if change > 0:
                coming[name, shift] = change
            elif change < 0:
                going[name, shift] = -change
    return coming, going


def find_torque_shares(worked: WorkedTrain, applied: Shares) -> dict[tuple[str, str], float]:
    """Compare an element's torque in a gear with its largest; 1 where nothing is known."""
    sheet = worked.sheet
    if not worked.lines:
        return dict.fromkeys(applied, 1.0)
    shares = {}
    for name in sheet.elements:
        torque = {gear.id: worked.lines[label].torque.get(name, 0.0) for label, gear in sheet.gears.items()}
        largest = max(torque.values(), default=0.0)
        for gear, value in torque.items():
            if (name, gear) in applied:
                shares[name, gear] = value / largest if largest > IDLE_TORQUE else 0.0
    return shares


def find_controlled(sheet: UnitSheet) -> dict[tuple[str, str], float]:
    """Say which elements each solenoid works on: as stated, or told from the pattern of powered solenoids."""
    found: dict[tuple[str, str], float] = {}
    friction = [item.id for item in sheet.elements.values() if item.type in ("clutch", "brake", "band")]
    for solenoid in sheet.solenoids.values():
        if solenoid.controls:
            found.update({(solenoid.id, name): share for name, share in solenoid.controls.items()})
        elif solenoid.type in ("pressure_control", "line") and not {"cvt", "dct"} & set(sheet.tags):
            found.update({(solenoid.id, name): 1.0 for name in friction})
        elif solenoid.type == "on_off" and solenoid.on_in is None:
            found.update({(solenoid.id, name): UNTOLD for name in friction})
        elif solenoid.type == "on_off":
            found.update(_controlled_by_pattern(sheet, solenoid, friction))
    return found


def _controlled_by_pattern(
    sheet: UnitSheet, solenoid: SheetSolenoid, friction: list[str]
) -> dict[tuple[str, str], float]:
    """Find the elements that change between gears whose patterns differ in this solenoid alone."""
    others = [item for item in sheet.solenoids.values() if item.on_in is not None and item.id != solenoid.id]
    others = [item for item in others if item.type == "on_off"]
    gears = [gear for gear in sheet.gears.values() if gear.kind == "forward"]
    rest = {gear.name: frozenset(item.id for item in others if gear.name in (item.on_in or ())) for gear in gears}
    on = set(solenoid.on_in or ())
    pairs = [(a, b) for a in gears for b in gears if (a.name in on) and (b.name not in on)]
    alone = [(a, b) for a, b in pairs if rest[a.name] == rest[b.name]]
    share = 1.0 if alone else UNTOLD
    return {
        (solenoid.id, name): share
        for name in friction
        if any((name in a.on) != (name in b.on) for a, b in alone or pairs)
    }


def find_working(sheet: UnitSheet, controlled: Shares, applied: Shares) -> dict[tuple[str, str], float]:
    """Say in which gears each solenoid works: where it is powered, or where an element of its own is applied."""
    found = {}
    for solenoid in sheet.solenoids.values():
        for name, gear in sheet.gears.items():
            if gear.kind == "neutral":
                continue
            if solenoid.type == "tcc":
                share = float(name in sheet.lockup_gears)
            elif solenoid.on_in is not None:
                share = float(name in solenoid.on_in)
            else:
                own = [(part, value) for (owner, part), value in controlled.items() if owner == solenoid.id]
                share = max((value * applied.get((part, gear.id), 0.0) for part, value in own), default=0.0)
            if share > 0:
                found[solenoid.id, gear.id] = share
    return found


def find_switching(
    sheet: UnitSheet,
    controlled: Shares,
    coming_on: Shares,
    going_off: Shares,
    shift_ends: Mapping[str, tuple[str, str]],
) -> dict[tuple[str, str], float]:
    """Say which solenoids take part in each upshift: their power changes, or an element of theirs does."""
    found = {}
    names = {gear.id: name for name, gear in sheet.gears.items()}
    for solenoid in sheet.solenoids.values():
        for shift, ends in shift_ends.items():
            start, end = (names[part] for part in ends)
            if solenoid.type == "tcc":
                share = 0.0
            elif solenoid.type == "line":
                share = 1.0
            else:
                own = [(part, value) for (owner, part), value in controlled.items() if owner == solenoid.id]
                moves = [
                    value * max(coming_on.get((part, shift), 0.0), going_off.get((part, shift), 0.0))
                    for part, value in own
                    if solenoid.controls or solenoid.type != "on_off"
                ]
                share = max(moves, default=0.0)
                if solenoid.on_in is not None and (start in solenoid.on_in) != (end in solenoid.on_in):
                    share = 1.0
                elif solenoid.on_in is None and not solenoid.controls and solenoid.type == "on_off":
                    share = UNTOLD
            if share > 0:
                found[solenoid.id, shift] = share
    return found


def find_lost_gears(
    sheet: UnitSheet,
    lost: Mapping[tuple[str, str], Remains],
    stuck: Mapping[tuple[str, str, str], Remains],
    applied: Shares,
    controlled: Shares,
) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str, str], float]]:
    """Say how surely each gear is not had with an element lost or a solenoid stuck."""
    if not sheet.kind_only:
        lost_share = {key: 1.0 for key, outcome in lost.items() if outcome.changed}
        known = {"unknown": UNTOLD}
        stuck_share = {key: known.get(outcome.state, 1.0) for key, outcome in stuck.items() if outcome.changed}
        return lost_share, stuck_share
    stuck_share = {}
    gears = [gear.id for gear in sheet.gears.values() if gear.kind != "neutral"]
    for solenoid in sheet.solenoids.values():
        if solenoid.type in ("tcc", "line") or not (solenoid.controls or solenoid.type == "on_off"):
            continue
        own = {part: share for (owner, part), share in controlled.items() if owner == solenoid.id}
        for gear in gears:
            off = max((share * applied.get((part, gear), 0.0) for part, share in own.items()), default=0.0)
            on = max((share * (1 - applied.get((part, gear), 0.0)) for part, share in own.items()), default=0.0)
            swap = solenoid.unpowered == "applies"
            stuck_share[solenoid.id, "off", gear] = on if swap else off
            stuck_share[solenoid.id, "on", gear] = off if swap else on
    return dict(applied), {key: share for key, share in stuck_share.items() if share > 0}
