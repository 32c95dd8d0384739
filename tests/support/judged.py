"""Vehicles that people judged from a few words, without knowing the rules: how likely each area is, by several readers."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from shiftlore.basics import KnowledgeError, Mark, Problem
from shiftlore.cases import HIGHEST_ODOMETER_KM, Answer, Case
from shiftlore.reading import REQUIRED, Fields, Node, answer_of, number_of
from shiftlore.repairs.confirmed import LETTER, read_lists, unit_of


@dataclass(frozen=True, slots=True)
class Judged:
    """One vehicle and what its readers made of it.

    Args:
        case: its answers, where it was judged by answers; else its words alone.
        readers: of each reader area -> share; what is left of one falls to all other areas.
    """

    id: str
    case: Case
    readers: tuple[Mapping[str, float], ...]
    mark: Mark = field(default=Mark(), compare=False)


def read_judged(folder: Path, areas: Collection[str], kinds: Collection[str]) -> tuple[Judged, ...]:
    """Read every list of judged vehicles in a folder; none where there is no such folder.

    Args:
        areas: ids of areas that a reader may name; kinds: ids of units that a case may name.
    Raises: KnowledgeError: carries every problem, each with its place and what to write instead.
    """
    listed, problems = read_lists(folder, "vehicle", lambda fields: _read_one(fields, areas, kinds))
    found: dict[str, Judged] = {}
    for judged in listed:
        if judged.id in found:
            what, advice = f"{judged.id} stands twice", "Give one of the two another id."
            problems.append(Problem(judged.mark, f"{LETTER}018", what, advice))
        found[judged.id] = judged
    if problems:
        raise KnowledgeError(problems)
    return tuple(found.values())


def _read_one(fields: Fields, areas: Collection[str], kinds: Collection[str]) -> Judged:
    layout = fields.text("layout", "")
    answers = {name: answer_of(node, fields.problems) or "" for name, _, node in fields.pairs("findings")}
    lived = {name: answer_of(node, fields.problems) or "" for name, _, node in fields.pairs("background")}
    case = Case(
        unit_of(kinds, fields.text("kind"), layout),
        odometer_km=fields.number("km", 0, HIGHEST_ODOMETER_KM, None),
        background=lived,
        findings={name: Answer(name, grade) for name, grade in answers.items()},
        said=tuple(text for text, _ in fields.marked_list("said")),
    )
    readers = tuple(_read_shares(node, fields, areas) for node in fields.nodes("readers", REQUIRED))
    judged = Judged(fields.text("id"), case, readers, fields.mark)
    for name in ("source", "speeds"):
        fields.has(name)
    fields.finish()
    return judged


def _read_shares(node: Node, fields: Fields, areas: Collection[str]) -> dict[str, float]:
    """Read percents as shares; more than a hundred in all is a problem."""
    told = Fields(node, fields.problems, "reader").own_pairs()
    for name, mark, _ in told:
        if name not in areas:
            fields.add(mark, "014", f'Unknown area "{name}"', "Write one of: " + ", ".join(areas) + ".")
    shares = {name: (number_of(value, fields.problems, 0, 100) or 0.0) / 100 for name, _, value in told}
    if sum(shares.values()) > 1.01:
        fields.add(node.mark, "019", f"These percents add up to {100 * sum(shares.values()):.0f}", "Write 100 at most.")
    return shares
