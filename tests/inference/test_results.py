"""Results are frozen records."""

from dataclasses import FrozenInstanceError

import numpy as np
import pytest

from shiftlore.inference import JointOutcome, Outcomes, Posterior


@pytest.mark.parametrize(
    "record",
    [
        Posterior(0.0, ("c",), {"c": np.array([1.0, 0.0])}, np.zeros(1)),
        Outcomes(np.array([1.0, 0.0]), np.zeros((2, 1))),
        JointOutcome({"f": 0}, 1.0, np.zeros(1)),
    ],
)
def test_results__cannot_be_changed(record):
    with pytest.raises(FrozenInstanceError):
        record.p_present = np.ones(1)
