"""The exact engine: likelihoods of answers in a network with one many-state root over independent hidden variables.

It answers in likelihoods: P(answers | root state) and P(next answer | root state, answers); posteriors follow by Bayes'
rule. So a case with several hundred possible faults costs one pass over arrays whose last axis is the fault. Every case
takes bounded time: telling answers that would be too much to sum together are bounded, and the result says so.
"""

from collections import OrderedDict
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property

import numpy as np

from shiftlore.basics import ImpossibleEvidence
from shiftlore.basics.structs import Value
from shiftlore.exact.answers import (
    Doubted,
    Evidence,
    Gate,
    Piece,
    Product,
    join_parts,
    lay_out_piece,
    multiply_products,
    present_apart,
    split_answer,
    weigh_parts,
)
from shiftlore.exact.chains import Cluster, plan_within
from shiftlore.exact.sums import Change, ClusterSum
from shiftlore.exact.tables import (
    TINY,
    FloatArray,
    HubTables,
    Stack,
    as_rows,
    cut_columns,
    multiply_lessened,
    normalise,
    stack_gates,
)

STANDINGS_KEPT = 64
PIECES_KEPT = 8192
"""Split answers that are kept; doubted ones may be as many as there are distances."""
EASY_CELLS = 1 << 21
"""Work of all clusters times root states up to which everything is summed exactly: some hundredths of a second."""
MOST_CELLS = 1 << 21
"""The same for the root states that matter, once the others have been bounded: some hundredths of a second."""
COARSE_WORK = 1 << 8
"""Work of all clusters in the first, coarse pass over a hard case."""
MOST_CHANGED = 1 << 23
"""Cells up to which changes of several weights at once are worked out exactly."""
MOST_MATTERING = 64
SMALLEST_MATTERING = 1e-7
"""Root states of a hard case that surely hold less than this are left with their bounds."""
HEAP_KEPT = (1 << 25) - (1 << 16)
"""Bytes of one array that is made and dropped unused at the start. The allocator of glibc keeps for itself twice the largest
block that was ever given back (up to 32 MiB); else each turn hands its arrays back to the system and faults them in anew."""

np.empty(HEAP_KEPT, dtype=np.uint8)


class Standing(Value, frozen=True, eq=False, dict=True):
    """A set of answers worked out.

    Args:
        log_likelihood: ln P(answers | root state), shape (n_root,); -inf where impossible.
        log_low, log_high: bounds of the same; equal to it where it is exact.
        weights: factor of each hidden variable when present, shape (n_hidden,) or (n_hidden, n_root).
        sums: telling answers that share hidden variables.
        gates: the telling answers.
        replaced: gates that were bounded instead of summed.
        log_shown: ln P(each replaced gate shows | root state, ...) as it was taken, shape (n_replaced, n_root).
        fine: root states that were worked out more finely, with the engine that did so.
    """

    log_likelihood: FloatArray
    log_low: FloatArray
    log_high: FloatArray
    weights: FloatArray
    sums: tuple[ClusterSum, ...]
    gates: tuple[Gate, ...]
    replaced: tuple[Gate, ...] = ()
    log_shown: FloatArray | None = None
    fine: "tuple[np.ndarray, HubEngine] | None" = None

    @property
    def exact(self) -> bool:
        """Tell whether nothing was replaced by bounds."""
        return not self.replaced

    @cached_property
    def cluster_of(self) -> dict[int, int]:
        """Map each hidden variable of a cluster to the cluster."""
        return {h: k for k, part in enumerate(self.sums) for h in part.cluster.hidden}


