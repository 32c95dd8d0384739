"""What an answer says, in two parts: a product over its parents, and at most one gate that has to be summed over.

"Exactly grade j" is "nothing went above j", which is a product, and "something reached j", which is a noisy-OR gate:
P(X = j) = A_j prod c_j (1 - A_{j-1}/A_j prod c_{j-1}/c_j), with A the cumulated contribution of the root and c those of
the hidden variables. So a sound answer (j = 0) is a product alone, and every telling one a yes/no gate.

Doubt keeps this form. Whoever is not sure has overlooked some of what there was: each contribution above the grade
counts by the part that would have been seen; what is surely above the grade reaches it. And what was not there may have
been imagined: that raises the gate's leak. So a doubted no costs what a no costs, and a doubted yes what a yes costs.
Source: noisy-MAX, Diez 1993; the split is "P(X = j) = P(X <= j) - P(X <= j - 1)" written without a difference of sums.
"""

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from shiftlore.basics.structs import Value
from shiftlore.exact.tables import TINY, FloatArray, GateTable, HubTables, as_rows, join_states, multiply_groups


class Doubted(Value, frozen=True):
    """An answer that is not sure.

    Args:
        grade: the grade that is named.
        imagined: likelihood of these words where nothing reached the grade, against where something did; 0 to 1.
        overlooked: part of what goes above the grade that passes unnoticed; 0 to 1.
    """

    grade: int
    imagined: float = 0.0
    overlooked: float = 0.0


Evidence = Mapping[str, int | Doubted]


class Gate(Value, frozen=True, eq=False):
    """A telling answer: something reached its grade.

    Args:
        hidden: positions of the hidden parents.
        misses: per parent P(it does not reach the grade | present, not above the grade), shape (n_parents,), or
            (n_parents, n_root) in tables of several draws.
        root_misses: the same of root and leak, shape (n_root,).
    """

    finding: str
    hidden: tuple[int, ...]
    misses: FloatArray
    root_misses: FloatArray


class Product(Value, frozen=True, eq=False):
    """The part of an answer that is a product.

    Args:
        log_root: shape (n_root,); -inf where impossible.
        hidden: positions of the hidden parents.
        factors: factor of each parent when present, shape as a gate's misses.
    """

    finding: str
    log_root: FloatArray
    hidden: tuple[int, ...]
    factors: FloatArray


class Piece(Value, frozen=True, eq=False):
    """One answer, split, as arrays for the columns of one draw.

    Args:
        logs: ln of the root's part of its product, -inf where impossible; and of what an added state costs in it at most
            and at least, beside whatever base (`exact.joining`); shape (3, n_root).
        hidden, factors: hidden variables on which its product bears, and the factor of each when present, shape (n,).
        gate: its gate, if it has one.
        doubted: P(no more than the grade) by the root, shape (n_root,), and the part that is seen; None where it is sure.
    """

    logs: FloatArray
    hidden: np.ndarray
    factors: FloatArray
    gate: Gate | None
    doubted: tuple[FloatArray, float] | None


def _as_doubted(answer: int | Doubted) -> Doubted:
    return answer if isinstance(answer, Doubted) else Doubted(int(answer))


def split_answer(table: GateTable, answer: int | Doubted) -> tuple[Product, Gate | None]:
    """Split one answer into its product and its gate."""
    said = _as_doubted(answer)
    j, seen = said.grade, 1 - said.overlooked
    top, tops = table.cum_root[j], table.cum_hidden[:, j]
    with np.errstate(divide="ignore"):
        product = Product(table.id, np.log(1 - seen * (1 - top)), table.hidden, 1 - seen * (1 - tops))
    if j == 0:
        return product, None
    below, belows = table.cum_root[j - 1], table.cum_hidden[:, j - 1]
    root_misses = (1 - said.imagined) * np.where(top > TINY, below / np.maximum(top, TINY), 0.0)
    misses = np.where(tops > TINY, belows / np.maximum(tops, TINY), 0.0)
    kept = misses < 1.0 if misses.ndim == 1 else np.any(misses < 1.0, axis=1)
    hidden = tuple(h for h, keep in zip(table.hidden, np.asarray(kept).tolist(), strict=True) if keep)
    return product, Gate(table.id, hidden, misses[kept], root_misses)


