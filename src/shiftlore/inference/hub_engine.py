"""The fast exact engine for networks with one many-state root over independent hidden variables.

It answers in likelihoods: P(answers | root state) and P(next answer | root state, answers); posteriors follow by Bayes'
rule. So a case with several hundred possible faults costs one pass over arrays whose last axis is the fault.
"""

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.inference.hub_clusters import (
    Cluster,
    add_weights,
    find_clusters,
    open_gate,
    split_answers,
    sum_cluster,
)
from shiftlore.inference.hub_tables import HubTables, build_tables, find_root
from shiftlore.network import FloatArray, Network

Evidence = Mapping[str, int | FloatArray]
STANDINGS_KEPT = 64
TINY = 1e-300


@dataclass(frozen=True, eq=False)
class Standing:
    """A set of answers worked out.

    Args:
        log_likelihood: ln P(answers | root state), shape (n_root,); -inf where impossible.
        weights: factor of each hidden variable when present, from sound answers, shape (n_hidden,).
        clusters: telling answers that share hidden variables.
        cluster_sums: per cluster its sum, shape (n_root,).
        p_hidden: P(hidden present | root state, sound answers) of those outside the clusters, shape (n_hidden, n_root).
    """

    log_likelihood: FloatArray
    weights: FloatArray
    clusters: tuple[Cluster, ...]
    cluster_sums: tuple[FloatArray, ...]
    p_hidden: FloatArray


