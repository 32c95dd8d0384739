"""The one builder of gates: means, draws, and backgrounds."""

from io import BytesIO
from zipfile import BadZipFile

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from support.hubs import split_draws
from support.trade import compiled_of, small_case, small_unit, unit_of

from shiftlore.compiling import CompiledUnit, Expansion
from shiftlore.compiling.gates import (
    LARGEST_LEAK,
    WEAK_LINE,
    GateArrays,
    KeptLinks,
    build_tables,
    draw_tables,
    gather_gates,
    keep_unit,
    raise_leak,
    raise_leaks,
    restore_unit,
    tabulate,
    tabulate_unit,
)
from shiftlore.exact import HubTables
from shiftlore.knowledge import Raise

NAMES = ("none", *(f"c{i}" for i in range(6)))
EVEN = np.full(7, 1 / 7)


def build(arrays: GateArrays) -> HubTables:
    """Build the small knowledge's tables without any background."""
    return build_tables(arrays, {}, small_unit().knowledge.backgrounds, EVEN, NAMES)


def sure(arrays: GateArrays) -> GateArrays:
    """Take the spread out of every number."""

    def still(links):
        return links.vary(weights=np.full(len(links.weights), np.inf))

    return arrays.vary(
        leak_weights=np.full(len(arrays.leak_weights), np.inf),
        from_causes=still(arrays.from_causes),
        from_states=still(arrays.from_states),
        from_states_weakly=still(arrays.from_states_weakly),
    )


def draw(arrays: GateArrays, n: int, seed: int = 1) -> list[HubTables]:
    """Draw the small knowledge's tables, and take them apart."""
    return split_draws(
        draw_tables(arrays, {}, small_unit().knowledge.backgrounds, NAMES, rng=np.random.default_rng(seed), n_draws=n)
    )


def test_build_tables__equals_multiplying_each_node_by_hand() -> None:
    """P(contribution of leak and one cause <= j): cumulated leak times the cumulated row of their link.

    A weak link from a state is one more such factor: 1 - P(state) P(it shows more than j).
    """
    expansion, tables = unit_of("long5").expansion, compiled_of().prepared.single.tables
    position = {cause: i + 1 for i, cause in enumerate(expansion.causes)}
    p_states = dict(zip(tables.hidden, tables.p_hidden, strict=True))
    for key in list(tables.gates)[::7]:
        node, gate = expansion.findings[key], tables.gates[key]
        expected = np.repeat(np.cumsum(node.leak)[:, None], tables.n_root, axis=1)
        for link in node.links:
            if link.parent in position:
                expected[:, position[link.parent]] *= np.cumsum(link.rows[1])
        below = [link for link in node.links if link.parent in expansion.states]
        for link in below:
            if 1 - link.rows[1][0] < WEAK_LINE:
                expected *= 1 - p_states[link.parent] * (1 - np.cumsum(link.rows[1])[:, None])
        assert expected == pytest.approx(gate.cum_root, abs=1e-12), key
        states = {link.parent: np.cumsum(link.rows[1]) for link in below if 1 - link.rows[1][0] >= WEAK_LINE}
        assert set(states) == {tables.hidden[h] for h in gate.hidden}, key
        for h, row in zip(gate.hidden, gate.cum_hidden, strict=True):
            assert states[tables.hidden[h]] == pytest.approx(row, abs=1e-12), key


def test_build_tables__states_equal_their_nodes_by_hand() -> None:
    expansion, tables = unit_of("long5").expansion, compiled_of().prepared.single.tables
    position = {cause: i + 1 for i, cause in enumerate(expansion.causes)}
    for key, p_hidden in zip(tables.hidden, tables.p_hidden, strict=True):
        absent = np.full(tables.n_root, expansion.states[key].leak[0])
        for link in expansion.states[key].links:
            absent[position[link.parent]] *= link.rows[1][0]
        assert 1 - absent == pytest.approx(p_hidden, abs=1e-12), key


def test_gather_gates__some_findings_have_the_gates_that_they_have_among_all() -> None:
    unit = small_unit()
    few, whole = gather_gates(unit.expansion, ["gear_slips_2", "fluid_colour"]), build(unit.arrays)
    tables = build(few)
    assert ["gear_slips_2", "fluid_colour"] == list(tables.gates)
    assert set(tables.hidden) < set(whole.hidden), "only the states that bear on them"
    for key, gate in tables.gates.items():
        assert np.array_equal(gate.cum_root, whole.gates[key].cum_root)
        named = {tables.hidden[h]: row.tolist() for h, row in zip(gate.hidden, gate.cum_hidden, strict=True)}
        expected = whole.gates[key]
        assert named == {whole.hidden[h]: r.tolist() for h, r in zip(expected.hidden, expected.cum_hidden, strict=True)}


def test_gather_gates__no_findings() -> None:
    arrays = gather_gates(small_unit().expansion, [])
    assert (0, ()) == (arrays.n_hidden, arrays.nodes)
    assert {} == build(arrays).gates


