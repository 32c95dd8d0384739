"""An exact solver of small repair models that shares no code with the planner, and hard models to try it on.

Expectimax over (what is believed, checks and jobs left, levels open, money left), written from the charges stated in DEVELOPERS.md:
open what is closed, pay, close, road test after each batch of jobs, pay the comeback if it failed, go on or leave it.
"""

from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from shiftlore.planning import AccessNode, AccessTree, Hypotheses, Outcomes, PricedCheck, PricedJob, Situation
from support.table_oracle import TableOracle

KINDS = ("generic", "pairs", "threes", "access", "overlap", "reveal", "two_causes", "misread", "opened")


@dataclass
class Solver:
    """Solves a situation by its plain numbers.

    `solve` gives the least expected total from the start; `follow` that of a chooser obeyed step by step.
    """

    situation: Situation
    prior: np.ndarray
    tables: list

    def __post_init__(self):
        s = self.situation
        self.nodes = {node.id: node for node in s.access.nodes}
        self.paths = {node.id: self._path(node.id) for node in s.access.nodes}
        together = [i for i, job in enumerate(s.jobs) if not job.alone]
        self.members = s.hypotheses.members
        self.memo, self.rests = {}, {}
        self.batches = [set(b) for n in range(1, len(together) + 1) for b in combinations(together, n)]
        self.batches += [{i} for i, job in enumerate(s.jobs) if job.alone]

    def _path(self, name):
        found = set()
        while self.nodes[name].parent is not None:
            found.add(name)
            name = self.nodes[name].parent
        return frozenset(found)

    def money(self, levels, what):
        """Cost of opening or closing some levels."""
        return sum(getattr(self.nodes[level], what) for level in levels)

    def carry(self, batch):
        """P(what is wrong after a batch | before it), the cured left out, shape (n_before, n_after)."""
        key = frozenset(batch)
        if key not in self.rests:
            missed = [1.0] * len(self.situation.hypotheses.causes)
            for job in key:
                missed = [m * (1.0 - p) for m, p in zip(missed, self.situation.jobs[job].cures, strict=True)]
            place = {frozenset(member): i for i, member in enumerate(self.members)}
            table = np.zeros((len(self.members), len(self.members)))
            for before, member in enumerate(self.members):
                for stays in product((True, False), repeat=len(member)):
                    left = frozenset(cause for cause, stay in zip(member, stays, strict=True) if stay)
                    chances = [missed[c] if stay else 1.0 - missed[c] for c, stay in zip(member, stays, strict=True)]
                    if left:
                        table[before, place[left]] += np.prod(chances)
            self.rests[key] = table
        return self.rests[key]

    def batch_cost(self, batch, opened):
        """Open what is missing, do the jobs, close everything, drive."""
        need = frozenset().union(*(self.paths[self.situation.jobs[job].access] for job in batch))
        own = sum(self.situation.jobs[job].cost for job in batch) + self.situation.test_cost
        return own + self.money(need - opened, "open_cost") + self.money(need | opened, "close_cost")

    def reach(self, check, opened):
        """Cost of a check, and what is open behind it."""
        act = self.situation.checks[check]
        need, cost = self.paths[act.access], act.cost
        if act.needs_closed:
            cost, opened = cost + self.money(opened - need, "close_cost"), opened & need
        return cost + self.money(need - opened, "open_cost"), opened | need

    def solve(self):
        """Least expected total."""
        opened = frozenset(
            node.id for i, node in enumerate(self.situation.access.nodes) if self.situation.opened >> i & 1
        )
        return self._value(self.prior, frozenset(range(len(self.tables))), frozenset(), opened, self.situation.budget)

    def _value(self, weights, checks, done, opened, budget):
        """Least expected cost of going on, weighed with the chance of being here.

        Args:
            weights: chance of coming here with each hypothesis at work now.
            checks, done: checks not made yet, and jobs done.
        """
        key = (weights.round(13).tobytes(), checks, done, opened, None if budget is None else round(budget, 6))
        if key in self.memo:
            return self.memo[key]
        s, rest = self.situation, float(weights.sum())
        if rest < 1e-13:
            return 0.0
        best = rest * (s.uncured_cost + self.money(opened, "close_cost"))
        for batch in self.batches:
            if batch & done or (budget is not None and self.batch_cost(batch, opened) > budget):
                continue
            cost, after = self.batch_cost(batch, opened), weights @ self.carry(batch)
            paid = cost * rest + s.comeback_cost * float(after.sum())
            if paid < best:
                left = None if budget is None else budget - cost
                best = min(best, paid + self._value(after, checks, done | batch, frozenset(), left))
        for check in checks:
            cost, reached = self.reach(check, opened)
            if cost * rest < best and (budget is None or cost <= budget):
                total, left = cost * rest, None if budget is None else budget - cost
                for row in self.tables[check]:
                    total += self._value(weights * row, checks - {check}, done, reached, left)
                    if total >= best:
                        break
                best = min(best, total)
        self.memo[key] = best
        return best


