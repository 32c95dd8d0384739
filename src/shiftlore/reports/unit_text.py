"""Write a unit's description as plain text, 80 columns wide."""

import textwrap
from collections.abc import Mapping, Sequence

from shiftlore.gearing import RatioMatch, Remains, UnitDescription

WIDTH = 80
MANY = 6


def render_unit(description: UnitDescription, show_faults: bool = True) -> str:
    """Write gears, application chart, torque, and what each fault asked about leaves.

    Args:
        show_faults: whether to add a table per lost element and stuck solenoid.
    """
    parts = [*_wrap(f"{description.label} ({description.id})", ""), "", *_gear_table(description)]
    parts += _chart(description)
    if any(line.torque for line in description.gears.values()):
        parts += ["", "Torque on each element, times input torque", *_torque_table(description)]
    if description.measured is not None:
        parts += ["", *_measured(description.measured, description)]
    if show_faults:
        parts += _faults(description)
    parts += _remarks(description)
    return "\n".join(line.rstrip() for line in parts) + "\n"


def _label(description: UnitDescription, name: str) -> str:
    label = description.labels.get(name, name)
    return label if label.lower() == name.lower() else f"{label} ({name})"


def _wrap(text: str, indent: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=indent, subsequent_indent=indent)


def _number(value: float | None, form: str) -> str:
    return "-" if value is None else format(value, form)


def _gear_table(description: UnitDescription) -> list[str]:
    """Table of gears: printed and computed ratio, difference, engine braking, lock-up."""
    rows = ["gear          printed  computed  off by   engine brakes  lock-up"]
    for name, line in description.gears.items():
        brakes = {True: "yes", False: "no", None: "-"}[line.brakes_engine]
        state = "" if line.state in ("driven", "unknown") else line.state.replace("_", " ")
        off = "-" if line.error_percent is None else f"{line.error_percent:+z.1f} %"
        lockup = "yes" if line.lockup else "-"
        rows.append(
            f"{name[:12]:<12}{_number(line.ratio_stated, '.3f'):>9}{_number(line.ratio_computed, '.3f'):>10}"
            f"{off:>8}{brakes:>16}{lockup:>9}  {state}"
        )
    return rows


def _chart(description: UnitDescription) -> list[str]:
    """Application chart: X holds under drive, o only for engine braking; as many columns as fit."""
    rows: list[str] = []
    for block in _columns(description.used):
        rows += ["", "Application chart (X holds, o only for engine braking)"] if not rows else [""]
        rows.append(" " * 12 + "".join(f"{name:>{width}}" for name, width in block))
        for name, line in description.gears.items():
            signs = dict.fromkeys(line.coast, "o") | dict.fromkeys(line.elements, "X")
            rows.append(f"{name[:12]:<12}" + "".join(f"{signs.get(item, '.'):>{width}}" for item, width in block))
    return rows


def _columns(names: Sequence[str], least: int = 6) -> list[list[tuple[str, int]]]:
    """Split names into blocks that fit the width beside the gear's name."""
    blocks: list[list[tuple[str, int]]] = []
    room = 0
    for name in names:
        width = max(least, len(name) + 2)
        if not blocks or width > room:
            blocks.append([])
            room = WIDTH - 12
        blocks[-1].append((name, width))
        room -= width
    return blocks


def _torque_table(description: UnitDescription) -> list[str]:
    loaded = {item for line in description.gears.values() for item in line.torque}
    used = [name for name in description.labels if name in loaded]
    rows = []
    for block in _columns(used, 7):
        rows.append(" " * 12 + "".join(f"{name:>{width}}" for name, width in block))
        for name, line in description.gears.items():
            if line.torque:
                cells = "".join(f"{_number(line.torque.get(item), '.2f'):>{width}}" for item, width in block)
                rows.append(f"{name[:12]:<12}{cells}")
    return rows