class HubEngine:
    """Exact likelihoods of one set of tables; `prepare_hub` makes it from a network. Methods change nothing.

    Args:
        tables: as `build_tables` gives them, or made without a network.
    """

    def __init__(self, tables: HubTables):
        self.tables = tables
        with np.errstate(divide="ignore"):
            self._log_prior = np.log(tables.prior)
        self._standings: OrderedDict[object, Standing] = OrderedDict()

    def weigh(self, evidence: Evidence) -> FloatArray:
        """Give ln P(answers | root state) for every root state, shape (n_root,).

        Raises: ImpossibleEvidence: no root state allows all of the answers; names a smallest clash.
        """
        return self._stand(evidence).log_likelihood

    def posterior(self, evidence: Evidence) -> tuple[FloatArray, float]:
        """Give P(root state | answers), shape (n_root,), and ln P(answers).

        Raises: ImpossibleEvidence, as `weigh`.
        """
        joint = self._log_prior + self.weigh(evidence)
        highest = float(np.max(joint))
        unscaled = np.exp(joint - highest)
        total = float(unscaled.sum())
        return unscaled / total, highest + float(np.log(total))

    def predict(self, evidence: Evidence, findings: Sequence[str]) -> dict[str, FloatArray]:
        """Give P(finding's state | root state, answers) for open findings: finding -> shape (n_states, n_root).

        Raises: ImpossibleEvidence, as `weigh`.
        """
        standing = self._stand(evidence)
        cumulated = self._cumulate_open(standing, findings)
        return {
            finding: np.clip(np.diff(table, axis=0, prepend=0.0), 0.0, 1.0)
            for finding, table in zip(findings, cumulated, strict=True)
        }

    def predict_jointly(
        self, evidence: Evidence, assignments: Sequence[Mapping[str, int]]
    ) -> FloatArray:
        """Give P(all states of an assignment | root state, answers), shape (n_assignments, n_root)."""
        base = self.weigh(evidence)
        rows = []
        for assignment in assignments:
            log_joint = self._compute({**evidence, **assignment}).log_likelihood
            with np.errstate(invalid="ignore"):
                rows.append(np.where(np.isfinite(base), np.exp(log_joint - base), 0.0))
        return np.array(rows).reshape(len(assignments), self.tables.n_root)

    def _stand(self, evidence: Evidence) -> Standing:
        """Give the standing of a set of answers, from memory if it is known."""
        key = frozenset(
            (name, int(value) if isinstance(value, (int, np.integer)) else np.asarray(value).tobytes())
            for name, value in evidence.items()
        )
        standing = self._standings.pop(key, None)
        if standing is None:
            standing = self._compute(evidence)
            if not np.any(np.isfinite(standing.log_likelihood + self._log_prior)):
                raise ImpossibleEvidence(self._find_clash(evidence))
        self._standings[key] = standing
        while len(self._standings) > STANDINGS_KEPT:
            self._standings.popitem(last=False)
        return standing

    def _find_clash(self, evidence: Evidence) -> tuple[str, ...]:
        """Take answers away as long as the rest stays impossible."""
        clash = dict(evidence)
        for name in evidence:
            fewer = {key: value for key, value in clash.items() if key != name}
            if not np.any(np.isfinite(self._compute(fewer).log_likelihood + self._log_prior)):
                clash = fewer
        return tuple(clash)

    def _compute(self, evidence: Evidence) -> Standing:
        """Work a set of answers out."""
        tables = self.tables
        sound, telling = split_answers(tables, evidence)
        weights = np.ones(len(tables.hidden))
        with np.errstate(divide="ignore"):
            log_likelihood = np.zeros(tables.n_root)
            for finding in sound:
                gate = tables.gates[finding]
                log_likelihood += np.log(gate.cum_root[0])
                add_weights(weights, gate, 0)
            opened = [open_gate(tables.gates[finding], answer) for finding, answer in telling.items()]
            for alone in opened:
                if not alone.hidden:
                    log_likelihood += np.log(alone.closing[0])
            clusters = tuple(find_clusters([shared for shared in opened if shared.hidden]))
            sums = tuple(sum_cluster(cluster, tables, weights)[0] for cluster in clusters)
            for total in sums:
                log_likelihood += np.log(total)
            outside = np.ones(len(tables.hidden), dtype=bool)
            for cluster in clusters:
                outside[list(cluster.hidden)] = False
            kept = 1 - tables.p_hidden * (1 - weights[:, None])
            log_likelihood += np.log(kept[outside]).sum(axis=0)
        p_hidden = tables.p_hidden * weights[:, None] / np.maximum(kept, TINY)
        return Standing(log_likelihood, weights, clusters, sums, p_hidden)

    def _cumulate_open(self, standing: Standing, findings: Sequence[str]) -> list[FloatArray]:
        """Give P(finding <= j | root state, answers) of open findings: shape (n_states, n_root) each."""
        gates = [self.tables.gates[finding] for finding in findings]
        found = [gate.cum_root.copy() for gate in gates]
        cluster_of = {h: k for k, cluster in enumerate(standing.clusters) for h in cluster.hidden}
        wanted: list[dict[tuple[tuple[int, float], ...], list[tuple[int, int]]]] = [{} for _ in standing.clusters]
        for i, gate in enumerate(gates):
            free = [p for p, h in enumerate(gate.hidden) if h not in cluster_of]
            if free:
                p_present = standing.p_hidden[[gate.hidden[p] for p in free]]
                kept = 1 - p_present[:, None, :] * (1 - gate.cum_hidden[free][:, :-1, None])
                found[i][:-1] *= kept.prod(axis=0)
            for j in range(gate.n_states - 1):
                for k, changes in _split_by_cluster(gate.hidden, gate.cum_hidden[:, j], cluster_of).items():
                    wanted[k].setdefault(changes, []).append((i, j))
        for k, variants in enumerate(wanted):
            self._apply_cluster(standing, k, variants, found)
        return found

    def _apply_cluster(
        self,
        standing: Standing,
        k: int,
        variants: Mapping[tuple[tuple[int, float], ...], list[tuple[int, int]]],
        found: list[FloatArray],
    ) -> None:
        """Multiply each open finding by what its hidden parents in one cluster contribute, in place.

        A variant that touches a single hidden variable is linear in that variable's weight, so one pass with the
        variable held absent serves all of them.
        """
        if not variants:
            return
        several = [changes for changes in variants if len(changes) > 1]
        single = list(dict.fromkeys(changes[0][0] for changes in variants if len(changes) == 1))
        weights = standing.weights
        rows = [{h: float(weights[h]) * factor for h, factor in changes} for changes in several]
        rows += [{h: 0.0} for h in single]
        base = np.maximum(standing.cluster_sums[k], TINY)
        ratios = sum_cluster(standing.clusters[k], self.tables, weights, rows)[1:] / base
        absent = {h: ratios[row] for row, h in enumerate(single, len(several))}
        joint = {changes: ratios[row] for row, changes in enumerate(several)}
        for changes, places in variants.items():
            if len(changes) > 1:
                ratio = joint[changes]
            else:
                h, factor = changes[0]
                ratio = absent[h] + factor * np.clip(1 - absent[h], 0.0, 1.0)
            for i, j in places:
                found[i][j] *= ratio


def _split_by_cluster(
    hidden: Sequence[int], factors: FloatArray, cluster_of: Mapping[int, int]
) -> dict[int, tuple[tuple[int, float], ...]]:
    """Sort a gate's factors on hidden variables by the cluster that these belong to."""
    found: dict[int, list[tuple[int, float]]] = {}
    for h, factor in zip(hidden, factors, strict=True):
        if h in cluster_of:
            found.setdefault(cluster_of[h], []).append((h, float(factor)))
    return {k: tuple(changes) for k, changes in found.items()}


def prepare_hub(network: Network) -> HubEngine:
    """Make the engine of a network with one many-state root.

    Raises: ValueError: the network has another shape; use `prepare`.
    """
    root = find_root(network)
    if root is None:
        raise ValueError("prepare_hub: the network does not have a single root over independent hidden variables.")
    return HubEngine(build_tables(network, root))
