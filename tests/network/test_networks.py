"""A network checks itself when it is made; written as small tables it is the same, and sampled vehicles follow it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.enumeration import enumerate_joint
from support.strategies import random_link, random_row, seeds, small_network

from shiftlore.network import (
    Network,
    NoisyLink,
    NoisyMax,
    Table,
    Variable,
    divorce,
    expand_gate,
    sample_network,
    sample_seen,
)

LINK = [[1, 0], [0.5, 0.5]]
CAUSE = Table("c", (), [0.9, 0.1])
FINDING = NoisyMax("f", [0.9, 0.1], (NoisyLink("c", LINK),))
BOTH = (Variable("c"), Variable("f"))


def test_network__sorts_parents_before_children():
    assert Network(BOTH, (FINDING, CAUSE)).order == ("c", "f")


def test_network__knows_its_roots_and_states():
    network = Network(BOTH, (CAUSE, FINDING))
    assert ("c",) == network.roots
    assert [True, False] == [network.is_root("c"), network.is_root("f")]
    assert 2 == network.n_states("f")


def test_network__a_noisy_gate_without_parents_is_no_prior():
    assert () == Network([Variable("f")], [NoisyMax("f", [0.9, 0.1])]).roots


@pytest.mark.parametrize(
    ("variables", "gates", "what"),
    [
        (BOTH, (CAUSE,), "one gate per variable"),
        (BOTH, (CAUSE, FINDING, FINDING), "two gates"),
        ((*BOTH, BOTH[0]), (CAUSE, FINDING), "same id"),
        ((BOTH[1],), (FINDING,), "unknown parents"),
        ((Variable("c", ("a", "b", "c")), BOTH[1]), (CAUSE, FINDING), "states in the gate"),
        (
            (Variable("c", ("a", "b", "c")), BOTH[1]),
            (Table("c", (), [0.8, 0.1, 0.1]), FINDING),
            "parent states",
        ),
    ],
)
def test_network__misfit_is_refused(variables, gates, what):
    with pytest.raises(ValueError, match=what):
        Network(variables, gates)


def test_network__cycle_is_refused():
    gates = (NoisyMax("c", [1, 0], (NoisyLink("f", LINK),)), FINDING)
    with pytest.raises(ValueError, match="cycle"):
        Network(BOTH, gates)


def test_variable__one_state_is_refused():
    with pytest.raises(ValueError, match="two states"):
        Variable("c", ("only",))


def test_variable__counts_its_states():
    assert Variable("level", ("right", "high", "low")).n_states == 3


@pytest.mark.parametrize(
    ("matrix", "what"),
    [
        ([[0.9, 0.1], [0.5, 0.5]], "row 0"),
        ([[1, 0], [0.5, 0.6]], "add up"),
        ([[1, 0], [1.5, -0.5]], "between"),
        ([1, 0], "row per parent state"),
    ],
)
def test_noisy_link__bad_matrix_is_refused(matrix, what):
    with pytest.raises(ValueError, match=what):
        NoisyLink("c", matrix)


def test_noisy_max__link_of_other_width_is_refused():
    with pytest.raises(ValueError, match="columns"):
        NoisyMax("f", [0.9, 0.1], (NoisyLink("c", [[1, 0, 0], [0, 0.5, 0.5]]),))


def test_noisy_max__doubled_parent_is_refused():
    link = NoisyLink("c", [[1, 0], [0.5, 0.5]])
    with pytest.raises(ValueError, match="two links"):
        NoisyMax("f", [0.9, 0.1], (link, link))


def test_table__wrong_number_of_axes_is_refused():
    with pytest.raises(ValueError, match="axes"):
        Table("f", ("c",), [0.5, 0.5])


def test_table__rounded_rows_are_divided_by_their_sum():
    """Files of other programs round to single precision; common practice is to normalise."""
    assert pytest.approx(1, abs=1e-15) == Table("c", (), [0.3333333, 0.6666666]).array.sum()


def test_table__cannot_be_changed():
    with pytest.raises(ValueError, match="read-only"):
        Table("c", (), np.array([0.5, 0.5])).array[0] = 1


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds)
def test_divorce__summed_over_its_chains_is_the_same_joint(seed):
    network = small_network(seed, 8)
    divorced = divorce(network, 2)
    if len(divorced.variables) > 13:
        return
    added = tuple(i for i, name in enumerate(divorced.variables) if name not in network.variables)
    assert enumerate_joint(network) == pytest.approx(enumerate_joint(divorced).sum(axis=added), abs=1e-12)


@settings(max_examples=25, deadline=None, derandomize=True)
@given(seeds, st.integers(2, 5))
def test_divorce__one_gate_of_many_parents_keeps_its_table(seed, max_parents):
    rng = np.random.default_rng(seed)
    names, size = [f"c{i}" for i in range(6)], int(rng.integers(2, 4))
    gate = NoisyMax("f", random_row(rng, size), tuple(random_link(rng, name, 2, size) for name in names))
    network = Network(
        [*(Variable(name) for name in names), Variable("f", tuple("abc"[:size]))],
        [*(Table(name, (), [0.5, 0.5]) for name in names), gate],
    )
    divorced = divorce(network, max_parents)
    added = tuple(i for i, name in enumerate(divorced.variables) if name not in network.variables)
    joint = enumerate_joint(divorced).sum(axis=added)
    assert expand_gate(gate) == pytest.approx(joint * 2**6, abs=1e-12)


def hub(n_parents: int) -> Network:
    """Build one finding below many causes."""
    causes = [f"c{index}" for index in range(n_parents)]
    links = tuple(NoisyLink(cause, [[1, 0], [0.4, 0.6]]) for cause in causes)
    gates = [*(Table(cause, (), [0.9, 0.1]) for cause in causes), NoisyMax("f", [0.95, 0.05], links)]
    return Network([Variable(name) for name in (*causes, "f")], gates)


@pytest.mark.parametrize("max_parents", [2, 3, 5])
def test_divorce__no_table_has_more_parents(max_parents):
    gates = divorce(hub(30), max_parents).gates.values()
    assert max_parents == max(len(gate.parents) for gate in gates)
    assert all(isinstance(gate, Table) and np.all(gate.array >= 0) for gate in gates)


def test_divorce__parents_come_first():
    seen: set[str] = set()
    divorced = divorce(hub(12))
    for child in divorced.order:
        assert set(divorced.gates[child].parents) <= seen
        seen.add(child)


def test_divorce__what_is_small_stays_as_it_is():
    network = hub(3)
    assert list(network.variables) == list(divorce(network).variables)


def test_divorce__a_full_table_is_kept_however_wide():
    wide = Table("f", tuple("abcd"), np.full((2,) * 5, 0.5))
    network = Network([Variable(n) for n in "abcdf"], [*(Table(n, (), [0.5, 0.5]) for n in "abcd"), wide])
    assert divorce(network, 2).gates["f"] is wide


def test_divorce__a_chain_without_room_is_a_programming_fault():
    with pytest.raises(AssertionError, match="room for the carried"):
        divorce(hub(3), 1)


@pytest.mark.parametrize("seed", [1, 2, 5, 8])
def test_sample_network__shares_equal_the_joint(seed):
    """Standard error of a share is at most 0.5 / sqrt(n); four of them are allowed."""
    network, n = small_network(seed, 6), 40000
    states = sample_network(network, np.random.default_rng(seed), n)
    joint = enumerate_joint(network)
    counts = np.zeros(joint.shape)
    np.add.at(counts, tuple(states[name] for name in network.variables), 1)
    assert joint == pytest.approx(counts / n, abs=4 * 0.5 / np.sqrt(n))


def test_sample_network__a_rare_cause_is_as_rare_as_its_prior():
    """Of 200,000 vehicles at .001 some 200 are expected; four standard errors are allowed."""
    network = Network([Variable("a")], [Table("a", (), [0.999, 0.001])])
    found = sample_network(network, np.random.default_rng(1), 200_000)["a"].sum()
    assert 200 == pytest.approx(found, abs=4 * np.sqrt(200))


def test_sample_network__same_seed_same_vehicles():
    network = small_network(3)
    first, second = (sample_network(network, np.random.default_rng(7), 50) for _ in range(2))
    assert all((first[name] == second[name]).all() for name in network.variables)


def test_sample_seen__follows_the_joint_given_what_was_seen():
    """Against brute force: the root given a seen leaf; four standard errors of 600 vehicles are allowed."""
    network = Network(BOTH, (CAUSE, FINDING))
    joint = enumerate_joint(network)
    p = joint[1, 1] / joint[:, 1].sum()
    rng, n = np.random.default_rng(2), 600
    drawn = [sample_seen(network, rng, 60, {}, {"f": 1}) for _ in range(n)]
    assert {1} == {one["f"] for one in drawn}
    assert p == pytest.approx(sum(one["c"] for one in drawn) / n, abs=4 * np.sqrt(p * (1 - p) / n) + 0.01)


def test_sample_seen__another_prior_and_what_cannot_be_seen():
    network = Network(BOTH, (CAUSE, NoisyMax("f", [1.0, 0.0], (NoisyLink("c", LINK),))))
    given_cause = {"c": np.array([0.0, 1.0])}
    assert {"c": 1, "f": 1} == sample_seen(network, np.random.default_rng(1), 5, given_cause, {"f": 1})
    assert {"c": 0, "f": 1} == sample_seen(network, np.random.default_rng(1), 5, {"c": np.array([1.0, 0.0])}, {"f": 1})
