"""The Sobol points against scipy's own, number for number."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import qmc

from planner.app.chance.sobol import MOST_COLUMNS, scrambled


@pytest.mark.parametrize("columns", range(1, MOST_COLUMNS + 1))
@pytest.mark.parametrize("doublings", [0, 1, 3, 10])
def test_the_points_are_those_of_scipy(columns: int, doublings: int) -> None:
    own, theirs = np.random.default_rng(7), np.random.default_rng(7)
    expected = qmc.Sobol(columns, scramble=True, seed=theirs).random(1 << doublings)
    np.testing.assert_array_equal(scrambled(doublings, columns, own), expected)
    assert own.random() == theirs.random()


def test_more_columns_than_there_are_numbers_for_are_refused() -> None:
    with pytest.raises(ValueError, match="direction numbers"):
        scrambled(3, MOST_COLUMNS + 1, np.random.default_rng(1))