def find_exactly(situation, oracle):
    """Least expected total of a small situation."""
    tables = [oracle.tables[check.id].likelihoods for check in situation.checks]
    return Solver(situation, np.asarray(oracle.belief), tables).solve()


def draw_hard(kind, seed, jobs=(5, 6), checks=(3, 4)):
    """Draw a model of one of `KINDS`, made to mislead a short look-ahead, and its oracle."""
    rng = np.random.default_rng([sum(map(ord, kind)), seed])
    n_jobs, n_checks = int(rng.integers(jobs[0], jobs[1] + 1)), int(rng.integers(checks[0], checks[1] + 1))
    n = n_jobs if kind != "overlap" else n_jobs + 1
    nodes = [AccessNode("standing")]
    dear = 150 if kind == "access" else 60
    for i in range(1 if kind == "access" else int(rng.integers(1, 4))):
        nodes.append(AccessNode(f"level{i}", nodes[int(rng.integers(len(nodes)))].id, *rng.uniform(0, dear, 2)))
    level = lambda: nodes[int(rng.integers(len(nodes)))].id if kind != "access" else nodes[-1].id  # noqa: E731
    members = [(i,) for i in range(n)] + ([(0, 1), (1, 2)] if kind == "two_causes" else [])
    hypotheses = Hypotheses(tuple(f"cause{i}" for i in range(n)), tuple(members))
    made = []
    for j in range(n_jobs):
        cures = np.zeros(n)
        cures[j] = rng.choice([1.0, 0.9]) if kind != "reveal" else rng.choice([1.0, 0.7, 0.5])
        if kind in ("overlap", "generic"):
            cures[rng.random(n) < 0.35] = rng.choice([0.9, 0.7])
        made.append(PricedJob(f"job{j}", rng.uniform(40, 400), 30.0, level(), cures))
    if rng.random() < 0.7:
        cures = np.where(rng.random(n) < 0.8, 0.97, 0.0)
        made.append(PricedJob("exchange", rng.uniform(500, 1500), 400.0, level(), cures, alone=True))
    looks, tables = [], {}
    bits = rng.integers(0, 2, (n_checks, len(members))).astype(float)
    width = {"pairs": 2, "threes": 3}.get(kind, 0)
    if width:  # only all of them together say which half of the causes it is
        half = rng.permutation(len(members)) < len(members) / 2
        bits[width - 1] = (bits[: width - 1].sum(axis=0) + half) % 2
    for c in range(n_checks):
        place = level() if rng.random() < 0.6 else "standing"
        closed = bool(rng.random() < 0.2) and place == "standing"
        looks.append(PricedCheck(f"check{c}", rng.uniform(2, 25 if width else 50), 10.0, place, closed))
        wrong = rng.uniform(0.05, 0.3) if kind == "misread" else rng.choice([0.0, 0.02, 0.1])
        shown = np.abs(bits[c] - wrong)
        tables[f"check{c}"] = Outcomes(("no", "yes"), np.array([1.0 - shown, shown]))
    situation = Situation(
        hypotheses,
        AccessTree(tuple(nodes)),
        tuple(made),
        tuple(looks),
        opened=AccessTree(tuple(nodes)).path_mask(nodes[-1].id) if kind == "opened" else 0,
        test_cost=rng.uniform(0, 30),
        comeback_cost=rng.uniform(0, 60),
        uncured_cost=rng.uniform(800, 3000),
    )
    return situation, TableOracle(hypotheses, rng.dirichlet(np.full(len(members), 1.0)), tables)