def test_draw_tables__without_spread_every_draw_is_the_mean() -> None:
    arrays = sure(small_unit().arrays)
    mean = build(arrays)
    for drawn in draw(arrays, 3):
        assert mean.p_hidden == pytest.approx(drawn.p_hidden, abs=1e-12)
        for key, gate in mean.gates.items():
            assert gate.cum_root == pytest.approx(drawn.gates[key].cum_root, abs=1e-12)
            assert gate.cum_hidden == pytest.approx(drawn.gates[key].cum_hidden, abs=1e-12)


def test_draw_tables__draws_lie_around_the_mean() -> None:
    """Of 3,000 draws the mean of a link lies within five standard errors of the rule's number."""
    arrays = small_unit().arrays
    mean, drawn = build(arrays), draw(arrays, 3000)
    for key in ("gear_slips_2", "fluid_colour"):
        values = np.array([tables.gates[key].cum_root for tables in drawn])
        error = 5 * values.std(axis=0) / np.sqrt(len(drawn)) + 1e-3
        assert (np.abs(values.mean(axis=0) - mean.gates[key].cum_root) <= error).all()
        assert (values.std(axis=0)[:-1] > 0).any()


def test_draw_tables__are_tables_of_probabilities() -> None:
    for tables in draw(small_unit().arrays, 5):
        assert ((tables.p_hidden >= 0) & (tables.p_hidden <= 1)).all()
        for gate in tables.gates.values():
            assert (np.diff(gate.cum_root, axis=0) >= -1e-12).all() and (gate.cum_root[-1] == 1).all()
            assert (np.diff(gate.cum_hidden, axis=1) >= -1e-12).all() and (gate.cum_hidden[:, -1] == 1).all()


def test_draw_tables__the_same_seed_draws_the_same() -> None:
    first, second, other = (draw(small_unit().arrays, 1, seed)[0] for seed in (4, 4, 5))
    assert np.array_equal(first.p_hidden, second.p_hidden)
    assert not np.array_equal(first.p_hidden, other.p_hidden)


def test_draw_tables__what_never_happens_is_not_drawn() -> None:
    """A cause that does not bear on a finding leaves it at its leak in every draw."""
    arrays = small_unit().arrays
    mean = build(arrays)
    for tables in draw(arrays, 4):
        for key, gate in mean.gates.items():
            idle = (gate.cum_root == gate.cum_root[:, :1]).all(axis=0)
            own = tables.gates[key].cum_root
            assert np.array_equal(np.repeat(own[:, :1], idle.sum(), axis=1), own[:, idle])


def test_raise_leaks__only_what_a_background_raises() -> None:
    knowledge, arrays = unit_of("long5").knowledge, unit_of("long5").arrays
    assert arrays.leaks is raise_leaks(arrays, {}, knowledge.backgrounds)
    grade = {item.background: item.grade for raises in arrays.raised.values() for item in raises}
    if not grade:
        pytest.skip("no shipped rule raises a leak on this unit")
    name, answer = next(iter(grade.items()))
    raised = raise_leaks(arrays, {name: {answer: 1.0}}, knowledge.backgrounds)
    moved = set(np.flatnonzero(np.abs(raised - arrays.leaks).sum(axis=1) > 1e-12).tolist())
    assert moved <= set(arrays.raised)
    assert np.ones(len(raised)) == pytest.approx(raised.sum(axis=1), abs=1e-9)


def test_raise_leaks__of_a_rule_that_names_a_background() -> None:
    arrays, backgrounds = small_unit().arrays, small_unit().knowledge.backgrounds
    place = next(i for i, node in enumerate(arrays.nodes) if node.id == "fluid_colour")
    told = arrays.vary(raised={place: (Raise("usage", "towing", 3.0),)})
    raised = raise_leaks(told, {"usage": {"towing": 1.0}}, backgrounds)
    factor = 3.0 / (0.9 + 0.1 * 3.0)
    assert 1 - arrays.leaks[place, 0] < 1 - raised[place, 0]
    assert arrays.leaks[place, 0] ** factor == pytest.approx(raised[place, 0], abs=1e-12)
    others = np.arange(len(arrays.nodes)) != place
    assert np.array_equal(arrays.leaks[others], raised[others])


def test_build_tables__a_background_that_raises_no_leak_changes_no_gate() -> None:
    plain, towed = (small_case(background=known).prepared.single.tables for known in ({}, {"usage": "towing"}))
    assert plain.prior != pytest.approx(towed.prior, abs=1e-3)
    assert all(np.array_equal(gate.cum_root, towed.gates[key].cum_root) for key, gate in plain.gates.items())


@given(st.floats(0, 0.5), st.floats(0.1, 10))
def test_raise_leak__is_a_hazard_ratio(p: float, ratio: float) -> None:
    raised = raise_leak((1 - p, p), ratio)
    assert 1 == pytest.approx(sum(raised), abs=1e-12)
    assert min(1 - (1 - p) ** ratio, LARGEST_LEAK) == pytest.approx(raised[1], abs=1e-12)


