"""Single operations, forwards and backwards."""

import numpy as np
import pytest

from shiftlore.inference.operations import Join, JoinSum, SumOut, Tape, TimesUnary


def tape_with(values: list, unary: list = ()) -> Tape:
    """Make a tape whose first slots are filled."""
    tape = Tape(list(unary), [], 1, len(values) + 1, {})
    for slot, value in enumerate(values):
        tape.values[slot] = np.asarray(value, float)
    return tape


def test_join_sum__equals_join_then_sum():
    rng = np.random.default_rng(1)
    first, second = rng.random((2, 2, 3, 1))
    apart, together = tape_with([first, second, [0]]), tape_with([first, second])
    Join(0, 1, 2, (2, 3), (2, 3), (), (True, True)).forward(apart)
    SumOut(2, 3).forward(apart)
    JoinSum(0, 1, 2, (2, 3), (2, 3), (), (True, True)).forward(together)
    assert apart.value(3) == pytest.approx(together.value(2), abs=1e-15)
    assert apart.log_scale == pytest.approx(together.log_scale, abs=1e-15)


def test_sum_out__scales_rows_to_one():
    tape = tape_with([[[1e-200], [3e-200]]])
    SumOut(0, 1).forward(tape)
    assert pytest.approx(tape.value(1), abs=1e-15) == [1.0]
    assert [np.log(4e-200)] == pytest.approx(tape.log_scale, abs=1e-12)


def test_sum_out__gate_that_fires_no_more_keeps_entry_zero():
    tape = tape_with([[[0.25], [9.0]]])
    SumOut(0, 1, unfired=True).forward(tape)
    assert [np.log(0.25)] == pytest.approx(tape.log_scale, abs=1e-15)
    tape.gradients[1] = np.ones(1)
    SumOut(0, 1, unfired=True).backward(tape)
    assert tape.gradient(0)[1, 0] == 0


def test_times_unary__derivative_by_the_factor_is_the_message():
    message, unary = np.array([[[2.0], [3.0]], [[5.0], [7.0]]]), np.array([[0.5], [0.1]])
    tape = tape_with([message], [unary])
    operation = TimesUnary(0, 0, 1, True)
    operation.forward(tape)
    tape.gradients[1] = np.ones((2, 2, 1))
    operation.backward(tape)
    assert np.array([[5.0], [12.0]]) == pytest.approx(tape.unary_gradients[0], abs=1e-15)


def test_tape__reading_too_early_is_a_fault():
    with pytest.raises(AssertionError, match="inputs"):
        tape_with([]).value(0)
