"""Answers of one case that cannot all be so, or say one thing together, by what the rules say of two signs."""

from collections.abc import Iterator, Mapping, Sequence

from shiftlore.compiling.evidence import Observation
from shiftlore.compiling.expansion import Expansion

OFTEN = 0.5
"""From this strength on of both a cause shows two signs together as a rule."""


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
    yield from ((key, name) for name in telling if is_ruled_out(expansion, key, name))


def is_ruled_out(expansion: Expansion, sign: str, other: str) -> bool:
    """Tell whether a sign rules another out, or is denied by it; not so where one cause shows both as a rule.

    What does not move is not said to roll in Park, but with a broken shaft it does.
    """
    record, name = expansion.finding_records[sign], expansion.finding_records[other].id
    shown, beside = (
        {link.parent for link in expansion.findings[key].links if 1 - link.rows[-1][0] >= OFTEN}
        for key in (sign, other)
    )
    return name in record.never_with or (name in record.denied_by and shown.isdisjoint(beside))


def find_makers(expansion: Expansion, finding: str) -> frozenset[str]:
    """Name what brings a finding about: causes, by themselves or through states, and these states."""
    parents = {link.parent for link in expansion.findings[finding].links}
    states = [expansion.states[name] for name in parents if name in expansion.states]
    return frozenset(parents.union(link.parent for state in states for link in state.links))


def is_moot(expansion: Expansion, given: Mapping[str, str], finding: str) -> bool:
    """Tell whether nobody asks for a finding beside what was answered: a yes could not be, or its no would say nothing."""
    record, nodes = expansion.finding_records[finding], expansion.findings
    if any(given.get(name) == nodes[name].grades[0] for name in record.includes if name in nodes):
        return True
    telling = [name for name, grade in given.items() if name in nodes and grade != nodes[name].grades[0]]
    asked_with = any(record.id in expansion.finding_records[name].not_asked_with for name in telling)
    return asked_with or any(is_ruled_out(expansion, name, finding) for name in telling)


def list_wholes(expansion: Expansion) -> tuple[str, ...]:
    """Name the signs that stand for several parts together."""
    return tuple(key for key, record in expansion.finding_records.items() if len(record.includes) > 1)


def join_parts(expansion: Expansion, wholes: Sequence[str], answers: Sequence[Observation]) -> tuple[Observation, ...]:
    """Let the whole stand for parts that are all told, or are told beside it.

    What moves neither forward nor back does not move at all: two faults, one in each range, are not meant.
    Args:
        wholes: as `list_wholes` names them.
    """
    nodes, given = expansion.findings, {one.finding: one for one in answers}
    told = {key: one for key, one in given.items() if one.grade != nodes[key].grades[0]}
    for key in wholes:
        includes = expansion.finding_records[key].includes
        parts = [told[part] for part in includes if part in told]
        if parts and (key in told or (key not in given and len(parts) == len(includes))):
            whole = Observation(key, nodes[key].grades[-1], min(one.p_right for one in parts), parts[0].given_as)
            given = {name: one for name, one in given.items() if one not in parts} | {key: told.get(key, whole)}
    return tuple(given.values())
