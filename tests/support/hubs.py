"""Random tables with one many-state root, and the same questions answered by going through every hidden configuration."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from itertools import product

import numpy as np
import pytest
from hypothesis import strategies as st

from shiftlore.basics import ImpossibleEvidence
from shiftlore.exact import Doubted, GateTable, HubEngine, HubTables, chains
from shiftlore.exact.answers import Gate

Evidence = Mapping[str, int | Doubted]


def lay_beside(draws: Sequence[HubTables]) -> HubTables:
    """Put tables of the same shape side by side: draws of the same numbers."""
    first, n = draws[0], draws[0].n_root
    if len(draws) == 1:
        return first
    gates = {}
    for key, gate in first.gates.items():
        drawn = [tables.gates[key] for tables in draws]
        cum_hidden = np.repeat(np.stack([other.cum_hidden for other in drawn], axis=-1), n, axis=-1)
        cum_root = np.concatenate([other.cum_root for other in drawn], axis=1)
        gates[key] = GateTable(key, gate.n_states, cum_root, gate.hidden, cum_hidden)
    return HubTables(
        first.root,
        first.root_states,
        np.concatenate([tables.prior for tables in draws]),
        hidden=first.hidden,
        p_hidden=np.concatenate([tables.p_hidden for tables in draws], axis=1),
        gates=gates,
        n_draws=len(draws),
    )


def split_draws(tables: HubTables) -> list[HubTables]:
    """Take tables that stand side by side apart: what `lay_beside` put together."""
    n = tables.n_root // tables.n_draws
    parts = []
    for draw in range(tables.n_draws):
        own = slice(draw * n, (draw + 1) * n)
        gates = {
            key: GateTable(
                key,
                gate.n_states,
                gate.cum_root[:, own],
                gate.hidden,
                gate.cum_hidden if tables.n_draws == 1 else gate.cum_hidden[..., draw * n],
            )
            for key, gate in tables.gates.items()
        }
        parts.append(tables.vary(prior=tables.prior[own], p_hidden=tables.p_hidden[:, own], gates=gates, n_draws=1))
    return parts


def predict_jointly(engine: HubEngine, evidence: Evidence, assignments: Sequence[Mapping[str, int]]) -> np.ndarray:
    """Give P(all states of an assignment | root state, answers) by answering them all, shape (n_assignments, n_root)."""
    base = engine.weigh(evidence)

    def weigh_all(assignment: Mapping[str, int]) -> np.ndarray:
        try:
            return engine.weigh({**evidence, **assignment})
        except ImpossibleEvidence:
            return np.full_like(base, -np.inf)

    with np.errstate(invalid="ignore"):
        return np.array([np.where(np.isfinite(base), np.exp(weigh_all(one) - base), 0.0) for one in assignments])


@contextmanager
def fixing(easy: int = 1) -> Iterator[None]:
    """Make plans fix variables wherever that helps, not only in large clusters."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(chains, "EASY", easy)
        chains.plan_clusters.cache_clear()
        yield
    chains.plan_clusters.cache_clear()


def draw_tables(
    rng: np.random.Generator, n_root: int, n_hidden: int, n_gates: int, sharp: float = 0.0, most_states: int = 4
) -> HubTables:
    """Draw tables; of their numbers a share of `sharp` is exactly 0 or 1."""

    def blunt(values: np.ndarray) -> np.ndarray:
        taken = rng.random(values.shape) < sharp
        return np.where(taken, rng.integers(0, 2, values.shape), values)

    def cumulate(shape: tuple[int, int], axis: int) -> np.ndarray:
        table = np.sort(blunt(rng.uniform(0, 1, shape)), axis=axis)
        table[(slice(None), -1) if axis else -1] = 1.0
        return table

    p_hidden = blunt(rng.uniform(0, 1, (n_hidden, n_root)) * rng.choice([1.0, 0.1], (n_hidden, 1)))
    gates = {}
    for i in range(n_gates):
        size, n_parents = int(rng.integers(2, most_states + 1)), int(rng.integers(0, n_hidden + 1))
        hidden = tuple(sorted(rng.choice(n_hidden, n_parents, replace=False).tolist()))
        gates[f"f{i}"] = GateTable(f"f{i}", size, cumulate((size, n_root), 0), hidden, cumulate((n_parents, size), 1))
    names = tuple(f"r{i}" for i in range(n_root)), tuple(f"h{i}" for i in range(n_hidden))
    return HubTables("root", names[0], rng.dirichlet(np.ones(n_root)), names[1], p_hidden, gates)


def draw_evidence(rng: np.random.Generator, tables: HubTables, share: float = 0.6, doubt: float = 0.3) -> Evidence:
    """Answer some findings, some of them with doubt."""
    evidence: dict[str, int | Doubted] = {}
    for key, gate in tables.gates.items():
        if rng.random() < share:
            grade = int(rng.integers(gate.n_states))
            evidence[key] = Doubted(grade, *rng.uniform(0, 1, 2).tolist()) if rng.random() < doubt else grade
    return evidence


