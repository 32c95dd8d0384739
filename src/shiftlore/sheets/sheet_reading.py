"""Read a unit sheet: strict about keys and ids, generous about how a manual prints its chart."""

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from shiftlore.basics.problems import KnowledgeError, Mark, Problem
from shiftlore.basics.quantities import QUANTITIES, kind_of, to_base
from shiftlore.reading import Fields, Node, id_of, number_of, problem_at, quoted, read_yaml
from shiftlore.sheets.sheet_checks import check_links
from shiftlore.sheets.unit_sheets import (
    ELEMENT_TYPES,
    LEAST_TEETH,
    LETS,
    MOST_TEETH,
    NEUTRAL,
    SENSOR_TYPES,
    SET_KINDS,
    SOLENOID_TYPES,
    AccessMinutes,
    Fluid,
    Join,
    Limit,
    Pattern,
    SheetElement,
    SheetGear,
    SheetSensor,
    SheetSet,
    SheetSolenoid,
    UnitSheet,
)

_NAMING = ("tags", "possible_tags", "shafts", "lockup_gears", "failsafe_gear")
_REVERSE = re.compile(r"[Rr](ev(erse)?)?[ _-]?[0-9]*( .*)?")
_UNIT_ID = re.compile(r"[a-z][a-z0-9]*([_-][a-z0-9]+)*")
_TAG = re.compile(r"[a-z][a-z0-9_]*")
_SHEET_KEYS = frozenset({"gears", "elements", "ranges", "solenoids", "sets", "kind_only", "lockup_gears", "tags"})
_CASE_KEYS = frozenset({"shiftlore", "unit", "findings", "complaint", "background", "odometer_km"})


def read_sheet(source: str | bytes | Path, file: str | None = None) -> tuple[UnitSheet | None, list[Problem]]:
    """Read one unit sheet and gather everything that is wrong with it.

    Args:
        source: the YAML text, or a path.
        file: name shown in the places of problems.
    Returns: the sheet, or None if there is nothing to read; and the problems. With problems of severity
        `error` the sheet must not be used.
    """
    node, problems = read_yaml(source, file, letter="U")
    if node is None:
        return None, problems
    sheet = sheet_from_node(node, problems)
    if not any(problem.severity == "error" for problem in problems):
        problems.extend(check_links(sheet))
    return sheet, problems


def load_sheet(source: str | bytes | Path, file: str | None = None) -> UnitSheet:
    """Read one unit sheet that must be right.

    Raises: KnowledgeError: carries every problem found.
    """
    sheet, problems = read_sheet(source, file)
    errors = [problem for problem in problems if problem.severity == "error"]
    if errors or sheet is None:
        raise KnowledgeError(problems)
    return sheet


def sheet_from_node(node: Node, problems: list[Problem]) -> UnitSheet:
    """Turn the root node of a sheet into a record; wrong parts leave a problem and a stand-in."""
    fields = Fields(node, problems, "unit sheet")
    sheet = UnitSheet(
        id=_unit_id(fields),
        label=fields.text("label"),
        kind_only=fields.yes_no("kind_only", False),
        tags=_tags(fields, "tags"),
        fluid=_fluid(fields),
        sets={name: _gear_set(name, value, mark, problems) for name, mark, value in _named(fields, "sets")},
        shafts=fields.words_list("shafts"),
        joined=_joined(fields, problems),
        elements=_records(fields, "elements", "element", _element),
        gears=_gears(fields, "gears", "gear"),
        ranges=_gears(fields, "ranges", "range"),
        solenoids=_records(fields, "solenoids", "solenoid", _solenoid),
        other_patterns=tuple(_pattern(item) for item in fields.records("other_patterns", "pattern")),
        speed_sensors=_records(fields, "speed_sensors", "speed sensor", _sensor),
        pressure_switches=_records(fields, "pressure_switches", "pressure switch", _switch),
        lockup_gears=_names(fields, "lockup_gears"),
        failsafe_gear=_name(fields, "failsafe_gear"),
        access={name: _access(value, mark, problems) for name, mark, value in _named(fields, "access")},
        source=fields.text("source", ""),
        possible_tags=_tags(fields, "possible_tags"),
        limits={name: _limit(value, mark, problems) for name, mark, value in _named(fields, "limits")},
        places={key: fields.value_mark(key) for key in _NAMING if fields.has(key)},
        mark=node.mark,
    )
    _report_twins(fields, ("elements", "solenoids", "speed_sensors", "pressure_switches"))
    fields.finish()
    return sheet


