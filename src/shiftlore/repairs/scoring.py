"""Rank published repairs, and tell how often what it was comes first, and what spoke against it where it does not."""

import math
from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from shiftlore.basics import ShiftloreError
from shiftlore.compiling import compile_case, compile_unit
from shiftlore.compiling.lessons import P_FLOOR
from shiftlore.knowledge import Knowledge
from shiftlore.ranking import RankedCause, Ranking, rank_causes
from shiftlore.repairs.confirmed import Repair, enter_repair

PLACES = (1, 3, 5)
N_BANDS = 10


@dataclass(frozen=True, slots=True)
class Repaired:
    """How one repair was ranked.

    Args:
        place: of the best of its areas, 1 is first; 0 where the case could not be ranked.
        areas: area -> probability, as shares of all areas.
        refused: why it could not be ranked, or "".
    """

    repair: Repair
    place: int
    areas: Mapping[str, float]
    ranking: Ranking | None = None
    refused: str = ""

    @property
    def p_right(self) -> float:
        """Give the share that its areas have together."""
        return sum(self.areas.get(area, 0.0) for area in self.repair.areas)


@dataclass(frozen=True, slots=True)
class Miss:
    """A repair of which another area came first.

    Args:
        place: of the right area; first: the area that came first; cause: the likeliest of the right area.
        finding, label, decibans: the answer that speaks most against that cause, beside the cause that came first.
    """

    id: str
    area: str
    place: int
    first: str
    cause: str
    first_cause: str
    finding: str
    label: str
    decibans: float


@dataclass(frozen=True, slots=True)
class Group:
    """Repairs of one kind: how many, and the shares whose area came first, among three, among five."""

    count: int
    within: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Band:
    """Areas that were given a probability between `low` and `high`: how many, their mean, and how often they were right."""

    low: float
    high: float
    count: int
    mean: float
    right: float


@dataclass(frozen=True, slots=True)
class Scores:
    """How the rules rank published repairs.

    Args:
        groups: `all`, each kind of record, and each area -> how many came first, among three, among five.
        log_loss: mean of -ln of the share that the right areas have.
        bands: calibration of the areas.
        misses: the farthest from first, first.
        refused: (repair, why).
    """

    groups: Mapping[str, Group]
    log_loss: float
    bands: tuple[Band, ...]
    misses: tuple[Miss, ...]
    refused: tuple[tuple[str, str], ...]


def score_repairs(
    knowledge: Knowledge, repairs: Sequence[Repair], tell_done: Callable[[int], None] = lambda count: None
) -> Scores:
    """Rank every repair by the rules alone: the case entered by hand if there is one, else what is read in its words.

    What published repairs have taught beside the rules is left out, or they would be judged by themselves.
    Args:
        tell_done: called with the number of repairs done, after each.
    """
    results, alone = [], knowledge.with_rules_alone()
    for repair in repairs:
        results.append(rank_repair(alone, repair))
        tell_done(len(results))
    return gather_scores(results)


def rank_repair(knowledge: Knowledge, repair: Repair) -> Repaired:
    """Rank one repair; one that cannot be ranked says why."""
    try:
        case = enter_repair(knowledge, repair)
        ranking = rank_causes(compile_case(compile_unit(knowledge, case.vehicle), case), spread=False)
    except ShiftloreError as error:
        return Repaired(repair, 0, {}, None, str(error))
    return place_repair(repair, {area.area: area.probability for area in ranking.areas}, ranking)


def place_repair(repair: Repair, areas: Mapping[str, float], ranking: Ranking | None = None) -> Repaired:
    """Give the place of a repair's best area among all.

    Args:
        areas: area -> probability, on any scale.
        ranking: where they come from; without it a miss is not explained.
    """
    total = sum(areas.values())
    order = sorted(areas, key=lambda area: -areas[area])
    place = next(i for i, area in enumerate(order, 1) if area in repair.areas)
    return Repaired(repair, place, {area: areas[area] / total for area in order}, ranking)


def gather_scores(results: Sequence[Repaired]) -> Scores:
    """Count places, measure loss and calibration, and name what spoke against each miss."""
    ranked = [result for result in results if result.place]
    members: dict[str, list[Repaired]] = defaultdict(list)
    for result in ranked:
        for group in ("all", result.repair.record, result.repair.areas[0]):
            members[group].append(result)
    missed = sorted((one for one in ranked if one.place > 1), key=lambda one: (-one.place, one.repair.id))
    loss = [-math.log(max(one.p_right, P_FLOOR)) for one in ranked]
    return Scores(
        groups={
            name: Group(len(group), tuple(sum(one.place <= place for one in group) / len(group) for place in PLACES))
            for name, group in members.items()
        },
        log_loss=sum(loss) / max(len(loss), 1),
        bands=_list_bands(ranked),
        misses=tuple(explain_miss(result.repair, result.place, result.ranking) for result in missed if result.ranking),
        refused=tuple((one.repair.id, one.refused) for one in results if not one.place),
    )


def _list_bands(ranked: Sequence[Repaired]) -> tuple[Band, ...]:
    """Sort all (repair, area) by the area's share, in tenths."""
    pairs = [(share, area in one.repair.areas) for one in ranked for area, share in one.areas.items()]
    bands = []
    for low, high in pairwise(i / N_BANDS for i in range(N_BANDS + 1)):
        inside = [pair for pair in pairs if low <= pair[0] < high or pair[0] == high == 1.0]
        if inside:
            mean, right = (sum(column) / len(inside) for column in zip(*inside, strict=True))
            bands.append(Band(low, high, len(inside), mean, right))
    return tuple(bands)


def explain_miss(repair: Repair, place: int, ranking: Ranking) -> Miss:
    """Name the answer for which the likeliest cause of the right area stands worst beside the cause that came first."""
    right = next((cause for cause in ranking.causes if cause.area in repair.areas), None)
    first = next(cause for cause in ranking.causes if cause.area == ranking.areas[0].area)
    against = {} if right is None else _weights(right)
    for key, decibans in _weights(first).items():
        against[key] = against.get(key, 0.0) - decibans
    (finding, label), decibans = min(against.items(), key=lambda item: item[1], default=(("", ""), 0.0))
    return Miss(
        repair.id,
        area=repair.areas[0],
        place=place,
        first=first.area,
        cause=right.id if right else "",
        first_cause=first.id,
        finding=finding,
        label=label,
        decibans=decibans,
    )


def _weights(cause: RankedCause) -> dict[tuple[str, str], float]:
    return {(one.finding, one.label): one.decibans for one in (*cause.speaks_for, *cause.speaks_against)}