def make_single(rng: np.random.Generator, tables: HubTables) -> HubTables:
    """Turn tables into those of single causes: state 0 is the one without any cause, every other only adds to it."""
    nothing, n = np.arange(tables.n_root) == 0, tables.n_root
    p_hidden = 1 - (1 - tables.p_hidden[:, :1] * 0.05) * (1 - tables.p_hidden * ~nothing)
    gates = {}
    for key, gate in tables.gates.items():
        leak = np.sort(rng.uniform(0.3, 1, (gate.n_states, 1)), axis=0)
        leak[-1] = 1.0
        cum_root = leak * np.where(nothing, 1.0, gate.cum_root)
        gates[key] = GateTable(key, gate.n_states, cum_root, gate.hidden, gate.cum_hidden)
    return HubTables("root", tables.root_states, np.full(n, 1 / n), tables.hidden, p_hidden, gates)


@st.composite
def hubs(
    draw: st.DrawFn,
    most_hidden: int = 6,
    most_gates: int = 7,
    sharp: float = 0.0,
    doubt: float = 0.3,
    single: bool = False,
) -> tuple[HubTables, Evidence]:
    """Draw tables and answers; `single` gives tables of single causes."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    sizes = (
        draw(st.integers(2 if single else 1, 4)),
        draw(st.integers(1, most_hidden)),
        draw(st.integers(1, most_gates)),
    )
    tables = draw_tables(rng, *sizes, sharp)
    tables = make_single(rng, tables) if single else tables
    return tables, draw_evidence(rng, tables, doubt=doubt)


def sum_by_force(
    p_hidden: np.ndarray,
    gates: Sequence[Gate],
    weights: np.ndarray,
    hidden: Sequence[int],
    skipped: Sequence[int] = (),
) -> np.ndarray:
    """Sum the gates of some hidden variables over all ways in which these may be present, shape (n_root,)."""
    total = np.zeros(p_hidden.shape[1])
    for ons in product((0, 1), repeat=len(hidden)):
        present = dict(zip(hidden, ons, strict=True))
        term = np.ones(p_hidden.shape[1])
        for h, on in present.items():
            term = term * (p_hidden[h] * weights[h] if on else 1 - p_hidden[h])
        for g, gate in enumerate(gates):
            if g not in skipped and set(gate.hidden) <= set(hidden) and gate.hidden:
                missed = gate.root_misses.copy()
                for h, miss in zip(gate.hidden, gate.misses, strict=True):
                    missed = missed * (miss if present[h] else 1.0)
                term = term * (1 - missed)
        total += term
    return total


def weigh_by_force(tables: HubTables, evidence: Evidence) -> np.ndarray:
    """Give P(answers | root state) by going through every configuration of the hidden variables, shape (n_root,)."""
    total = np.zeros(tables.n_root)
    for present in product((False, True), repeat=len(tables.hidden)):
        on = np.array(present)[:, None]
        p = np.where(on, tables.p_hidden, 1 - tables.p_hidden).prod(axis=0)
        for key, answer in evidence.items():
            p = p * p_answer(tables.gates[key], present, answer)
        total += p
    return total


def p_answer(gate: GateTable, present: tuple[bool, ...], answer: int | Doubted) -> np.ndarray:
    """Give P(answer | hidden configuration, root state) by the definitions of noisy-MAX and of doubt, shape (n_root,).

    What is there goes unnoticed above the grade by `overlooked`; where nothing reaches the grade (given that nothing is
    above it; what surely is above reaches it) the words are still said by `imagined`.
    """
    parts = [gate.cum_root, *(row[:, None] for h, row in zip(gate.hidden, gate.cum_hidden, strict=True) if present[h])]
    cumulated = np.prod(np.array([part + np.zeros(gate.cum_root.shape) for part in parts]), axis=0)
    if not isinstance(answer, Doubted):
        return cumulated[answer] - (cumulated[answer - 1] if answer else 0.0)
    unnoticed, below, j = np.ones(gate.cum_root.shape[1]), np.ones(gate.cum_root.shape[1]), answer.grade
    for part in parts:
        unnoticed = unnoticed * (answer.overlooked + (1 - answer.overlooked) * part[j])
        if j:
            below = below * np.where(part[j] > 0, part[j - 1] / np.where(part[j] > 0, part[j], 1.0), 0.0)
    return unnoticed * (1 - (1 - answer.imagined) * below) if j else unnoticed


def take_back(evidence: Evidence, group: object) -> Evidence:
    """Leave some answers out."""
    return {key: value for key, value in evidence.items() if key not in group}  # type: ignore[operator]
