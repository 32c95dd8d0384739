"""Gates refuse what is no probability, and mean what the literature says."""

import numpy as np
import pytest

from shiftlore.network import NoisyLink, NoisyMax, Table, Variable


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
