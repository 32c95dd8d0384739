"""An answer is a product and at most one gate."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from support.hubs import draw_evidence, draw_tables, hubs, p_answer

from shiftlore.exact import Doubted, Evidence, GateTable, HubEngine, HubTables
from shiftlore.exact.answers import Gate, Product, multiply_products, split_answer

law = settings(max_examples=60, deadline=None, derandomize=True)
Drawn = tuple[HubTables, Evidence]


def put_together(product: Product, gate: Gate | None, present: tuple[bool, ...]) -> np.ndarray:
    """Give the value of both parts under a hidden configuration, shape (n_root,)."""
    value = np.exp(product.log_root)
    for h, factor in zip(product.hidden, product.factors, strict=True):
        value = value * (factor if present[h] else 1.0)
    if gate is None:
        return value
    missed = gate.root_misses.copy()
    for h, miss in zip(gate.hidden, gate.misses, strict=True):
        missed = missed * (miss if present[h] else 1.0)
    return value * (1 - missed)


@given(hubs(sharp=0.2), st.data())
@law
def test_split__both_parts_give_the_probability_of_the_answer(drawn: Drawn, data: st.DataObject) -> None:
    tables, evidence = drawn
    present = tuple(data.draw(st.lists(st.booleans(), min_size=len(tables.hidden), max_size=len(tables.hidden))))
    products, gates = HubEngine(tables).split(evidence)
    gate_of = {gate.finding: gate for gate in gates}
    for product in products:
        expected = p_answer(tables.gates[product.finding], present, evidence[product.finding])
        found = put_together(product, gate_of.get(product.finding), present)
        assert expected == pytest.approx(found, abs=1e-12)


@given(hubs())
@law
def test_split__only_telling_answers_have_a_gate(drawn: Drawn) -> None:
    """A doubted no costs what a no costs: a product, no cluster."""
    tables, evidence = drawn
    products, gates = HubEngine(tables).split(evidence)
    grades = {key: answer.grade if isinstance(answer, Doubted) else answer for key, answer in evidence.items()}
    assert list(evidence) == [product.finding for product in products]
    assert [key for key in evidence if grades[key]] == [gate.finding for gate in gates]


YES_NO = GateTable("f", 2, np.array([[0.9, 0.3], [1.0, 1.0]]), (0, 1), np.array([[0.2, 1.0], [1.0, 1.0]]))
GRADED = GateTable("f", 3, np.array([[0.5, 0.2], [0.8, 0.4], [1.0, 1.0]]), (0,), np.array([[0.3, 0.6, 1.0]]))


def test_split_answer__a_yes_by_hand() -> None:
    product, gate = split_answer(YES_NO, 1)
    assert [0.0, 0.0] == product.log_root.tolist() and [1.0, 1.0] == product.factors.tolist()
    assert gate is not None
    assert [0.9, 0.3] == pytest.approx(gate.root_misses, abs=1e-15)


def test_split_answer__a_parent_that_cannot_set_the_gate_off_is_left_out() -> None:
    _, gate = split_answer(YES_NO, 1)
    assert gate is not None
    assert ((0,), [0.2]) == (gate.hidden, gate.misses.tolist())


def test_split_answer__a_middle_grade_by_hand() -> None:
    """Exactly grade 1: not above it (.8 and .6), and something reached it (1 - .5/.8 x .3/.6)."""
    product, gate = split_answer(GRADED, 1)
    assert gate is not None
    assert np.log([0.8, 0.4]) == pytest.approx(product.log_root, abs=1e-15)
    assert [0.6] == pytest.approx(product.factors, abs=1e-15)
    assert [0.625, 0.5] == pytest.approx(gate.root_misses, abs=1e-15)
    assert [0.5] == pytest.approx(gate.misses, abs=1e-15)


def test_split_answer__doubt_of_nothing_is_the_answer_itself() -> None:
    for grade in range(3):
        for sure, doubted in zip(split_answer(GRADED, grade), split_answer(GRADED, Doubted(grade)), strict=True):
            if sure is not None and doubted is not None:
                assert put_both(sure) == put_both(doubted)
            assert (sure is None) == (doubted is None)


def put_both(part: Product | Gate) -> list:
    """List the numbers of a part."""
    if isinstance(part, Product):
        return [part.log_root.tolist(), part.hidden, part.factors.tolist()]
    return [part.root_misses.tolist(), part.hidden, part.misses.tolist()]


def test_split_answer__full_doubt_says_nothing() -> None:
    """Everything overlooked and everything imagined: the words come whatever is there."""
    product, gate = split_answer(GRADED, Doubted(1, 1.0, 1.0))
    assert gate is not None
    for present in ((False,), (True,)):
        assert [1.0, 1.0] == pytest.approx(put_together(product, gate, present), abs=1e-15)


def test_split_answer__a_doubted_no_thins_what_it_speaks_of() -> None:
    """A quarter is overlooked: 1 - .75 x (1 - .9), and of the parent 1 - .75 x (1 - .2)."""
    product, gate = split_answer(YES_NO, Doubted(0, 0.0, 0.25))
    assert gate is None
    assert np.log([0.925, 0.475]) == pytest.approx(product.log_root, abs=1e-15)
    assert [0.4, 1.0] == pytest.approx(product.factors, abs=1e-15)


def test_split_answer__what_cannot_be_is_minus_infinity() -> None:
    never = GateTable("f", 2, np.array([[0.0], [1.0]]), (), np.zeros((0, 2)))
    assert [-np.inf] == split_answer(never, 0)[0].log_root.tolist()


@given(st.integers(0, 2**32 - 1), st.floats(0, 1), st.floats(0, 1))
@law
def test_split_answer__doubt_only_makes_words_likelier_where_they_are_wrong(
    seed: int, imagined: float, overlooked: float
) -> None:
    """Whatever is there, words in doubt are at least as likely as those meant strictly."""
    rng = np.random.default_rng(seed)
    tables = draw_tables(rng, 3, 2, 1)
    gate = tables.gates["f0"]
    grade, present = int(rng.integers(gate.n_states)), tuple((rng.random(2) < 0.5).tolist())
    doubted = put_together(*split_answer(gate, Doubted(grade, imagined, overlooked)), present)
    assert (doubted >= put_together(*split_answer(gate, grade), present) - 1e-12).all()
    assert (doubted <= 1 + 1e-12).all()


@given(hubs())
@law
def test_multiply_products__equals_multiplying_one_by_one(drawn: Drawn) -> None:
    tables, evidence = drawn
    products, _ = HubEngine(tables).split(evidence)
    log_root, weights = multiply_products(products, tables)
    assert sum((product.log_root for product in products), np.zeros(tables.n_root)) == pytest.approx(
        log_root, abs=1e-12
    )
    for h in range(len(tables.hidden)):
        own = [float(p.factors[p.hidden.index(h)]) for p in products if h in p.hidden]
        assert float(np.prod(own)) == pytest.approx(weights[h], abs=1e-12)


def test_multiply_products__of_no_answers() -> None:
    tables = draw_tables(np.random.default_rng(1), 2, 3, 1)
    log_root, weights = multiply_products([], tables)
    assert ([0.0, 0.0], [1.0, 1.0, 1.0]) == (log_root.tolist(), weights.tolist())


def test_doubted__can_be_a_key_and_compares_by_its_numbers() -> None:
    assert Doubted(1, 0.2, 0.1) == Doubted(1, 0.2, 0.1)
    assert 2 == len({Doubted(1, 0.2), Doubted(1, 0.2), Doubted(1, 0.3)})
    assert draw_evidence(np.random.default_rng(2), draw_tables(np.random.default_rng(2), 2, 2, 9), 1.0, 1.0)
