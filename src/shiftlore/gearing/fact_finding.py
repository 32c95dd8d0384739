"""Work out what rule templates ask of a unit, from its sheet and its gear train."""

from collections.abc import Mapping

from shiftlore.basics import KnowledgeError
from shiftlore.gearing.charts import WorkedTrain, work_out
from shiftlore.gearing.defects import find_remains, list_defects
from shiftlore.gearing.facts import Remains, Shares, UnitFacts, name_instances
from shiftlore.sheets import SheetSolenoid, UnitSheet

# How surely a solenoid has to do with a gear, element or shift where the sheet does not say (judgement).
UNTOLD = 0.3
# An element that is applied but carries no torque in a gear hardly shows there.
IDLE_TORQUE = 1e-6


def unit_facts(sheet: UnitSheet) -> UnitFacts:
    """Work out everything that rules ask of a unit.

    Args:
        sheet: as `read_sheet` gives it without errors.
    Raises: KnowledgeError: the chart contradicts itself or the printed ratios; carries every problem.
    """
    worked = work_out(sheet)
    if any(problem.severity == "error" for problem in worked.problems):
        raise KnowledgeError(worked.problems)
    outcomes = {} if sheet.kind_only else find_remains(worked, list_defects(sheet))
    instances, shift_ends = name_instances(sheet)
    ids = {name: gear.id for name, gear in sheet.gears.items()}
    lost: dict[tuple[str, str], Remains] = {}
    stuck: dict[tuple[str, str, str], Remains] = {}
    for (defect, name), outcome in outcomes.items():
        if name not in ids or sheet.gears[name].kind == "neutral":
            continue
        if defect.kind == "lost":
            lost[defect.part, ids[name]] = outcome
        elif defect.kind != "stuck":
            stuck[defect.part, defect.kind.removeprefix("sol_"), ids[name]] = outcome
    applied = find_applied(sheet)
    controlled = find_controlled(sheet)
    coming_on, going_off = find_shifts(sheet, applied, shift_ends)
    lost_share, stuck_share = find_lost_gears(sheet, lost, stuck, applied, controlled)
    failsafe = sheet.gears.get(sheet.failsafe_gear or "")
    return UnitFacts(
        id=sheet.id,
        label=sheet.label,
        kind_only=sheet.kind_only,
        tags=_list_tags(sheet) | frozenset(sheet.possible_tags),
        sure_tags=_list_tags(sheet),
        by_kind=instances,
        shift_ends=shift_ends,
        applied=applied,
        coming_on=coming_on,
        going_off=going_off,
        torque_share=find_torque_shares(worked, applied),
        controlled=controlled,
        working=find_working(sheet, controlled, applied),
        switching=find_switching(sheet, controlled, coming_on, going_off, shift_ends),
        monitored={(item.id, name): 1.0 for item in sheet.pressure_switches.values() for name in item.monitors},
        lost=lost,
        stuck=stuck,
        lost_share=lost_share,
        stuck_share=stuck_share,
        coasting=_list_coasting(sheet),
        lockup_gears=tuple(sheet.gears[name].id for name in sheet.lockup_gears),
        failsafe_gear=None if failsafe is None else failsafe.id,
        ratios={gear.id: worked.lines[name].ratio for name, gear in sheet.gears.items() if gear.kind != "neutral"},
        codes=_tie_codes(sheet),
        fluid=sheet.fluid,
        access=sheet.access,
    )


def _list_tags(sheet: UnitSheet) -> frozenset[str]:
    """Add to the sheet's tags those that follow from its parts."""
    if sheet.kind_only:
        return frozenset(sheet.tags)
    types = {item.type for items in (sheet.elements, sheet.solenoids) for item in items.values()}
    follow = {
        "one_way_clutch": "one_way_clutch" in types,
        "band": "band" in types,
        "pressure_switch": bool(sheet.pressure_switches),
        "converter": bool(sheet.lockup_gears or {"converter_clutch", "tcc"} & types),
        "dipstick": sheet.fluid.has_dipstick is True,
        "no_dipstick": sheet.fluid.has_dipstick is False,
    }
    return frozenset(sheet.tags).union(tag for tag, holds in follow.items() if holds)