class HubEngine:
    """Likelihoods of one set of tables. Methods change nothing.

    Args:
        easy_cells: work times root states up to which everything is summed exactly.
        most_cells: the same for the states that matter in a hard case; 0 leaves all of them with their bounds, as they
            always stay where several draws stand side by side.
        joined: where the last root states are sets of the others: the engine of these, and the states of each set.
    """

    def __init__(
        self,
        tables: HubTables,
        easy_cells: int = EASY_CELLS,
        most_cells: int = MOST_CELLS,
        joined: "tuple[HubEngine, np.ndarray] | None" = None,
    ):
        self.tables, self._joined = tables, joined
        self.easy_cells, self.most_cells = easy_cells, most_cells if tables.n_draws == 1 else 0
        with np.errstate(divide="ignore"):
            self._log_prior = np.log(tables.prior)
        self._standings: OrderedDict[object, Standing] = OrderedDict()
        self._split: dict[tuple[str, int | Doubted], tuple[Product, Gate | None]] = {}
        self._pieces: dict[tuple[str, int | Doubted], Piece] = {}
        self._apart: dict[tuple[str, int | Doubted], FloatArray] = {}

    def weigh(self, evidence: Evidence) -> FloatArray:
        """Give ln P(answers | root state) for every root state, shape (n_root,).

        Raises: ImpossibleEvidence: no root state allows all of the answers; names a smallest clash.
        """
        return self.stand(evidence).log_likelihood

    def posterior(self, evidence: Evidence) -> tuple[FloatArray, float]:
        """Give P(root state | answers), shape (n_root,), and ln P(answers).

        Raises: ImpossibleEvidence, as `weigh`.
        """
        return normalise(self._log_prior + self.weigh(evidence))

    def bound_posterior(self, evidence: Evidence) -> tuple[FloatArray, FloatArray]:
        """Give bounds that surely hold P(root state | answers), shape (n_root,) each; equal where it is exact.

        Raises: ImpossibleEvidence, as `weigh`.
        """
        standing = self.stand(evidence)
        if standing.exact:
            p = self.posterior(evidence)[0]
            return p, p
        low, high = self._log_prior + standing.log_low, self._log_prior + standing.log_high
        top = np.max(high)
        low, high = np.exp(low - top), np.exp(high - top)
        return low / np.maximum(low + high.sum() - high, TINY), high / np.maximum(high + low.sum() - low, TINY)

    def weigh_apart(self, evidence: Evidence) -> FloatArray:
        """Give P(answer | root state) of each answer by itself, in their order, shape (n_answers, n_root)."""
        new = [item for item in evidence.items() if item not in self._apart]
        self._apart.update(zip(new, weigh_parts(self._split_all(dict(new)), self.tables), strict=True))
        return np.array([self._apart[item] for item in evidence.items()]).reshape(-1, self.tables.n_root)

    def predict(self, evidence: Evidence, findings: Sequence[str]) -> dict[str, FloatArray]:
        """Give P(finding's state | root state, answers) for open findings: finding -> shape (n_states, n_root).

        Raises: ImpossibleEvidence, as `weigh`.
        """
        gates, stack = self.tables.gates, self.tables.stack
        if len(findings) < len(gates) // 2:
            stack = stack_gates({finding: gates[finding] for finding in findings})
        standing = self.stand(evidence)
        cumulated = self._cumulate(standing, stack, findings)
        tables = np.empty((len(findings), 2, self.tables.n_root))
        tables[:, 0] = cumulated[[stack.rows[finding].start for finding in findings]]
        np.maximum(np.subtract(1, tables[:, 0], out=tables[:, 1]), 0.0, out=tables[:, 1])
        found = dict(zip(findings, tables, strict=True))
        for finding in findings:
            rows = stack.rows[finding]
            if rows.stop > rows.start + 1:
                table = np.concatenate([cumulated[rows], np.ones((1, self.tables.n_root))])
                table[1:] -= table[:-1].copy()
                found[finding] = np.maximum(table, 0.0, out=table)
        if standing.fine:
            columns, engine = standing.fine
            for finding, table in engine.predict(evidence, findings).items():
                found[finding][:, columns] = table
        return found

    def retract(self, evidence: Evidence, groups: Sequence[Sequence[str]]) -> FloatArray:
        """Give ln P(answers without a group | root state) for each group of answered findings, shape (n_groups, n_root).

        Raises: ImpossibleEvidence, as `weigh`.
        """
        standing = self.stand(evidence)
        products = {product.finding: product for product in self.split(evidence)[0]}
        place = {gate.finding: i for i, gate in enumerate(standing.gates)}
        replaced = {gate.finding: i for i, gate in enumerate(standing.replaced)}
        result = np.repeat(standing.log_likelihood[None], len(groups), axis=0)
        changes: list[tuple[dict[int, float], list[int]]] = []
        for row, group in enumerate(groups):
            factors: dict[int, float] = {}
            released = [place[finding] for finding in group if finding in place and finding not in replaced]
            own = [products[finding] for finding in group]
            if any((product.factors <= 0).any() or not np.isfinite(product.log_root).all() for product in own):
                kept = {key: value for key, value in evidence.items() if key not in group}
                result[row] = self._compute(kept).log_likelihood
                changes.append(({}, []))
                continue
            for product in own:
                result[row] -= product.log_root
                for h, factor in zip(product.hidden, product.factors.tolist(), strict=True):
                    if factor != 1.0:
                        factors[h] = factors.get(h, 1.0) / factor
            with np.errstate(divide="ignore", invalid="ignore"):
                for g in released:
                    if not standing.gates[g].hidden:
                        result[row] -= np.log(1 - standing.gates[g].root_misses)
            for finding in replaced.keys() & set(group):
                result[row] -= standing.log_shown[replaced[finding]]  # type: ignore[index]
            changes.append((factors, released))
        with np.errstate(divide="ignore"):
            result += np.log(np.maximum(self._change(standing, changes), TINY))
        dead = np.flatnonzero(~np.isfinite(standing.log_likelihood))
        if len(dead):
            self._revive(products.values(), evidence, groups, dead, result)
        if standing.fine:
            columns, engine = standing.fine
            result[:, columns] = engine.retract(evidence, groups)
        return result

    def _revive(
        self,
        products: Iterable[Product],
        evidence: Evidence,
        groups: Sequence[Sequence[str]],
        dead: np.ndarray,
        result: FloatArray,
    ) -> None:
        """Work root states that the answers rule out anew where a group may allow them: there is nothing to divide."""
        ruled_out = {product.finding: ~np.isfinite(product.log_root[dead]) for product in products}
        reasons = sum(ruled_out.values(), np.zeros(len(dead), dtype=np.intp))
        for row, group in enumerate(groups):
            left = reasons - sum((ruled_out[finding] for finding in group), np.zeros(len(dead), dtype=np.intp))
            result[row, dead] = -np.inf
            columns = dead[left == 0]
            if len(columns):
                engine = HubEngine(cut_columns(self.tables, columns), self.easy_cells, self.most_cells)
                kept = {key: value for key, value in evidence.items() if key not in group}
                result[row, columns] = engine._compute(kept).log_likelihood

    def stand(self, evidence: Evidence) -> Standing:
        """Give the standing of a set of answers, from memory if it is known.

        Raises: ImpossibleEvidence: no root state allows all of the answers; names a smallest clash.
        """
        key = frozenset(evidence.items())
        standing = self._standings.pop(key, None)
        if standing is None:
            standing = self._compute(evidence)
            if not np.any(np.isfinite(standing.log_likelihood + self._log_prior)):
                raise ImpossibleEvidence(self._find_clash(evidence))
        self._standings[key] = standing
        while len(self._standings) > STANDINGS_KEPT:
            self._standings.popitem(last=False)
        return standing

    def p_present(self, standing: Standing) -> FloatArray:
        """Give P(hidden present | root state, answers), shape (n_hidden, n_root)."""
        present = present_apart(self.tables.p_hidden, standing.weights)
        for part in standing.sums:
            hidden = part.cluster.hidden
            present[list(hidden)] = 1 - np.minimum(part.ask([Change(((h, 0.0),)) for h in hidden]), 1.0)
        return present

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
        products, gates = self.split(evidence)
        return self._work_out(gates, *multiply_products(products, self.tables), evidence)

    def split(self, evidence: Evidence) -> tuple[list[Product], list[Gate]]:
        """Split all answers into their products and their gates."""
        parts = self._split_all(evidence)
        return [product for product, _ in parts], [gate for _, gate in parts if gate is not None]

    def _split_all(self, evidence: Evidence) -> list[tuple[Product, Gate | None]]:
        """Split every answer, from memory where it is known: an interview gives the same ones again and again."""
        new = [item for item in evidence.items() if item not in self._split]
        if self._joined and new:
            single, columns = self._joined
            sure = [item for item in new if not isinstance(item[1], Doubted)]
            self._split.update(zip(sure, join_parts([single._split_one(item) for item in sure], columns), strict=False))
        return [self._split_one(item) for item in evidence.items()]

    def _split_one(self, item: tuple[str, int | Doubted]) -> tuple[Product, Gate | None]:
        if item not in self._split:
            self._split[item] = split_answer(self.tables.gates[item[0]], item[1])
        return self._split[item]

    def lay_out(self, evidence: Evidence) -> list[Piece]:
        """Give every answer as arrays, from memory where it is known."""
        return [self._pieces.get(item) or self._lay_out_one(item) for item in evidence.items()]

    def _lay_out_one(self, item: tuple[str, int | Doubted]) -> Piece:
        if len(self._pieces) >= PIECES_KEPT:
            self._pieces.clear()
            self._split.clear()
            self._apart.clear()
        piece = self._pieces[item] = lay_out_piece(self.tables.gates[item[0]], item[1], *self._split_one(item))
        return piece

    def with_prior(self, prior: FloatArray, names: tuple[str, ...]) -> "HubEngine":
        """Give the engine of the same tables with another prior of its root states; what was split stays so."""
        tables = self.tables.vary(prior=prior, root_states=names, late_stack=lambda: self.tables.stack)
        engine = HubEngine(tables, self.easy_cells, self.most_cells)
        engine._split, engine._apart = self._split, self._apart
        return engine

    def _work_out(
        self,
        gates: Sequence[Gate],
        log_root: FloatArray,
        weights: FloatArray,
        evidence: Evidence,
    ) -> Standing:
        """Sum exactly where that is easy, else coarsely first and then finely where it matters."""
        with np.errstate(divide="ignore"):
            for gate in gates:
                if not gate.hidden:
                    log_root = log_root + np.log(1 - gate.root_misses)
        parents = [gate.hidden for gate in gates]
        clusters, left_out = plan_within(parents, self.easy_cells // max(self.tables.n_root, 1))
        if left_out and self.most_cells:
            clusters, left_out = plan_within(parents, COARSE_WORK)
        sums = self._sum(clusters, gates, weights)
        log_likelihood = log_root + self._log_sums(sums, weights)
        standing = Standing(
            log_likelihood,
            log_low=log_likelihood,
            log_high=log_likelihood,
            weights=weights,
            sums=sums,
            gates=tuple(gates),
            replaced=tuple(gates[g] for g in left_out),
        )
        if left_out:
            standing = self._bound(standing, log_root, clusters)
            standing = self._refine(standing, evidence) if self.most_cells else standing
        return standing

    def _refine(self, coarse: Standing, evidence: Evidence) -> Standing:
        """Work out more finely the root states that may matter."""
        high, low = self._log_prior + coarse.log_high, self._log_prior + coarse.log_low
        likely = self._log_prior + coarse.log_likelihood
        mattering = high > np.max(low) + np.log(SMALLEST_MATTERING)
        order = np.argsort(-np.where(mattering, likely, -np.inf), kind="stable")
        columns = np.sort(order[: min(MOST_MATTERING, int(mattering.sum()))])
        if not len(columns):
            return coarse
        engine = HubEngine(cut_columns(self.tables, columns), self.most_cells, 0)
        fine = engine._compute(evidence)
        engine._standings[frozenset(evidence.items())] = fine
        log_low, log_high, log_likelihood = coarse.log_low.copy(), coarse.log_high.copy(), coarse.log_likelihood.copy()
        log_low[columns] = np.maximum(log_low[columns], fine.log_low)
        log_high[columns] = np.minimum(log_high[columns], fine.log_high)
        log_likelihood[columns] = fine.log_likelihood
        return coarse.vary(
            log_low=log_low,
            log_high=log_high,
            fine=(columns, engine),
            log_likelihood=np.clip(log_likelihood, log_low, log_high),
        )

    def _sum(self, clusters: Sequence[Cluster], gates: Sequence[Gate], weights: FloatArray) -> tuple[ClusterSum, ...]:
        """Lay clusters out, to be summed when they are asked."""
        return tuple(
            ClusterSum(cluster, gates, self.tables.p_hidden, weights, self.tables.n_draws) for cluster in clusters
        )

    def _log_sums(self, sums: Sequence[ClusterSum], weights: FloatArray) -> FloatArray:
        """Give ln of the sum over all hidden variables, shape (n_root,)."""
        outside = (as_rows(weights) != 1.0).any(axis=1)
        total = np.zeros(self.tables.n_root)
        with np.errstate(divide="ignore"):
            for part in sums:
                total += np.log(part.total)
                outside[list(part.cluster.hidden)] = False
            total += np.log((1 - self.tables.p_hidden[outside] * (1 - as_rows(weights[outside]))).prod(axis=0))
        return total

    def _bound(self, core: Standing, log_root: FloatArray, clusters: Sequence[Cluster]) -> Standing:
        """Put bounds in the place of the gates that were left out."""
        from shiftlore.exact.bounds import bound_above, bound_below, show_apart  # few cases are hard

        gates, p_present = core.replaced, self.p_present(core)
        apart = present_apart(self.tables.p_hidden, core.weights)
        log_shown = show_apart(gates, p_present)
        low = core.log_likelihood + show_apart(gates, apart).sum(axis=0)
        likely = core.log_likelihood + log_shown.sum(axis=0)
        lessened = bound_below(gates, p_present)
        raised = bound_above(gates, p_present)
        with np.errstate(over="ignore", invalid="ignore"):
            weights_low = as_rows(core.weights) * np.exp(np.minimum(lessened.log_weights, 300.0))
            weights_high = as_rows(core.weights) * np.exp(raised.log_weights)
            sums = self._sum(clusters, core.gates, weights_low)
            chord = log_root + lessened.log_root + self._log_sums(sums, weights_low)
            tangent = (
                log_root + raised.log_root + self._log_sums(self._sum(clusters, core.gates, weights_high), weights_high)
            )
        low = np.fmax(low, np.where(chord < np.inf, chord, -np.inf))
        high = np.fmin(core.log_likelihood, np.where(np.isnan(tangent), np.inf, tangent))
        high = np.maximum(high, low)
        return core.vary(
            log_likelihood=np.clip(likely, low, high),
            log_low=low,
            log_high=high,
            weights=weights_low,
            sums=sums,
            log_shown=log_shown,
        )

    def _cumulate(self, standing: Standing, stack: Stack, findings: Sequence[str]) -> FloatArray:
        """Give P(finding <= j | root state, answers) of open findings, shape (n_rows of the stack, n_root)."""
        clustered = np.full(len(self.tables.hidden), -1)
        clustered[list(standing.cluster_of)] = list(standing.cluster_of.values())
        wanted = np.zeros(len(stack.cum_root), dtype=bool)
        for finding in findings:
            wanted[stack.rows[finding]] = True
        free = (clustered[stack.hidden] < 0) & wanted[stack.row]
        present = present_apart(self.tables.p_hidden, standing.weights)
        result = multiply_lessened(stack.cum_root, present, stack.row[free], stack.hidden[free], stack.factor[free])
        joined = (clustered[stack.hidden] >= 0) & wanted[stack.row]
        if joined.any():
            rows, own = np.unique(stack.row[joined], return_inverse=True)
            result[rows] *= self._change_clusters(
                standing, len(rows), own, stack.hidden[joined], factor=stack.factor[joined]
            )
        return result

    def _change(self, standing: Standing, changes: Sequence[tuple[Mapping[int, float], Sequence[int]]]) -> FloatArray:
        """Give P(answers | root state) under changes over P(answers | root state), without the root's own part.

        Args:
            changes: per change the factors on hidden variables' weights, and the gates that are released.
        Returns: shape (n_changes, n_root).
        """
        cluster_of = standing.cluster_of
        flat = [(row, h, factor) for row, (factors, _) in enumerate(changes) for h, factor in factors.items()]
        inside = [one for one in flat if one[1] in cluster_of]
        own, hidden, factor = (np.array(column) for column in zip(*inside, strict=True)) if inside else ([], [], [])
        result = self._change_clusters(
            standing,
            len(changes),
            np.array(own, dtype=np.intp),
            np.array(hidden, dtype=np.intp),
            factor=np.array(factor, dtype=float),
            released=[(row, g) for row, (_, free) in enumerate(changes) for g in free if standing.gates[g].hidden],
        )
        present = present_apart(self.tables.p_hidden, standing.weights)
        for row, h, by in flat:
            if h not in cluster_of:
                result[row] *= 1 - present[h] * (1 - by)
        return result

    def _change_clusters(
        self,
        standing: Standing,
        n_changes: int,
        own: np.ndarray,
        hidden: np.ndarray,
        *,
        factor: FloatArray,
        released: Sequence[tuple[int, int]] = (),
    ) -> FloatArray:
        """Give what changes make of the clusters, shape (n_changes, n_root).

        A change of a single weight is linear in it, so one pass with the variable held absent serves all of them. Where
        changes of several would be too much work, each weight is changed by itself: as though they were independent.
        Args:
            own, hidden, factor: of each weight that is changed its change, ascending; its variable; and by what; shape (n,).
            released: change and gate that it releases.
        """
        result = np.ones((n_changes, self.tables.n_root))
        n_several = int(np.count_nonzero(np.bincount(own, minlength=n_changes) > 1))
        apart = n_several * sum(part.cluster.work for part in standing.sums) * self.tables.n_root > MOST_CHANGED
        cluster_of = np.full(len(self.tables.hidden), -1)
        cluster_of[list(standing.cluster_of)] = list(standing.cluster_of.values())
        cluster = cluster_of[hidden]
        for k, part in enumerate(standing.sums):
            mine, gates = cluster == k, set(part.cluster.gates)
            free = [(row, g) for row, g in released if g in gates]
            part.change(result, own[mine], hidden[mine], factor=factor[mine], released=free, apart=apart)
        return result
