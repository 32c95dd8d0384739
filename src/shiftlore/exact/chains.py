"""In which order telling answers are summed: gates that share hidden variables form clusters, clusters are cut open.

Each cluster is a bipartite graph of gates and hidden variables. Some hidden variables are fixed (each of their values is
worked out by itself); what is left falls into chains, in which hidden variables are summed one after another while the
gates that they bear on stand open. The work of a chain is two to the number of open gates; fixing one more variable
doubles it, and is done where it more than halves what is left. Gates are sets of bits here, which keeps this fast.
Source: bucket elimination, Dechter 1999; loop cutset conditioning, Pearl 1988.
"""

from collections.abc import Mapping, Sequence
from functools import lru_cache

from shiftlore.basics.structs import Value

MOST_FIXED = 8
"""Fixed variables of a cluster: 256 ways at most, each of which takes a copy of every array."""
MOST_GATES = 96
"""Gates up to which a plan is tried."""
FIRST_GATES = 24
"""Gates that are planned first; more only where these are little work, for plans of many gates take long themselves."""
EASY = 1 << 9
"""Work of a cluster below which fixing is not even tried."""


class EliminationStep(Value, frozen=True):
    """One hidden variable is summed: gates that open with it, all that it bears on, and those that close after it."""

    hidden: int
    opens: tuple[int, ...]
    bears_on: tuple[int, ...]
    closes: tuple[int, ...]


class Chain(Value, frozen=True):
    """A chain of steps.

    Args:
        gates: positions of the gates.
        fixed: positions, in the cluster's list of fixed variables, of those that bear on these gates.
        steps: one per hidden variable.
        work: sum over the steps of two to the number of open gates.
        width: most gates open at a time.
    """

    gates: tuple[int, ...]
    fixed: tuple[int, ...]
    steps: tuple[EliminationStep, ...]
    work: int
    width: int


class Cluster(Value, frozen=True):
    """Gates joined by hidden variables.

    Args:
        gates: positions of its gates.
        fixed: hidden variables of which each value is worked out by itself.
        chains: what is left.
        work: work of all chains, times two for each fixed variable that bears on them.
    """

    gates: tuple[int, ...]
    fixed: tuple[int, ...]
    chains: tuple[Chain, ...]
    work: int

    @property
    def hidden(self) -> tuple[int, ...]:
        """Every hidden variable of the cluster."""
        return self.fixed + tuple(step.hidden for chain in self.chains for step in chain.steps)


def list_masks(parents: Sequence[Sequence[int]]) -> dict[int, int]:
    """Give for each hidden variable the set of gates that it bears on, as bits.

    Args:
        parents: hidden parents of each gate.
    """
    masks: dict[int, int] = {}
    for i, hidden in enumerate(parents):
        for h in hidden:
            masks[h] = masks.get(h, 0) | 1 << i
    return masks


@lru_cache(maxsize=512)
def plan_clusters(parents: tuple[tuple[int, ...], ...]) -> tuple[Cluster, ...]:
    """Group gates that share hidden variables, and plan each group; the same answers are planned once.

    Args:
        parents: hidden parents of each gate; a gate without any stands in no cluster.
    """
    masks = list_masks(parents)
    return tuple(_plan_cluster({h: masks[h] for h in hidden}) for hidden in split_groups(masks))


def plan_within(parents: Sequence[tuple[int, ...]], most_work: int) -> tuple[tuple[Cluster, ...], list[int]]:
    """Plan gates, leaving out those with most parents until the rest is not too much work.

    Args:
        parents: hidden parents of each gate.
        most_work: work of all clusters together.
    Returns: the clusters, and the gates that were left out.
    """
    slim = sorted((g for g, hidden in enumerate(parents) if hidden), key=lambda g: (len(parents[g]), g))

    def plan(n: int) -> tuple[Cluster, ...]:
        kept = set(slim[:n])
        return plan_clusters(tuple(hidden if g in kept else () for g, hidden in enumerate(parents)))

    def fits(clusters: Sequence[Cluster]) -> bool:
        return sum(cluster.work for cluster in clusters) <= most_work

    most = min(len(slim), MOST_GATES)
    low, high = 0, min(most, FIRST_GATES)
    while fits(plan(high)):
        low = high
        if low == most:
            break
        high = min(2 * high, most)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fits(plan(middle)) else (low, middle)
    return plan(low), sorted(slim[low:])