def _faults(description: UnitDescription) -> list[str]:
    """Write a table for each fault, or one line for each where there are many."""
    titles = {f"{_label(description, name)} holds nothing": lines for name, lines in description.lost.items()}
    for name, lines in description.stuck.items():
        part, _, way = name.partition("=")
        titles[f"{_label(description, part)} stuck {way}"] = lines
    if len(titles) > MANY:
        return _fault_lines(description)
    return [line for title, lines in titles.items() for line in ("", *_fault_table(title, lines))]


def _fault_lines(description: UnitDescription) -> list[str]:
    """Write what is had in place of each commanded gear, one fault a line."""
    gears = [name for name, line in description.gears.items() if line.kind in ("forward", "reverse")]
    named = {f"{name} lost": lines for name, lines in description.lost.items()}
    named |= {name.replace("=", " stuck "): lines for name, lines in description.stuck.items()}
    margin = min(max(len(name) for name in named) + 2, WIDTH - 4 * len(gears), 32)
    wide = max(3, min(6, (WIDTH - margin) // max(len(gears), 1)))
    head = "".join(f"{name[: wide - 1]:>{wide}}" for name in gears)
    rows = ["", "What is had, by commanded gear (- no drive, X binds, ? not known or no gear)", f"{'':<{margin}}{head}"]
    calm = [name for name, lines in named.items() if not any(lines[gear].changed for gear in gears)]
    for name in [name for name in named if name not in calm]:
        outcomes = [named[name][gear] for gear in gears]
        had = [one.had or {"neutral": "-", "tied_up": "X"}.get(one.state, "?") for one in outcomes]
        rows.append(f"{name[: margin - 1]:<{margin}}" + "".join(f"{text[: wide - 1]:>{wide}}" for text in had))
    return rows + _wrap("No gear changes with: " + ", ".join(calm) + ".", "") if calm else rows


def _fault_table(title: str, lines: Mapping[str, Remains]) -> list[str]:
    rows = [title, "commanded   had         ratio   what the driver feels"]
    for name, outcome in lines.items():
        had = outcome.had or {"neutral": "none", "tied_up": "bind"}.get(outcome.state, "?")
        if outcome.state == "neutral" and not outcome.changed:
            had = "neutral"
        head = f"{name[:11]:<12}{had[:9]:<10}{_number(outcome.ratio, '.2f'):>7}   "
        feels = textwrap.wrap(outcome.feels, WIDTH - len(head)) or [""]
        rows.append(head + feels[0])
        rows += [" " * len(head) + more for more in feels[1:]]
    return rows


def _measured(match: RatioMatch, description: UnitDescription) -> list[str]:
    """What a measured ratio may mean: a gear, a fault, or a slipping element."""
    rows = [f"Measured ratio {match.ratio:.2f}", *_wrap(match.says)]
    if match.faults:
        rows.append("  Faults that make it:")
        for fault in match.faults:
            rows += _wrap(f"{fault.fault}, with {fault.commanded} commanded ({fault.ratio:.3f})", "    ")
    if match.slips:
        rows.append("  Slipping elements that could make it:")
        for slip in match.slips:
            names = " or ".join(_label(description, item) for item in slip.elements)
            where = f"{slip.commanded} commanded ({slip.ratio:.3f})"
            rows += _wrap(f"{where}: {slip.slip_percent:.0f} % slip in {names}", "    ")
    return rows


def _remarks(description: UnitDescription) -> list[str]:
    rows: list[str] = []
    if description.solved is not None:
        solved = description.solved
        ratios = ", ".join(f"{name} {value:.3f}" for name, value in solved.ratios.items())
        rows += ["", "Set ratios solved from the gear ratios", *_wrap(ratios)]
        rows += _wrap(f"Fixed by gears {', '.join(solved.solved_from)}.")
        proofs = ", ".join(f"{name} {error:.1f} %" for name, error in solved.proved_on.items())
        rows += _wrap(f"Proved on the others, off by: {proofs}.") if proofs else _wrap("No gear is left to prove them.")
    for title, texts in (("Not computed", description.missing), ("Odd, but used", description.warnings)):
        if texts:
            rows += ["", title]
            rows += [line for text in texts for line in _wrap(text)]
    return rows
