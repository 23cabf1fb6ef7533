"""Points at which unknowns are drawn: even in each column, apart between columns, the same however many are asked."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.chance.points import TOGETHER, even_points

COLUMNS = 170
"""As many as a trip of a few hours has unknowns."""


@pytest.mark.parametrize("count", [1, 2, 8, 64])
def test_every_column_has_one_point_in_each_stratum(count: int) -> None:
    points = even_points(64, COLUMNS, np.random.default_rng(1))[:count]
    strata = np.sort(np.floor(points * count), axis=0)
    assert np.array_equal(strata, np.repeat(np.arange(float(count))[:, None], COLUMNS, axis=1))


def test_no_two_unknowns_run_together_in_64_points() -> None:
    """Got with one Sobol sequence over all columns: up to 0.9, so that one unknown was taken for another.

    Columns drawn at random agree to 0.125 on average and to 0.55 at most of these 14,000 pairs.
    """
    points = even_points(64, COLUMNS, np.random.default_rng(1))
    alike = np.abs(np.corrcoef(points.T) - np.eye(COLUMNS))
    assert alike.max() < 0.6
    assert alike[:TOGETHER, :TOGETHER].max() < 0.25
    assert np.sqrt((alike**2).mean()) < 0.135


def test_fewer_points_are_the_first_of_more_where_both_are_powers_of_two() -> None:
    few, many = (even_points(count, 40, np.random.default_rng(3)) for count in (5, 8))
    assert np.array_equal(few, many[:5])
