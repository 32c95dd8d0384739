"""What is said of one case of a fleet: posteriors alone, without spread and reasons, equal to those of a ranking.

Ordinary cases are worked out by `fleet.column_sums` and `fleet.set_search`; those with signs of their own, with jobs done, or
whose answers hang together too much are left to the engine that ranks single cases.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.cases import Case
from shiftlore.compiling import Chances, CompiledUnit, compile_case
from shiftlore.compiling.faults import close_sets
from shiftlore.exact import FloatArray, pad_sets
from shiftlore.exact.tables import multiply_groups
from shiftlore.fleet.column_sums import SHARP, CaseSums, TooHard
from shiftlore.fleet.grounds import Grounds, Piece, Setting
from shiftlore.fleet.groups import join
from shiftlore.fleet.pair_bounds import Bounds
from shiftlore.fleet.set_search import Search
from shiftlore.ranking import measure_fit, rank_areas

P_FLOOR = 1e-15
"""As of `ranking`."""
BOUNDS_KEPT = 256
"""Sets of answers whose bounds are kept: rows often say the same, and only the distance differs."""
MATTERING = 1e-7
"""Causes that hold less than this need not be sharp."""
TINY = 1e-300


@dataclass(frozen=True, slots=True)
class Verdict:
    """The posteriors of one case.

    Args:
        areas: P(at least one cause of the area is at work), in the rules' order.
        causes: P(cause present now), in the rules' order; area_of: of each cause its area.
        nothing_found: P(no cause in the knowledge is present).
        log10_odds: how well the answers fit together; left_out: as of a ranking.
        closed: the job that cured it, or "".
    """

    areas: Mapping[str, float]
    causes: Mapping[str, float]
    area_of: Mapping[str, str]
    nothing_found: float
    log10_odds: float
    left_out: float
    closed: str = ""


class Judge:
    """Judges the cases of one unit."""

    def __init__(self, unit: CompiledUnit):
        self.unit, self.grounds = unit, Grounds(unit)
        self._bounds: dict[object, Bounds] = {}
        self.causes = tuple(unit.expansion.causes)
        self.area_of = {key: cause.area for key, cause in unit.expansion.causes.items()}
        self.areas = tuple(unit.knowledge.areas)
        place = {area: i for i, area in enumerate(self.areas)}
        self.area_places = np.array([place[self.area_of[key]] for key in self.causes], dtype=np.intp)

    def judge(self, case: Case) -> Verdict:
        """Give the posteriors of a case.

        Raises: ImpossibleEvidence: the answers cannot all be true; names the clash.
        """
        jobs = self.unit.expansion.job_templates
        has_jobs = any(item.id in jobs or item.id in jobs.values() for item in case.done)
        if case.either or has_jobs or any(answer.when for answer in case.findings.values()):
            return self.judge_alone(case)
        try:
            return self._judge_fast(case)
        except TooHard:
            return self.judge_alone(case)

    def _judge_fast(self, case: Case) -> Verdict:
        setting = self.grounds.set_out(case)
        if not setting.evidence:
            raise TooHard
        bounds = self._bound(setting)
        sums, scale, left = bounds.sums, bounds.scale, bounds.sums.single[1]
        likelihood = bounds.alone[sums.kind]
        chances = self.grounds.lean(setting, likelihood[1:])
        search = Search(bounds, chances)
        pairs, rest = search.open_pairs()
        thirds, rest_thirds = search.open_thirds()
        rest += rest_thirds
        left_out = min(1.0, rest / (max(search.known, TINY) + rest))
        sets = close_sets([*pairs, *thirds])
        columns = pad_sets([tuple(i + 1 for i in member) for member in sets])
        prior = _weigh_prior(chances, search, sets, columns)
        of_sets = np.exp(sums.weigh(columns) - scale) if sets else np.zeros(0)
        joint = prior * np.concatenate([likelihood, of_sets])
        total = float(joint.sum())
        p = joint / total
        if np.any(left[sums.kind][p[: len(sums.kind)] > MATTERING] < SHARP):
            raise TooHard
        apart = _weigh_apart(setting, sums, columns, prior)
        log10_odds = (math.log(total) + scale - apart) / math.log(10)
        return self._verdict(p, columns, log10_odds, left_out)

    def _bound(self, setting: Setting) -> Bounds:
        """Bound what pairs make of the answers, from memory where the same were given with the same life last."""
        key = (id(setting.ground), *setting.evidence.items())
        bounds = self._bounds.pop(key, None) or Bounds(CaseSums(setting.ground, setting.pieces))
        self._bounds[key] = bounds
        if len(self._bounds) > BOUNDS_KEPT:
            self._bounds.pop(next(iter(self._bounds)))
        return bounds

    def _verdict(self, p: FloatArray, columns: np.ndarray, log10_odds: float, left_out: float) -> Verdict:
        """Add root states up to causes and areas."""
        n = len(self.causes)
        singles, of_sets = p[1 : n + 1], p[n + 1 :]
        causes, areas = singles.copy(), np.bincount(self.area_places, singles, len(self.areas))
        if len(of_sets):
            before: list[np.ndarray] = []
            for row in columns:
                there = row > 0
                np.add.at(causes, row[there] - 1, of_sets[there])
                own = np.where(there, self.area_places[row - 1], -1)
                new = there & ~np.logical_or.reduce([own == other for other in before]) if before else there
                areas += np.bincount(own[new], of_sets[new], len(self.areas))
                before.append(own)
        return Verdict(
            areas=dict(zip(self.areas, areas.tolist(), strict=True)),
            causes=dict(zip(self.causes, np.minimum(causes, 1.0).tolist(), strict=True)),
            area_of=self.area_of,
            nothing_found=float(p[0]),
            log10_odds=log10_odds,
            left_out=left_out,
        )

    def judge_alone(self, case: Case) -> Verdict:
        """Give the posteriors of a case the way a ranking does."""
        compiled = compile_case(self.unit, case)
        fit = measure_fit(compiled)
        ranked = {one.area: one.probability for one in rank_areas(compiled)}
        return Verdict(
            areas={key: ranked[key] for key in self.areas},
            causes=dict(zip(compiled.causes, compiled.causes_now.tolist(), strict=True)),
            area_of=self.area_of,
            nothing_found=float(compiled.faults_now[0]),
            log10_odds=fit.log10_odds,
            left_out=fit.left_out,
            closed=compiled.closed[0] if compiled.closed else "",
        )


def _weigh_prior(chances: Chances, search: Search, sets: list[tuple[int, ...]], columns: np.ndarray) -> FloatArray:
    """Give the prior of all root states, as `compiling.faults.make_faults`, shape (n_states,)."""
    singles = chances.p_one * chances.weights + search.absorb(sets)
    n_pairs = sum(len(member) == 2 for member in sets)
    of_pairs = search.pairs.of(*columns[:2, :n_pairs] - 1) if n_pairs else np.zeros(0)
    of_threes = [chances.chance_of(member) for member in sets[n_pairs:]]
    prior = np.concatenate([[chances.p_none], singles, of_pairs, of_threes])
    whole: FloatArray = prior / prior.sum()
    return whole


def _weigh_apart(setting: Setting, sums: CaseSums, columns: np.ndarray, prior: FloatArray) -> float:
    """Give ln of the product of the chances of the answers, each by itself."""
    n = len(sums.kind)
    p = np.array([piece.apart for piece in setting.pieces]) @ prior[:n]
    if columns.shape[1]:
        p = p + _show_apart(setting.ground.p_hidden, setting.pieces, columns) @ prior[n:]
    return float(np.log(np.maximum(p, P_FLOOR)).sum())


def _show_apart(p_hidden: FloatArray, pieces: Sequence[Piece], columns: np.ndarray) -> FloatArray:
    """Give P(each answer by itself | set), as `exact.HubEngine.weigh_apart`, shape (n_answers, n_sets)."""
    owner = np.repeat(np.arange(len(pieces)), [len(piece.hidden) for piece in pieces])
    rows = np.concatenate([piece.hidden for piece in pieces])
    absent = join(1 - p_hidden, columns, 0)[rows]
    factors = np.concatenate([piece.factors for piece in pieces])[:, None]
    shown = multiply_groups(factors + (1 - factors) * absent, owner, len(pieces))
    gates = [i for i, piece in enumerate(pieces) if piece.root_misses is not None]
    if gates:
        telling = [piece for piece in pieces if piece.root_misses is not None]
        own = np.isin(owner, gates)
        missed = np.concatenate([piece.missed for piece in telling])[:, None]
        owner = np.repeat(np.arange(len(telling)), [len(piece.hidden) for piece in telling])
        silent = multiply_groups(missed + (1 - missed) * absent[own], owner, len(telling))
        shown[gates] -= join(np.array([piece.root_misses for piece in telling]), columns, 0) * silent
    log_roots = np.array([piece.logs[0] for piece in pieces])
    log_root = log_roots[:, columns].sum(axis=1) - (len(columns) - 1) * log_roots[:, :1]
    for row, piece in zip(log_root, pieces, strict=True):
        if piece.doubted:
            top, seen = piece.doubted
            row[:] = np.log(1 - seen * (1 - join(top[None], columns, 0)[0]))
    return np.exp(log_root) * np.maximum(shown, 0.0)