def _unit_id(fields: Fields) -> str:
    """Read the id; that of a kind of units may carry a hyphen, as `step-rwd`."""
    ident = fields.text("id")
    if ident and not _UNIT_ID.fullmatch(ident):
        what = f"{quoted(ident)} is no id for a unit"
        fields.add(fields.value_mark("id"), "015", what, "Use small letters, digits and single underscores.")
    return ident


def _records(fields: Fields, key: str, what: str, read: Callable[[Fields, str], Any]) -> dict[str, Any]:
    """Read a list of records by their ids, of two with one id the last."""
    found = {}
    for item in fields.records(key, what):
        ident = item.ident("id")
        found[ident] = read(item, ident)
        item.finish()
    return found


def _report_twins(fields: Fields, keys: tuple[str, ...]) -> None:
    seen: dict[str, Mark] = {}
    for key in keys:
        node = fields.get(key)
        for item in node.items if node is not None and node.kind == "list" else ():
            ident = item.get("id")
            if ident is None or ident.kind != "scalar":
                continue
            if ident.text in seen:
                what = f"The id {quoted(ident.text)} stands here a second time"
                advice = f"Give each its own id; the first is in line {seen[ident.text].line}."
                fields.problems.append(problem_at(ident, "105", what, advice))
            seen.setdefault(ident.text, ident.mark)


def _scalar_text(node: Node, problems: list[Problem]) -> str:
    """Take a name as it is written; a bare 1 or R is fine here, because only a name can stand."""
    if node.kind == "scalar" and node.text.strip():
        return node.text.strip()
    problems.append(problem_at(node, "013", "Here a name should stand", "Write a name."))
    return ""


def _name(fields: Fields, key: str) -> str | None:
    node = fields.get(key)
    return None if node is None else _scalar_text(node, fields.problems)


def _names(fields: Fields, key: str) -> tuple[str, ...]:
    """Read a list of names, or one name without brackets."""
    node = fields.get(key)
    items = [] if node is None else node.items if node.kind == "list" else [node]
    return tuple(dict.fromkeys(_scalar_text(item, fields.problems) for item in items))


def _shares(fields: Fields, key: str) -> dict[str, float]:
    """Read a list of names (each sure), or a mapping from name to share."""
    node = fields.get(key)
    if node is None or node.kind != "mapping":
        return dict.fromkeys(_names(fields, key), 1.0)
    return _stated({name.text: number_of(value, fields.problems, 0, 1) for name, value in node.pairs})


def _named(fields: Fields, key: str) -> list[tuple[str, Mark, Node]]:
    """Open a mapping whose keys are ids."""
    pairs = _open(fields, key, f"Names with a colon should stand under {key}", "Write name: {...}.")
    return [(id_of(name, fields.problems) or "", name.mark, value) for name, value in pairs]


def _open(fields: Fields, key: str, what: str, write_instead: str) -> list[tuple[Node, Node]]:
    """Give the pairs of a mapping, or tell that something else stands there."""
    node = fields.get(key)
    if node is not None and node.kind != "mapping":
        fields.problems.append(problem_at(node, "013", what, write_instead))
    return [] if node is None else node.pairs


def _tags(fields: Fields, key: str) -> tuple[str, ...]:
    tags = fields.marked_list(key)
    for tag, mark in tags:
        if not _TAG.fullmatch(tag):
            fields.add(mark, "015", f"{quoted(tag)} is no tag", "Use small letters, digits and underscores.")
    return tuple(tag for tag, _ in tags)


def _fluid(fields: Fields) -> Fluid:
    inner = fields.mapping("fluid")
    if inner is None:
        return Fluid()
    window = [number_of(item, inner.problems, -40, 200) or 0.0 for item in inner.nodes("check_temp_c")]
    if window and (len(window) != 2 or window[0] >= window[1]):
        inner.add(inner.value_mark("check_temp_c"), "106", "The temperature window needs two", "Write [low, high].")
        window = []
    filled, drained = inner.number("fill_litres", 0.1, 60, None), inner.number("pan_drain_litres", 0.1, 60, None)
    fluid = Fluid(filled, drained, (window[0], window[1]) if window else None, inner.yes_no("has_dipstick", None))
    inner.finish()
    return fluid


