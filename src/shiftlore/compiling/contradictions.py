"""Answers of one case that cannot all be so, by what the rules say of two signs."""

from collections.abc import Iterator, Mapping

from shiftlore.compiling.expansion import Expansion


def list_clashes(expansion: Expansion, given: Mapping[str, str]) -> set[tuple[str, str]]:
    """List the pairs of answers that cannot both be so.

    Args:
        given: finding -> answer.
    """
    return {pair for key in given if key in expansion.findings for pair in _clashes_of(expansion, given, key)}


def _clashes_of(expansion: Expansion, given: Mapping[str, str], key: str) -> Iterator[tuple[str, str]]:
    record, nodes = expansion.finding_records[key], expansion.findings
    telling = [name for name, grade in given.items() if name in nodes and grade != nodes[name].grades[0]]
    if key not in telling:
        parts = {part for name in record.general_of for part in expansion.of_template.get(name, ())}
        yield from ((key, name) for name in telling if name in parts)
        return
    yield from ((key, name) for name in record.includes if name in given and name not in telling)
    ruled_out = {*record.never_with, *record.denied_by}
    yield from ((key, name) for name in telling if expansion.finding_records[name].id in ruled_out)


def is_moot(expansion: Expansion, given: Mapping[str, str], finding: str) -> bool:
    """Tell whether nobody asks for a finding beside what was answered: a yes could not be, or its no would say nothing."""
    record, nodes = expansion.finding_records[finding], expansion.findings
    if any(given.get(name) == nodes[name].grades[0] for name in record.includes if name in nodes):
        return True
    telling = (name for name, grade in given.items() if name in nodes and grade != nodes[name].grades[0])
    others = [expansion.finding_records[name] for name in telling]
    return any(record.id in (*one.never_with, *one.denied_by, *one.not_asked_with) for one in others)
