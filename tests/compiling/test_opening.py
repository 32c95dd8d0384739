"""Sets of faults opened for a case, against going through all of them."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.fleets import draw_evidence as answers_of
from support.hubs import Evidence, draw_evidence, draw_tables, make_single, weigh_by_force
from support.trade import small_case, unit_of

from shiftlore.basics import ImpossibleEvidence
from shiftlore.cases import Case
from shiftlore.compiling import Chances
from shiftlore.compiling import opening as opening_of_the_room
from shiftlore.compiling.compiled_units import Ground
from shiftlore.compiling.faults import list_pairs, make_faults
from shiftlore.compiling.opening import MOST_SETS, MOST_THIRDS, SMALL_REST, OpenedFaults, _SetSearch, join_faults
from shiftlore.compiling.opening import open_faults as open_bounded
from shiftlore.exact import GateTable, HubEngine, HubTables
from shiftlore.exact.tables import cut_columns

law = settings(max_examples=40, deadline=None, derandomize=True)
seeds = st.integers(0, 2**32 - 1)
P_TWO = 0.15


def make_chances(rng: np.random.Generator, n: int, p_three: float = 0.0) -> Chances:
    """Make chances of n causes, the first of which brings the second on."""
    causes = tuple(f"c{i}" for i in range(n))
    return Chances(causes, rng.dirichlet(np.ones(n)), frozenset({(0, 1)}), 0.04, 0.81 - p_three, P_TWO, p_three)


def draw_case(seed: int, n: int = 6, p_three: float = 0.0) -> tuple[Chances, HubEngine, Evidence]:
    """Draw a unit of n causes and a case of it."""
    rng = np.random.default_rng(seed)
    tables = make_single(rng, draw_tables(rng, n + 1, 3, 6))
    return make_chances(rng, n, p_three), HubEngine(tables), draw_evidence(rng, tables, 0.8)


def open_faults(chances: Chances, single: HubEngine, evidence: Evidence) -> OpenedFaults:
    """Open the sets that matter for these answers."""
    return open_bounded(chances, single, Ground(single).bound(evidence) if evidence else None)


def matrix_of_pairs(chances: Chances) -> np.ndarray:
    """Lay the chances of all pairs out, each standing twice."""
    first, second, *_ = list_pairs(len(chances.causes))
    matrix = np.zeros((len(chances.causes),) * 2)
    matrix[first, second] = matrix[second, first] = chances.of_pairs(first, second)
    return matrix


def weigh_all(chances: Chances, single: HubTables, evidence: Evidence) -> dict[tuple[int, ...], float]:
    """Give P(set of causes | answers) of none, every cause and every pair, by force."""
    n = len(chances.causes)
    faults = make_faults(chances, list(combinations(range(n), 2)))
    weights = np.array([chances.chance_of(member) for member in faults.members])
    weights = weights * weigh_by_force(join_faults(single, faults), evidence)
    return dict(zip(faults.members, (weights / weights.sum()).tolist(), strict=True))


def weigh_opened(opened: OpenedFaults, evidence: Evidence) -> dict[tuple[int, ...], float]:
    """Give the posterior over what was opened, by force."""
    weights = opened.engine.tables.prior * weigh_by_force(opened.engine.tables, evidence)
    return dict(zip(opened.faults.members, (weights / weights.sum()).tolist(), strict=True))


@given(seeds, st.sampled_from([2e-3, 0.05, 0.5]))
@law
def test_open_faults__what_is_left_out_bounds_every_probability(seed: int, small_rest: float) -> None:
    """Every state also stands for what is not opened beside it; a set has at most as much more as was left out."""
    chances, single, evidence = draw_case(seed)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(opening_of_the_room, "SMALL_REST", small_rest)
        opened = open_faults(chances, single, evidence)
    whole, found = weigh_all(chances, single.tables, evidence), weigh_opened(opened, evidence)
    assert 0 <= opened.left_out <= 1
    for member, p in found.items():
        assert whole[member] <= p + 1e-9
        if len(member) != 1:
            assert p <= whole[member] + opened.left_out + 1e-9


@given(seeds)
@law
def test_open_faults__everything_opened_is_everything_known(seed: int) -> None:
    chances, single, evidence = draw_case(seed)
    if not evidence:
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(opening_of_the_room, "SMALL_REST", 0.0)
        opened = open_faults(chances, single, evidence)
    whole, found = weigh_all(chances, single.tables, evidence), weigh_opened(opened, evidence)
    assert 0 == pytest.approx(opened.left_out, abs=1e-9)
    for member in opened.faults.sets:
        assert whole[member] == pytest.approx(found[member], abs=1e-9)
    assert whole[()] == pytest.approx(found[()], abs=1e-9)
    left = sum(p for member, p in whole.items() if len(member) == 2 and member not in found)
    singles = sum(p for member, p in whole.items() if len(member) == 1)
    assert singles + left == pytest.approx(sum(p for member, p in found.items() if len(member) == 1), abs=1e-9)


@given(seeds)
@law
def test_open_faults__no_pair_left_out_adds_more_than_it_says(seed: int) -> None:
    """What a pair not opened explains beyond the better of its two causes, taken together, is within the bound."""
    chances, single, evidence = draw_case(seed)
    opened = open_faults(chances, single, evidence)
    if not evidence:
        return
    alone, n = weigh_by_force(single.tables, evidence), len(chances.causes)
    pairs = make_faults(chances, list(combinations(range(n), 2)))
    together = weigh_by_force(join_faults(single.tables, pairs), evidence)[n + 1 :]
    weights = sum(chances.chance_of(member) * p for member, p in zip(pairs.members, (*alone, *together), strict=True))
    extra = sum(
        max(0.0, float(matrix_of_pairs(chances)[pair]) * (p - max(alone[pair[0] + 1], alone[pair[1] + 1])))
        for pair, p in zip(pairs.sets, together, strict=True)
        if pair not in opened.faults.sets
    )
    assert extra / weights <= opened.left_out + 1e-9


@given(seeds, st.sampled_from([0, 1, 96]))
@law
def test_open_faults__no_cause_gets_a_prior_beyond_what_it_stands_for(seed: int, most_sets: int) -> None:
    """Its own chance, and that of the pairs in which the other shows in nothing; however much is not opened."""
    chances, single, evidence = draw_case(seed)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(opening_of_the_room, "MOST_SETS", most_sets)
        opened = open_faults(chances, single, evidence)
    scale = chances.p_none / opened.faults.prior[0]
    alone, pairs = chances.p_one * chances.weights, matrix_of_pairs(chances).sum(axis=1)
    singles = opened.faults.prior[1 : len(chances.causes) + 1] * scale
    assert (alone - 1e-9 <= singles).all()
    if evidence:
        assert (singles <= alone + pairs + 1e-9).all()


def signs(n: int, leak: float = 0.01, shown: float = 0.9) -> HubTables:
    """Give causes that each show a sign of their own and nothing else."""
    gates = {}
    for i in range(n):
        below = np.full(n + 1, 1 - leak)
        below[i + 1] *= 1 - shown
        gates[f"f{i}"] = GateTable(f"f{i}", 2, np.array([below, np.ones(n + 1)]), (), np.zeros((0, 2)))
    names = ("none", *(f"c{i}" for i in range(n)))
    return HubTables("fault", names, np.full(n + 1, 1 / (n + 1)), (), np.zeros((0, n + 1)), gates)


def even_chances(n: int, p_three: float = 0.02) -> Chances:
    """Give causes of which none is likelier than another."""
    return Chances(tuple(f"c{i}" for i in range(n)), np.full(n, 1 / n), frozenset(), 0.04, 0.94 - P_TWO, P_TWO, p_three)


def test_open_faults__two_unrelated_faults_are_opened_and_lead() -> None:
    opened = open_faults(even_chances(8), HubEngine(signs(8)), {f"f{i}": int(i in (2, 5)) for i in range(8)})
    found = weigh_opened(opened, {f"f{i}": int(i in (2, 5)) for i in range(8)})
    assert (2, 5) == max(found, key=lambda member: found[member])
    assert opened.left_out < 0.01


def test_open_faults__one_fault_opens_next_to_nothing() -> None:
    opened = open_faults(even_chances(8), HubEngine(signs(8)), {f"f{i}": int(i == 3) for i in range(8)})
    assert len(opened.faults.sets) <= 1
    assert opened.left_out < 0.01


def test_open_faults__three_faults_are_opened_with_their_pairs() -> None:
    evidence = {f"f{i}": int(i in (1, 4, 6)) for i in range(8)}
    opened = open_faults(even_chances(8), HubEngine(signs(8)), evidence)
    assert {(1, 4), (1, 6), (4, 6), (1, 4, 6)} <= set(opened.faults.sets)
    found = weigh_opened(opened, evidence)
    assert (1, 4, 6) == max(found, key=lambda member: found[member])


def test_open_faults__without_answers_only_single_causes() -> None:
    opened = open_faults(even_chances(4), HubEngine(signs(4)), {})
    assert ((), 0.0) == (opened.faults.sets, opened.left_out)
    assert 1 == pytest.approx(opened.engine.tables.prior.sum(), abs=1e-12)


def test_open_faults__impossible_answers_name_the_clash() -> None:
    tables = signs(3)
    tables.gates["f1"].cum_root[0] = 1.0
    with pytest.raises(ImpossibleEvidence, match="f1"):
        open_faults(even_chances(3), HubEngine(tables), {"f0": 1, "f1": 1})


def test_open_faults__no_more_sets_than_there_is_room_for() -> None:
    """All signs of forty causes: hundreds of pairs explain as much as each other."""
    evidence = {f"f{i}": 1 for i in range(40)}
    opened = open_faults(even_chances(40), HubEngine(signs(40, 0.3, 0.5)), evidence)
    assert len(opened.faults.sets) <= MOST_SETS + 3 * MOST_THIRDS + MOST_THIRDS
    assert opened.left_out > 0.01, "and it says that much is left out"


def test_open_faults__a_pair_too_many_to_try_counts_as_left_out() -> None:
    evidence = {f"f{i}": int(i in (2, 5)) for i in range(8)}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(opening_of_the_room, "MOST_TRIED", 0)
        patch.setattr(opening_of_the_room, "MOST_TRIED_HARD", 0)
        opened = open_faults(even_chances(8), HubEngine(signs(8)), evidence)
    assert () == opened.faults.sets
    whole = weigh_all(even_chances(8, 0.0), signs(8), evidence)
    assert opened.left_out >= whole[2, 5]


@given(seeds)
@law
def test_open_faults__with_thirds_every_set_has_its_chance(seed: int) -> None:
    """Opened sets stand to each other as their chances times their likelihoods do."""
    chances, single, evidence = draw_case(seed, p_three=0.05)
    opened = open_faults(chances, single, evidence)
    found = weigh_opened(opened, evidence)
    listed = [member for member in opened.faults.members if len(member) != 1]
    p = weigh_by_force(join_faults(single.tables, opened.faults), evidence)
    place = {member: i for i, member in enumerate(opened.faults.members)}
    expected = np.array([chances.chance_of(member) * p[place[member]] for member in listed])
    scale = expected.sum() / sum(found[member] for member in listed)
    assert expected / scale == pytest.approx([found[member] for member in listed], abs=1e-9)
    for member in opened.faults.sets:
        assert all(pair in place for pair in combinations(member, 2)) or len(member) == 2


def test_join_faults__singles_first_then_the_sets_in_order() -> None:
    tables, chances = signs(4), even_chances(4)
    joined = join_faults(tables, make_faults(chances, [(0, 2), (0, 1, 3)]))
    assert ("none", "c0", "c1", "c2", "c3", "c0+c2", "c0+c1+c3") == joined.root_states
    assert [0.099, 0.99, 0.099, 0.99] == pytest.approx([float(joined.gates[f"f{i}"].cum_root[0, 5]) for i in range(4)])
    assert [0.099, 0.099, 0.99, 0.099] == pytest.approx([float(joined.gates[f"f{i}"].cum_root[0, 6]) for i in range(4)])
    assert np.array_equal(signs(4).gates["f0"].cum_root, cut_columns(joined, np.arange(5)).gates["f0"].cum_root)


def test_compile_case__equals_all_sets_on_the_small_knowledge() -> None:
    """Six causes, fifteen pairs, twenty sets of three: all of them, what is not opened counted as its likeliest cause."""
    answers = {"fluid_colour": "black", "line_pressure_idle": "no", "gear_slips_2": "yes", "gear_slips_1": "no"}
    compiled = small_case(answers)
    single, chances = compiled.prepared.single.tables, compiled.prepared.chances
    faults = make_faults(chances, [member for size in (2, 3) for member in combinations(range(6), size)])
    alone = weigh_by_force(single, compiled.evidence)
    weights = weigh_by_force(join_faults(single, faults), compiled.evidence)
    weights = weights * np.array([chances.chance_of(member) for member in faults.members])
    present, left_thirds = np.zeros(6), 0.0
    for member, p in zip(faults.members, weights / weights.sum(), strict=True):
        listed = member in compiled.faults.members
        left_thirds += p * (len(member) == 3 and not listed)
        present[list(member) if listed else [max(member, key=lambda cause: alone[cause + 1])]] += p
    assert present == pytest.approx(compiled.p_causes, abs=compiled.left_out + left_thirds + 1e-6)
    assert compiled.left_out + left_thirds < 0.1


def search_of(evidence: Evidence) -> _SetSearch:
    prepared = unit_of("long5").prepare(Case("long5"))
    return _SetSearch(prepared.chances, prepared.ground.bound(evidence))


def test_bound_gains__no_pair_adds_more() -> None:
    search = search_of(answers_of(4, telling=5))
    first, second, *_ = list_pairs(len(search.kind))
    at = np.random.default_rng(1).integers(0, len(first), 300)
    members = np.array([first[at], second[at]])
    chances = search.chances.of_pairs(*members)
    better = np.maximum(
        search.alone[members[0]] * search.cost[members[1]], search.alone[members[1]] * search.cost[members[0]]
    )
    added = chances * search._weigh(members)[0] - chances * better
    assert np.all(added <= search._bound_gains()[at] * (1 + 1e-5) + 1e-9)


@pytest.mark.parametrize("most", [5, 150, 1500, 10**6])
@pytest.mark.parametrize("heap", [False, True])
def test_choose_tried__those_that_add_most_in_order_until_the_rest_is_nothing(most: int, heap: bool) -> None:
    """Heap: those that add much stand side by side, where every sixteenth pair misjudges how many there are."""
    search = search_of({"slips": 1})
    search.most_tried, random = most, np.random.default_rng(most)
    gains = np.exp(random.normal(-20.0, 4.0, len(list_pairs(len(search.kind)).first))).astype(np.float32)
    if heap:
        gains = np.concatenate([np.sort(gains)[-40:], gains[40:] * np.float32(1e-6)])
    gains[7] = gains[70] = gains.max()
    order = np.lexsort((np.arange(len(gains)), -gains))[:most]
    rest = gains.sum(dtype=float) - np.cumsum(gains[order], dtype=float)
    search.known = float(gains.sum(dtype=float))
    expected = order[: int(np.count_nonzero(rest > SMALL_REST * search.known)) + 1]
    assert expected.tolist() == search._choose_tried(gains, search.known).tolist()


def test_absorbed__is_what_all_pairs_hold_together() -> None:
    search = search_of(answers_of(3))
    first, second, *_ = list_pairs(len(search.kind))
    better = np.maximum(search.alone[first] * search.cost[second], search.alone[second] * search.cost[first])
    whole = float(search.chances.of_pairs(first, second) @ better)
    assert whole == pytest.approx(float(search._absorbed @ search.alone), rel=1e-9)


def test_open_thirds__nothing_is_looked_for_where_one_fault_explains_all() -> None:
    search = search_of({"slips": 1})
    search.open_pairs()
    assert ([], 0.0) == search.open_thirds()


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_posterior__worked_out_in_opening_it_is_that_of_the_engine(seed: int) -> None:
    prepared, evidence = unit_of("long5").prepare(Case("long5")), answers_of(seed, telling=6, doubted=seed == 2)
    opened = open_bounded(prepared.chances, prepared.single, prepared.ground.bound(evidence))
    assert opened.is_worked_out(dict(evidence)) and not opened.is_worked_out({**evidence, "slips": 1})
    found, log_p = opened.posterior(evidence)
    wanted, log_wanted = opened.engine.posterior(evidence)
    assert wanted == pytest.approx(found, abs=1e-12)
    assert log_wanted == pytest.approx(log_p, abs=1e-9)