def test_raise_leak__keeps_the_proportion_of_the_grades() -> None:
    raised = raise_leak((0.7, 0.2, 0.1), 1.7)
    assert 2 == pytest.approx(raised[1] / raised[2], rel=1e-12)


def test_raise_leak__nothing_to_raise() -> None:
    assert ((1.0, 0.0), (0.9, 0.1)) == (raise_leak((1.0, 0.0), 5), raise_leak((0.9, 0.1), 1.0))


def there_and_back(unit: CompiledUnit) -> tuple[Expansion, GateArrays]:
    """Keep a unit, and restore it."""
    body = keep_unit(unit.expansion, tabulate_unit(unit.expansion))
    assert body is not None
    expansion, table = restore_unit(unit.knowledge, body)
    return expansion, gather_gates(expansion, kept=table)


@pytest.mark.parametrize("unit", [small_unit(), unit_of("long5"), unit_of("cvt")], ids=["small", "long5", "cvt"])
def test_restore_unit__gives_back_all_that_was_written_out(unit: CompiledUnit) -> None:
    expansion, arrays = there_and_back(unit)
    assert unit.expansion == expansion
    for expected, found in zip(unit.arrays.links, arrays.links, strict=True):
        for name in ("node", "parent", "rows", "weights"):
            assert np.array_equal(getattr(expected, name), getattr(found, name)), name
    assert np.array_equal(unit.arrays.leaks, arrays.leaks)
    assert (unit.arrays.n_states, unit.arrays.n_hidden, unit.arrays.n_causes) == (
        arrays.n_states,
        arrays.n_hidden,
        arrays.n_causes,
    )
    assert unit.arrays.raised == arrays.raised


def test_restore_unit__of_other_rules_is_refused() -> None:
    body = keep_unit(unit_of("long5").expansion, tabulate_unit(unit_of("long5").expansion))
    assert body is not None
    with pytest.raises(ValueError, match="another unit"):
        restore_unit(small_unit().knowledge, body)


@pytest.mark.parametrize("change", ["starts", "parent", "marks", "weights", "files", "rows", "leaks"])
def test_restore_unit__tables_that_do_not_fit_are_refused(change: str) -> None:
    body = keep_unit(small_unit().expansion, tabulate_unit(small_unit().expansion))
    assert body is not None
    with np.load(BytesIO(body)) as stored:
        arrays = {name: stored[name] for name in stored.files}
    spoilt = {"files": arrays["files"][:0], "weights": arrays["weights"][:-1], "starts": arrays["starts"][::-1]}
    arrays[change] = spoilt[change] if change in spoilt else arrays[change] + 10_000
    stream = BytesIO()
    np.savez(stream, **arrays)
    with pytest.raises(ValueError, match=r"another unit|of no unit"):
        restore_unit(small_unit().knowledge, stream.getvalue())


@pytest.mark.parametrize("length", [0, 10, 3000])
def test_restore_unit__what_was_cut_short_is_refused(length: int) -> None:
    body = keep_unit(small_unit().expansion, tabulate_unit(small_unit().expansion))
    assert body is not None
    with pytest.raises((ValueError, OSError, EOFError, KeyError, BadZipFile)):
        restore_unit(small_unit().knowledge, body[:length])


def test_keep_unit__not_where_a_parent_has_three_grades() -> None:
    expansion = small_unit().expansion
    key, node = next((key, node) for key, node in expansion.findings.items() if node.links)
    sound = node.links[0].rows[0]
    many = node.vary(links=(node.links[0].vary(rows=(sound, sound, sound)),))
    changed = expansion.vary(findings={**expansion.findings, key: many})
    assert keep_unit(changed, tabulate_unit(changed)) is None


def test_kept_links__are_as_the_links_that_were_kept() -> None:
    expansion, _ = there_and_back(small_unit())
    for key, node in small_unit().expansion.findings.items():
        kept = expansion.findings[key].links
        assert isinstance(kept, KeptLinks)
        assert len(node.links) == len(kept)
        assert [*node.links] == [*kept] and node.links[:1] == kept[:1] and kept == node.links
        assert hash(node.links) == hash(kept)
        assert kept != (*node.links, *node.links, "more")


def test_tabulate__links_from_others_are_left_out() -> None:
    node = small_unit().expansion.findings["gear_slips_2"]
    parents = [link.parent for link in node.links][:2]
    table = tabulate([node, node], parents)
    assert ([0, 2, 4], [0, 1, 0, 1]) == (table.starts.tolist(), table.parent.tolist())
    assert [1.0, 1.0] == pytest.approx(table.rows[:2].sum(axis=1).tolist(), abs=1e-12)
    second = table.take(table.parent == 1, 1)
    assert ([0, 1], [0, 0]) == (second.node.tolist(), second.parent.tolist())
