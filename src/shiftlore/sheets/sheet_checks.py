"""Find every name in a unit sheet that points nowhere, and every part that says too little or too much."""

from collections.abc import Iterable, Iterator

from shiftlore.basics.problems import Mark, Problem, nearest
from shiftlore.sheets.unit_sheets import (
    NEUTRAL,
    SET_KINDS,
    SHAFTS,
    SheetElement,
    SheetGear,
    UnitSheet,
    is_fed,
    list_used_members,
    says_ties,
)

_Problems = Iterator[Problem]


def check_links(sheet: UnitSheet) -> list[Problem]:
    """Give every dangling name and every contradiction that needs no arithmetic."""
    return list(_check_all(sheet))


def _check_all(sheet: UnitSheet) -> _Problems:
    yield from _check_sizes(sheet)
    yield from _check_members(sheet)
    for element in sheet.elements.values():
        yield from _check_element(sheet, element)
        yield from _check_fed(sheet, element)
    if not sheet.gears:
        yield Problem(sheet.mark, "U120", "The sheet has no gears", "Write gears: with the chart's lines.")
    for gear in (*sheet.gears.values(), *sheet.ranges.values()):
        yield from _check_gear(sheet, gear)
    yield from _check_solenoids(sheet)
    for switch in sheet.pressure_switches.values():
        yield from _check_names(switch.monitors, sheet.elements, "element", switch.mark)
    for key, names in (("lockup_gears", sheet.lockup_gears), ("failsafe_gear", (sheet.failsafe_gear,))):
        named = [name for name in names if name is not None]
        yield from _check_names(named, sheet.gears, "gear", sheet.places.get(key, sheet.mark))


def list_members(sheet: UnitSheet) -> list[str]:
    """Name every member and shaft that the sheet may speak of."""
    members = [f"{item.id}.{part}" for item in sheet.sets.values() for part in SET_KINDS[item.kind].members]
    return [*SHAFTS, *sheet.shafts, *members]


def has_sound_ties(sheet: UnitSheet) -> bool:
    """Tell whether the ties are whole, so that it is worth asking what the chart makes of them."""
    problems = [
        *_check_members(sheet),
        *(one for item in sheet.elements.values() for one in _check_element(sheet, item)),
    ]
    return not any(problem.severity == "error" for problem in problems)


def _check_names(names: Iterable[str], known: Iterable[str], what: str, mark: Mark) -> _Problems:
    choices = list(known)
    for name in names:
        if name not in choices:
            near = nearest(name, choices, 1)
            advice = f"Nearest: {near[0]}." if near else "Known: " + (", ".join(choices[:12]) or "none") + "."
            yield Problem(mark, "U121", f'There is no {what} "{name}" in this sheet', advice)


def _check_sizes(sheet: UnitSheet) -> _Problems:
    """See that every ring is larger than the suns inside it."""
    for item in sheet.sets.values():
        suns = [part for part in ("sun", "small_sun", "large_sun") if part in item.teeth]
        tight = [part for part in suns if item.kind != "stepped" and item.teeth.get("ring", 999) <= item.teeth[part]]
        tight += [part for part, ratio in item.ratios.items() if part.startswith("ring_to") and ratio <= 1]
        if tight:
            what = f"In set {item.id} the ring is no larger than the sun ({', '.join(tight)})"
            yield Problem(item.mark, "U119", what, "Check the tooth counts: a ring has more than its sun.")
        if {"small_sun", "large_sun"} <= item.teeth.keys() and item.teeth["small_sun"] >= item.teeth["large_sun"]:
            what = f"In set {item.id} the small sun is no smaller than the large one"
            advice = "The small sun is the one that meshes with the short pinions; swap the two."
            yield Problem(item.mark, "U118", what, advice, "warning")


def _check_members(sheet: UnitSheet) -> _Problems:
    known = list_members(sheet)
    for name in sheet.shafts:
        if "." in name or name in SHAFTS:
            mark, what = sheet.places.get("shafts", sheet.mark), f'"{name}" is no free name for a shaft'
            yield Problem(mark, "U122", what, "Choose another name, without a dot.")
    for join in sheet.joined:
        yield from _check_names(join.members, known, "member or shaft", join.mark)
    if not says_ties(sheet):
        return
    for shaft in ("input", "output"):
        if shaft not in list_used_members(sheet):
            advice = f"Write {shaft}: with the member that is fast to it, or name {shaft} in a clutch."
            yield Problem(sheet.mark, "U123", f"Nothing is tied to the {shaft}", advice)
    yield from _check_loose_members(sheet)


def _check_loose_members(sheet: UnitSheet) -> _Problems:
    """Find planetary sets that can carry nothing, because a member of theirs is tied to nothing."""
    used = list_used_members(sheet)
    is_misspelt = used - {"", *list_members(sheet)}  # told already
    for item in sheet.sets.values() if not is_misspelt else ():
        loose = [name for name in (f"{item.id}.{part}" for part in SET_KINDS[item.kind].members) if name not in used]
        if loose and item.kind in ("simple", "double_pinion"):
            verb = "is" if len(loose) == 1 else "are"
            what = f"{' and '.join(loose)} {verb} tied to nothing, so set {item.id} can carry no torque"
            advice = "Name it in joined, input, output or held, or in what an element holds or ties together."
            yield Problem(item.mark, "U117", what, advice)


