"""Cases that are much work: many telling answers that share hidden states."""

from collections.abc import Iterable, Mapping

from shiftlore.cases import Answer, Case
from shiftlore.compiling import CompiledUnit

CODES = ("code_", "ratio_code")
PUMP = ("ratio_code_gear_", "slips_gear", "slips_", "missing_")


def make_heavy(unit: CompiledUnit, grades: Mapping[str, str], doubt: str | None = None) -> Case:
    """Make a case of an old vehicle."""
    answers = {key: Answer(key, grade, doubt) for key, grade in grades.items()}
    return Case(unit.expansion.facts.id, 150_000.0, {}, (), answers)


def answer_all(unit: CompiledUnit, keys: Iterable[str], place: int) -> dict[str, str]:
    """Give the same answer everywhere: 0 the sound one, -1 the worst."""
    return {key: unit.expansion.findings[key].grades[place] for key in keys}


def rank_connected(unit: CompiledUnit) -> list[str]:
    """List findings by the number of hidden states that bear on them, the most first."""
    states, findings = unit.expansion.states, unit.expansion.findings
    return sorted(findings, key=lambda key: -sum(link.parent in states for link in findings[key].links))


def choose_greedily(unit: CompiledUnit, first: str, n: int) -> list[str]:
    """Choose findings one by one, next the one that shares most hidden states with those chosen."""
    states = unit.expansion.states
    parents = {
        key: {link.parent for link in node.links if link.parent in states}
        for key, node in unit.expansion.findings.items()
    }
    chosen, joined = [first], set(parents[first])
    left = [key for key in parents if key != first]
    while len(chosen) < n and left:
        best = max(left, key=lambda key: (len(parents[key] & joined), -len(parents[key])))
        left.remove(best)
        chosen.append(best)
        joined |= parents[best]
    return chosen


def list_special(unit: CompiledUnit) -> dict[str, Case]:
    """Name the cases that nobody would bring but anybody may type."""
    findings = unit.expansion.findings
    connected = rank_connected(unit)
    return {
        "all yes": make_heavy(unit, answer_all(unit, findings, -1)),
        "all no": make_heavy(unit, answer_all(unit, findings, 0)),
        "all doubted yes": make_heavy(unit, answer_all(unit, findings, -1), "think_so"),
        "all doubted no": make_heavy(unit, answer_all(unit, findings, 0), "think_so"),
        "60 codes": make_heavy(unit, answer_all(unit, [key for key in findings if key.startswith(CODES)][:60], -1)),
        "pump gone": make_heavy(unit, answer_all(unit, [key for key in findings if key.startswith(PUMP)], -1)),
        "40 doubted noes": make_heavy(unit, answer_all(unit, connected[:40], 0), "think_so"),
        **{f"{n} most connected": make_heavy(unit, answer_all(unit, connected[:n], -1)) for n in (10, 15, 20, 30, 60)},
    }