def _list_coasting(sheet: UnitSheet) -> frozenset[str]:
    """Name the elements of gears, and those that held ranges add to their gear, that make the engine brake."""
    found = {name for gear in sheet.gears.values() for name in gear.coast}
    for held in sheet.ranges.values():
        gear = sheet.gears.get(held.range_of or "")
        found.update(held.on.keys() - gear.on.keys() if gear else ())
    return frozenset(name for name in found if sheet.elements[name].type != "one_way_clutch")


def _tie_codes(sheet: UnitSheet) -> dict[str, tuple[str, str]]:
    sensors = (("speed_sensor", sheet.speed_sensors), ("pressure_switch", sheet.pressure_switches))
    groups = (("solenoid", sheet.solenoids), *sensors)
    return {code: (kind, item.id) for kind, items in groups for item in items.values() for code in item.codes}


def find_applied(sheet: UnitSheet) -> dict[tuple[str, str], float]:
    """Read (element, gear) -> share off the chart; neutral and held ranges do not count."""
    gears = [gear for gear in sheet.gears.values() if gear.kind != "neutral"]
    return {(name, gear.id): share for gear in gears for name, share in gear.on.items() if share > 0}


def find_shifts(
    sheet: UnitSheet, applied: Shares, shift_ends: Mapping[str, tuple[str, str]]
) -> tuple[dict[tuple[str, str], float], dict[tuple[str, str], float]]:
    """Say which elements come on and which go off in each shift."""
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
    if worked.motion is None:
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
        own = _list_own(controlled, solenoid)
        powered_in = sheet.lockup_gears if solenoid.type == "tcc" else solenoid.on_in
        for name, gear in sheet.gears.items():
            moved = max((value * applied.get((part, gear.id), 0.0) for part, value in own.items()), default=0.0)
            share = moved if powered_in is None else float(name in powered_in)
            if share > 0 and gear.kind != "neutral":
                found[solenoid.id, gear.id] = share
    return found


def _list_own(controlled: Shares, solenoid: SheetSolenoid) -> dict[str, float]:
    """Give the elements that a solenoid works on, each with how surely."""
    return {part: share for (owner, part), share in controlled.items() if owner == solenoid.id}


def find_switching(
    sheet: UnitSheet,
    controlled: Shares,
    coming_on: Shares,
    going_off: Shares,
    shift_ends: Mapping[str, tuple[str, str]],
) -> dict[tuple[str, str], float]:
    """Say which solenoids take part in each shift: their power changes, or an element of theirs does."""
    found = {}
    names = {gear.id: name for name, gear in sheet.gears.items()}
    for solenoid in sheet.solenoids.values():
        is_bare = solenoid.type == "on_off" and not solenoid.controls
        own = {} if is_bare else _list_own(controlled, solenoid)
        for shift, ends in shift_ends.items():
            start, end = (names[part] in (solenoid.on_in or ()) for part in ends)
            moves = [max(coming_on.get((part, shift), 0.0), going_off.get((part, shift), 0.0)) for part in own]
            share = max((value * move for value, move in zip(own.values(), moves, strict=True)), default=0.0)
            if solenoid.type in ("tcc", "line"):
                share = float(solenoid.type == "line")
            elif start != end:
                share = 1.0
            elif is_bare and solenoid.on_in is None:
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
        gone = {key: 1.0 for key, left in lost.items() if left.changed}
        return gone, {key: UNTOLD if left.state == "unknown" else 1.0 for key, left in stuck.items() if left.changed}
    stuck_share = {}
    for solenoid in sheet.solenoids.values():
        if solenoid.type in ("tcc", "line") or not (solenoid.controls or solenoid.type == "on_off"):
            continue
        own = _list_own(controlled, solenoid)
        empty, full = ("on", "off") if solenoid.unpowered == "applies" else ("off", "on")
        for gear in [gear.id for gear in sheet.gears.values() if gear.kind != "neutral"]:
            held = {part: applied.get((part, gear), 0.0) for part in own}
            stuck_share[solenoid.id, empty, gear] = max((own[part] * held[part] for part in own), default=0.0)
            stuck_share[solenoid.id, full, gear] = max((own[part] * (1 - held[part]) for part in own), default=0.0)
    return dict(applied), {key: share for key, share in stuck_share.items() if share > 0}