def _check_element(sheet: UnitSheet, element: SheetElement) -> _Problems:
    if element.first:
        yield from _check_names((element.first, element.second), list_members(sheet), "member or shaft", element.mark)
        if element.first == element.second:
            what = f"{element.id} ties {element.first} to itself"
            yield Problem(element.mark, "U124", what, "Name two different members.")
    elif says_ties(sheet) and element.type != "converter_clutch" and not sheet.kind_only:
        what = f"The sheet has sets, but {element.id} does not say what it ties together"
        yield Problem(element.mark, "U125", what, "Add holds: member, or between: [member, member].")


def _check_fed(sheet: UnitSheet, element: SheetElement) -> _Problems:
    """See that an element is fed wherever the chart applies it."""
    if element.fed_in is None:
        return
    lines = {**sheet.gears, **sheet.ranges}
    named = [name for name in element.fed_in if not NEUTRAL.fullmatch(name)]
    yield from _check_names(named, [*lines, "forward", "reverse"], "gear or range", element.mark)
    dry = [name for name, line in lines.items() if element.id in (*line.on, *line.coast) and not is_fed(element, line)]
    if dry:
        what = f"{element.id} is applied in {', '.join(dry)}, where fed_in gives it no oil"
        yield Problem(element.mark, "U115", what, "Add the gear to fed_in, or check its chart line.")


def _check_gear(sheet: UnitSheet, gear: SheetGear) -> _Problems:
    yield from _check_names((*gear.on, *gear.coast), sheet.elements, "element", gear.mark)
    if gear.range_of is not None:
        yield from _check_names([gear.range_of], sheet.gears, "gear", gear.mark)
    elif not gear.on and gear.kind != "neutral" and sheet.elements:
        what = f"The chart applies nothing in gear {gear.name}"
        yield Problem(gear.mark, "U126", what, "Write on: [elements], or neutral: yes.", "warning")
    if gear.kind == "neutral" and gear.ratio is not None:
        yield Problem(gear.mark, "U127", f"{gear.name} is neutral and has a ratio", "Take the ratio out.")


def _check_solenoids(sheet: UnitSheet) -> _Problems:
    lines = [*sheet.gears, *sheet.ranges]
    letters: dict[str, str] = {}
    for solenoid in sheet.solenoids.values():
        yield from _check_names(solenoid.controls, sheet.elements, "element", solenoid.mark)
        named = [name for name in solenoid.on_in or () if not NEUTRAL.fullmatch(name)]
        yield from _check_names(named, lines, "gear or range", solenoid.mark)
        if solenoid.code_letter and solenoid.code_letter in letters:
            what = f"{solenoid.id} and {letters[solenoid.code_letter]} share the code letter {solenoid.code_letter}"
            yield Problem(solenoid.mark, "U128", what, "Give each solenoid its own letter.")
        letters[solenoid.code_letter] = solenoid.id
        if solenoid.acts == "by_pattern" and solenoid.on_in is None and not sheet.kind_only:
            what = f"{solenoid.id} chooses gears by pattern, but the sheet does not say when it is on"
            yield Problem(solenoid.mark, "U129", what, "Add on_in: [gears].", "warning")
    yield from _check_patterns(sheet)
    for pattern in sheet.other_patterns:
        yield from _check_names(pattern.on, sheet.solenoids, "solenoid", pattern.mark)
        yield from _check_names([pattern.gives] if pattern.gives else [], lines, "gear or range", pattern.mark)
        yield from _check_names(pattern.applies, sheet.elements, "element", pattern.mark)


def _check_patterns(sheet: UnitSheet) -> _Problems:
    """See that solenoids that choose gears by pattern have another pattern in each forward gear."""
    by_pattern = [item for item in sheet.solenoids.values() if item.acts == "by_pattern" and item.on_in is not None]
    alike: dict[frozenset[str], list[str]] = {}
    for name in (name for name, gear in sheet.gears.items() if gear.kind == "forward"):
        pattern = frozenset(item.id for item in by_pattern if name in (item.on_in or ()))
        alike.setdefault(pattern, []).append(name)
    for pattern, names in alike.items():
        if by_pattern and len(names) > 1 and not sheet.kind_only:
            what = f"Gears {' and '.join(names)} have the same pattern ({', '.join(sorted(pattern)) or 'none on'})"
            advice = "Check on_in; a solenoid that does not choose gears needs controls: [elements] and acts: directly."
            yield Problem(by_pattern[0].mark, "U116", what, advice, "warning")
    for other in sheet.other_patterns:
        if by_pattern and other.on in alike:
            what = f"This pattern is that of gear {alike[other.on][0]}, so what it gives or applies here is never read"
            yield Problem(other.mark, "U114", what, "Take it out, or check on and on_in.", "warning")