def _gear_set(name: str, node: Node, mark: Mark, problems: list[Problem]) -> SheetSet:
    fields = Fields(node, problems, "set")
    kind = fields.word("kind", SET_KINDS)
    kind_keys, teeth = SET_KINDS[kind], {}
    inner = fields.mapping("teeth", "list of teeth")
    if inner is not None:
        teeth = {
            key: inner.whole(key, LEAST_TEETH, MOST_TEETH, None) for key in (*kind_keys.teeth, *kind_keys.more_teeth)
        }
        inner.finish()
    ratios = {key: fields.number(key, 0.05, 12, None) for key in kind_keys.ratios}
    idler = fields.yes_no("idler", False) if kind == "pair" else False
    fields.finish()
    return SheetSet(name, kind, teeth=_stated(teeth), ratios=_stated(ratios), idler=idler, mark=mark)


def _joined(fields: Fields, problems: list[Problem]) -> tuple[Join, ...]:
    """Gather `joined`, and what `input`, `output`, `engine` and `held` are made fast to."""
    groups = []
    for node in fields.nodes("joined"):
        if node.kind != "list" or len(node.items) < 2:
            problems.append(problem_at(node, "107", "A join needs two members or more", "Write [front.sun, rear.sun]."))
        else:
            groups.append(Join(tuple(_scalar_text(item, problems) for item in node.items), node.mark))
    for key in ("input", "output", "engine", "held"):
        members = _names(fields, key)
        if members:
            groups.append(Join(("case" if key == "held" else key, *members), fields.value_mark(key)))
    return tuple(groups)


def _stated(numbers: Mapping[str, float | None]) -> dict[str, float]:
    return {key: value for key, value in numbers.items() if value is not None}


def _element(fields: Fields, ident: str) -> SheetElement:
    fields.named = ident
    kind = fields.word("type", ELEMENT_TYPES)
    first, second = _ends(fields, ident, kind)
    lets = fields.word("lets", LETS, "") if kind == "one_way_clutch" else ""
    if "case" in (first, second) and lets in LETS[2:]:
        lets = "forward" if (lets == "first_ahead") == (second == "case") else "backward"
    elif first and "case" not in (first, second) and lets in LETS[:2]:
        what, advice = (
            f"{quoted(lets)} does not fit a clutch between two members",
            "Write lets: first_ahead or second_ahead.",
        )
        fields.add(fields.value_mark("lets"), "111", what, advice)
    if first == "case":
        first, second = second, first
    fed_in = _names(fields, "fed_in") if fields.has("fed_in") else None
    return SheetElement(
        ident,
        fields.text("label", _label(ident)),
        kind,
        first=first,
        second=second,
        lets=lets,
        fed_in=fed_in,
        mark=fields.mark,
    )


def _ends(fields: Fields, ident: str, kind: str) -> tuple[str, str]:
    """Read what an element ties together, from `holds` or `between`."""
    holds, between = _name(fields, "holds"), _names(fields, "between")
    if holds and between:
        fields.add(fields.mark, "108", f"{ident} both holds a member and stands between two", "Keep one of the two.")
    if holds:
        return holds, "case"
    if not between:
        return "", ""
    if len(between) != 2:
        fields.add(fields.value_mark("between"), "109", "A clutch stands between two", "Write [input, front.sun].")
        return "", ""
    if kind in ("brake", "band") and "case" not in between:
        advice = "Write holds: front.sun, or type: clutch."
        fields.add(fields.value_mark("between"), "110", f"{ident} is a {kind}, so it holds one member", advice)
    return between[0], between[1]


def _label(ident: str) -> str:
    return ident.replace("_", " ").capitalize() if len(ident) > 3 else ident.upper()


def _gears(fields: Fields, key: str, what: str) -> dict[str, SheetGear]:
    found = {}
    for name, value in _open(fields, key, f"The {key} should stand as names with a colon", "Write 1: {...}."):
        text = _scalar_text(name, fields.problems)
        found[text] = _gear(text, Fields(value, fields.problems, what), name.mark, what)
    ids = [gear.id for gear in found.values()]
    for gear in found.values():
        if ids.count(gear.id) > 1:
            advice = "Name them so that they differ in more than capitals."
            fields.problems.append(Problem(gear.mark, "U112", f"Two {what}s share the short name {gear.id}", advice))
    return found


