"""Plans by which telling answers are summed."""

from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import fixing

from shiftlore.exact.chains import (
    MOST_FIXED,
    MOST_GATES,
    Cluster,
    list_bits,
    list_masks,
    order_steps,
    plan_clusters,
    plan_within,
    split_groups,
)

law = settings(max_examples=80, deadline=None, derandomize=True)
parents_of_gates = st.lists(st.lists(st.integers(0, 9), unique=True, max_size=5), max_size=10)
masks_of_hidden = st.dictionaries(st.integers(0, 9), st.integers(1, 255), min_size=1, max_size=8)


@given(st.sets(st.integers(0, 120)))
def test_list_bits__reads_back_what_was_set(bits: set[int]) -> None:
    assert sorted(bits) == list_bits(sum(1 << bit for bit in bits))


@given(parents_of_gates)
def test_list_masks__turns_parents_of_gates_into_gates_of_parents(parents: list[list[int]]) -> None:
    masks = list_masks(parents)
    assert {h for hidden in parents for h in hidden} == set(masks)
    for h, mask in masks.items():
        assert [g for g, hidden in enumerate(parents) if h in hidden] == list_bits(mask)


@given(masks_of_hidden)
def test_split_groups__groups_share_no_gate_and_hang_together(masks: dict[int, int]) -> None:
    groups = split_groups(masks)
    assert sorted(masks) == sorted(h for group in groups for h in group)
    unions = [0] * len(groups)
    for i, group in enumerate(groups):
        reached, waiting = masks[group[0]], set(group[1:])
        while any(masks[h] & reached for h in waiting):
            joined = {h for h in waiting if masks[h] & reached}
            waiting -= joined
            for h in joined:
                reached |= masks[h]
        assert not waiting, "every member hangs together with the others"
        unions[i] = reached
    assert all(not first & second for i, first in enumerate(unions) for second in unions[:i])


@given(masks_of_hidden)
@law
def test_order_steps__each_gate_opens_with_its_first_and_closes_after_its_last_hidden(masks: dict[int, int]) -> None:
    steps, _, _ = order_steps(masks)
    assert sorted(masks) == sorted(step.hidden for step in steps)
    for g in {bit for mask in masks.values() for bit in list_bits(mask)}:
        bearing = [i for i, step in enumerate(steps) if g in step.bears_on]
        assert [i for i, step in enumerate(steps) if masks[step.hidden] >> g & 1] == bearing
        assert [bearing[0]] == [i for i, step in enumerate(steps) if g in step.opens]
        assert [bearing[-1]] == [i for i, step in enumerate(steps) if g in step.closes]


@given(masks_of_hidden)
@law
def test_order_steps__work_and_width_are_those_of_the_open_gates(masks: dict[int, int]) -> None:
    steps, work, width = order_steps(masks)
    opened: set[int] = set()
    sizes = []
    for step in steps:
        opened |= set(step.opens)
        sizes.append(len(opened))
        opened -= set(step.closes)
    assert set() == opened
    assert (sum(2**size for size in sizes), max(sizes)) == (work, width)


def test_order_steps__a_row_of_gates_never_has_more_than_two_open() -> None:
    """Gate i hangs together with gate i + 1 alone."""
    _, work, width = order_steps({h: 0b11 << h for h in range(30)})
    assert 2 == width
    assert work <= 30 * 4


def plan_by_force(cluster: Cluster, parents: list[list[int]]) -> None:
    """Check a cluster against the parents that it was made of."""
    assert set(cluster.hidden) == {h for g in cluster.gates for h in parents[g]}
    assert len(cluster.hidden) == len(set(cluster.hidden))
    assert sorted(cluster.gates) == sorted(g for chain in cluster.chains for g in chain.gates)
    for chain in cluster.chains:
        bearing = {i for i, h in enumerate(cluster.fixed) if any(h in parents[g] for g in chain.gates)}
        assert bearing == set(chain.fixed)
    work = sum(chain.work * 2 ** len(chain.fixed) for chain in cluster.chains) + 2 ** len(cluster.fixed)
    assert work == cluster.work


@given(parents_of_gates)
@law
def test_plan_clusters__covers_every_gate_with_parents_once(parents: list[list[int]]) -> None:
    clusters = plan_clusters(tuple(map(tuple, parents)))
    assert [g for g, hidden in enumerate(parents) if hidden] == sorted(g for c in clusters for g in c.gates)
    for cluster in clusters:
        plan_by_force(cluster, parents)


@given(parents_of_gates)
@law
def test_plan_clusters__with_variables_fixed_is_no_more_work(parents: list[list[int]]) -> None:
    plain = sum(cluster.work for cluster in plan_clusters(tuple(map(tuple, parents))))
    with fixing():
        clusters = plan_clusters(tuple(map(tuple, parents)))
    assert sum(cluster.work for cluster in clusters) <= plain
    for cluster in clusters:
        assert len(cluster.fixed) <= MOST_FIXED
        plan_by_force(cluster, parents)


def test_plan_clusters__fixes_the_one_variable_that_joins_everything() -> None:
    """Twenty gates with a parent of their own each, and one that they share: fixing it leaves chains of one gate."""
    cluster = plan_clusters(tuple((0, i + 1) for i in range(20)))[0]
    assert (0,) == cluster.fixed
    assert {1} == {chain.width for chain in cluster.chains}
    assert cluster.work < 200


def test_plan_clusters__a_gate_whose_only_parent_is_fixed_is_a_chain_without_steps() -> None:
    with fixing():
        parents = [[0], *([0, i] for i in range(1, 8))]
        cluster = plan_clusters(tuple(map(tuple, parents)))[0]
    assert [(0,)] == [chain.gates for chain in cluster.chains if not chain.steps]
    plan_by_force(cluster, parents)


@given(parents_of_gates, st.integers(0, 300))
@law
def test_plan_within__keeps_to_the_work_and_leaves_the_widest_out(parents: list[list[int]], most_work: int) -> None:
    clusters, left_out = plan_within(list(map(tuple, parents)), most_work)
    assert sum(cluster.work for cluster in clusters) <= most_work or not clusters
    planned = {g for cluster in clusters for g in cluster.gates}
    assert {g for g, hidden in enumerate(parents) if hidden} == planned | set(left_out)
    assert not planned & set(left_out)
    widest = max((len(parents[g]) for g in planned), default=0)
    assert all(len(parents[g]) >= widest for g in left_out)


@given(parents_of_gates)
@law
def test_plan_within__leaves_nothing_out_where_there_is_room(parents: list[list[int]]) -> None:
    clusters, left_out = plan_within(list(map(tuple, parents)), 1 << 40)
    assert [] == left_out
    assert plan_clusters(tuple(map(tuple, parents))) == clusters


def test_plan_within__more_gates_than_are_tried_are_left_out() -> None:
    parents = [[g] for g in range(MOST_GATES + 5)]
    assert 5 == len(plan_within(list(map(tuple, parents)), 1 << 40)[1])