def multiply_products(products: Iterable[Product], tables: HubTables) -> tuple[FloatArray, FloatArray]:
    """Multiply the products of all answers.

    Returns: log factor of each root state, shape (n_root,), and factor of each hidden variable when present,
        shape (n_hidden,), or (n_hidden, n_root) in tables of several draws.
    """
    log_root = np.zeros(tables.n_root)
    weights = np.ones(len(tables.hidden) if tables.n_draws == 1 else tables.p_hidden.shape)
    for product in products:
        log_root += product.log_root
        weights[list(product.hidden)] *= product.factors
    return log_root, weights


def lay_out_piece(table: GateTable, answer: int | Doubted, product: Product, gate: Gate | None) -> Piece:
    """Lay one split answer out as arrays.

    What a doubted answer costs an added state depends on the base; it is least beside the base that shows the sign most surely.
    """
    said = _as_doubted(answer)
    top, seen = table.cum_root[said.grade], 1 - said.overlooked
    relative = top / max(float(top[0]), TINY)
    most = least = np.log(np.maximum(1 - seen * (1 - relative), TINY))
    if seen < 1:
        smallest = float(top.min())
        beside = (1 - seen + seen * smallest * relative) / max(1 - seen + seen * smallest, TINY)
        least = np.log(np.maximum(beside, TINY))
    matters = product.factors != 1.0
    return Piece(
        logs=np.stack([product.log_root, most, least]),
        hidden=np.array(product.hidden, dtype=np.intp)[matters],
        factors=product.factors[matters],
        gate=gate,
        doubted=(top, seen) if seen < 1 else None,
    )


Parts = Sequence[tuple[Product, Gate | None]]


def join_parts(parts: Parts, columns: np.ndarray) -> list[tuple[Product, Gate | None]]:
    """Split sure answers for states and sets of them: those of sets follow, for cumulated contributions multiply.

    Args:
        parts: the answers split for single states; state 0 is the one without any cause.
        columns: positions of the states of each set, filled up with 0, shape (largest, n_sets).
    Returns: the answers split for all; none where the state without any cause rules one of them out.
    """
    if not parts:
        return []
    logs = np.array([product.log_root for product, _ in parts])
    if not np.isfinite(logs[:, 0]).all():
        return []
    logs = np.concatenate([logs, logs[:, columns].sum(axis=1) - (len(columns) - 1) * logs[:, :1]], axis=1)
    misses = np.array([gate.root_misses for _, gate in parts if gate is not None]).reshape(
        -1, len(parts[0][0].log_root)
    )
    rows = iter(np.concatenate([misses, join_states(misses, columns)], axis=1))
    return [
        (product.vary(log_root=log_root), gate and gate.vary(root_misses=next(rows)))
        for (product, gate), log_root in zip(parts, logs, strict=True)
    ]


def weigh_parts(parts: Parts, tables: HubTables) -> FloatArray:
    """Give P(answer | root state) of each answer by itself, in their order, shape (n_answers, n_root)."""
    if not parts:
        return np.zeros((0, tables.n_root))
    owner = np.repeat(np.arange(len(parts)), [len(product.hidden) for product, _ in parts])
    p = tables.p_hidden[[h for product, _ in parts for h in product.hidden]]
    factors = [as_rows(product.factors) for product, _ in parts]
    shown = multiply_groups(1 - p * (1 - np.concatenate(factors)), owner, len(parts))
    gates = [i for i, (_, gate) in enumerate(parts) if gate is not None]
    if gates:
        missed = []
        for (product, gate), own in zip(parts, factors, strict=True):
            if gate is not None:
                misses = dict(zip(gate.hidden, gate.misses, strict=True))
                missed.append(own * as_rows(np.array([misses.get(h, 1.0) for h in product.hidden]).reshape(own.shape)))
        own = np.isin(owner, gates)
        silent = multiply_groups(1 - p[own] * (1 - np.concatenate(missed)), owner[own], len(parts))[gates]
        shown[gates] -= np.array([gate.root_misses for _, gate in parts if gate is not None]) * silent
    return np.exp([product.log_root for product, _ in parts]) * np.maximum(shown, 0.0)


def present_apart(p_hidden: FloatArray, weights: FloatArray) -> FloatArray:
    """Give P(hidden present) of variables by themselves, weighed, shape (n_hidden, n_root)."""
    weighed = p_hidden * as_rows(weights)
    return weighed / np.maximum(1 - p_hidden + weighed, TINY)