def _gear(name: str, fields: Fields, mark: Mark, what: str) -> SheetGear:
    fields.named = name
    holds = _name(fields, "gear") if what == "range" else None
    if what == "range" and holds is None:
        fields.add(fields.mark, "011", f"The range {name} does not say which gear it holds", 'Add gear: "1".')
    shown = holds or name
    kind = "reverse" if _REVERSE.fullmatch(shown) else "neutral" if NEUTRAL.fullmatch(shown) else "forward"
    for other in ("reverse", "neutral"):
        kind = other if fields.yes_no(other, False) else kind
    ratio: float | None = fields.number("ratio", -30, 30, None)
    if ratio == 0:
        fields.add(fields.value_mark("ratio"), "016", "A ratio of 0 is no ratio", "Write the printed ratio.")
        ratio = None
    if ratio is not None and kind == "forward" and ratio < 0:
        kind = "reverse"
    if ratio is not None and kind == "reverse":
        ratio = -abs(ratio)
    on, coast = _shares(fields, "on"), _names(fields, "coast")
    found = SheetGear(
        name,
        ratio,
        on=on,
        coast=coast,
        kind=kind,
        range_of=holds,
        variator=fields.number("variator", 0.1, 10, None),
        mark=mark,
    )
    fields.finish()
    return found


def _solenoid(fields: Fields, ident: str) -> SheetSolenoid:
    fields.named = ident
    kind = fields.word("type", SOLENOID_TYPES)
    controls = _shares(fields, "controls")
    usual = "directly" if controls or kind != "on_off" else "by_pattern"
    return SheetSolenoid(
        id=ident,
        label=fields.text("label", _label(ident)),
        type=kind,
        controls=controls,
        on_in=_names(fields, "on_in") if fields.has("on_in") else None,
        unpowered=fields.word("unpowered", ("releases", "applies"), ""),
        acts=fields.word("acts", ("directly", "by_pattern"), usual),
        code_letter=_name(fields, "code_letter") or "",
        codes=_names(fields, "codes"),
        mark=fields.mark,
    )


def _pattern(fields: Fields) -> Pattern:
    gives = _name(fields, "gives") or ""
    found = Pattern(frozenset(_names(fields, "on")), gives, _names(fields, "applies"), fields.mark)
    if bool(gives) == bool(found.applies):
        advice = 'Write gives: "3", or applies: [c1, b1].'
        fields.add(fields.mark, "113", "A pattern gives a gear, or applies elements", advice)
    fields.finish()
    return found


def _sensor(fields: Fields, ident: str) -> SheetSensor:
    label, kind = fields.text("label", _label(ident)), fields.word("type", SENSOR_TYPES)
    return SheetSensor(
        ident,
        label,
        kind,
        monitors=(),
        code_letter=_name(fields, "code_letter") or "",
        codes=_names(fields, "codes"),
        mark=fields.mark,
    )


def _switch(fields: Fields, ident: str) -> SheetSensor:
    label, monitors = fields.text("label", _label(ident)), _names(fields, "monitors")
    letter, codes = _name(fields, "code_letter") or "", _names(fields, "codes")
    return SheetSensor(
        ident, label, "pressure_switch", monitors=monitors, code_letter=letter, codes=codes, mark=fields.mark
    )


def _access(node: Node, mark: Mark, problems: list[Problem]) -> AccessMinutes:
    fields = Fields(node, problems, "access")
    to_open, to_close = (fields.number(key, 0, 5000, None) for key in ("open_minutes", "close_minutes"))
    fields.finish()
    return AccessMinutes(to_open, to_close, mark)


def _limit(node: Node, mark: Mark, problems: list[Problem]) -> Limit:
    """Read between which numbers a measurement is sound: `{from: 3.2, to: 4.6, unit: bar}`."""
    fields = Fields(node, problems, "limit")
    low, high = fields.number("from", default=None), fields.number("to", default=None)
    unit = fields.word("unit", [unit for quantity in QUANTITIES.values() for unit in quantity.units])
    kind = kind_of(unit)
    if (low is None and high is None) or (low is not None and high is not None and low >= high):
        fields.add(
            fields.mark, "114", "A limit needs a number to stay above or below", "Write {from: 3, to: 4, unit: bar}."
        )
    fields.finish()
    low, high = (None if bound is None else to_base(kind, bound, unit) for bound in (low, high))
    return Limit(kind, low, high, mark)


def is_sheet_file(path: Path) -> bool:
    """Tell whether a file is a unit sheet: it has more keys of a sheet than of a case."""
    node, _ = read_yaml(path)
    if node is None or node.kind != "mapping":
        return False
    keys = {key.text for key, _ in node.pairs}
    return len(keys & _SHEET_KEYS) > len(keys & _CASE_KEYS)