def split_groups(masks: Mapping[int, int]) -> list[list[int]]:
    """Group hidden variables that share gates, directly or through others."""
    groups: list[tuple[int, list[int]]] = []
    for h, mask in masks.items():
        members, rest = [h], []
        for other, others in groups:
            if mask & other:
                mask |= other
                members = others + members
            else:
                rest.append((other, others))
        groups = [*rest, (mask, members)]
    return [members for _, members in groups]


def _plan_cluster(masks: Mapping[int, int]) -> Cluster:
    """Plan a cluster, fixing variables as long as that makes the work smaller."""
    best, left = _plan_chains(masks, ()), dict(masks)
    fixed: list[int] = []
    while left and best.work > EASY and len(fixed) < MOST_FIXED:
        widest = max(left, key=lambda h: (left[h].bit_count(), -h))
        fixed.append(widest)
        del left[widest]
        tried = _plan_chains(left, tuple(fixed), masks)
        if tried.work < best.work:
            best = tried
    return best


def _plan_chains(left: Mapping[int, int], fixed: tuple[int, ...], masks: Mapping[int, int] | None = None) -> Cluster:
    """Plan the chains of what is left when some variables are fixed."""
    whole = masks or left
    chains, everything, covered = [], 0, 0
    for mask in whole.values():
        everything |= mask
    for hidden in split_groups(left):
        steps, work, width = order_steps({h: left[h] for h in hidden})
        gates = sorted({g for step in steps for g in step.bears_on})
        own = sum(1 << g for g in gates)
        covered |= own
        touching = tuple(i for i, h in enumerate(fixed) if whole[h] & own)
        chains.append(Chain(tuple(gates), touching, steps, work, width))
    for g in list_bits(everything & ~covered):
        touching = tuple(i for i, h in enumerate(fixed) if whole[h] >> g & 1)
        chains.append(Chain((g,), touching, (), 1, 0))
    work = sum(chain.work << len(chain.fixed) for chain in chains) + (1 << len(fixed))
    return Cluster(tuple(list_bits(everything)), fixed, tuple(chains), work)


def order_steps(masks: Mapping[int, int]) -> tuple[tuple[EliminationStep, ...], int, int]:
    """Order the steps: close next the gate that needs the fewest gates open (greedy minimum width).

    Returns: the steps, their work, and the most gates open at a time.
    """
    waiting: dict[int, list[int]] = {}
    for h in sorted(masks, key=lambda h: (masks[h].bit_count(), h)):
        for g in list_bits(masks[h]):
            waiting.setdefault(g, []).append(h)
    steps: list[EliminationStep] = []
    remaining, opened, work, width = set(masks), 0, 0, 0
    while waiting:
        chosen, least = -1, (1 << 30, 1 << 30)
        for g, hidden in waiting.items():
            needed = opened | 1 << g
            for h in hidden:
                needed |= masks[h]
            size = (needed.bit_count(), len(hidden))
            if size < least:
                chosen, least = g, size
        for h in [h for h in waiting[chosen] if h in remaining]:
            remaining.remove(h)
            new = masks[h] & ~opened
            opened |= masks[h]
            width = max(width, opened.bit_count())
            work += 1 << opened.bit_count()
            closes = []
            for g in list_bits(masks[h]):
                waiting[g].remove(h)
                if not waiting[g]:
                    del waiting[g]
                    closes.append(g)
                    opened &= ~(1 << g)
            steps.append(EliminationStep(h, tuple(list_bits(new)), tuple(list_bits(masks[h])), tuple(closes)))
    return tuple(steps), work, width


def list_bits(mask: int) -> list[int]:
    """List the bits that are set.

    Example:
        >>> list_bits(0b1010)
        [1, 3]
    """
    bits = []
    while mask:
        low = mask & -mask
        bits.append(low.bit_length() - 1)
        mask ^= low
    return bits
