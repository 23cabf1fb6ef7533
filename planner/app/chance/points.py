"""Points at which unknowns are drawn: even in every column, and so are the first 2, 4, 8 of them and so on.

The first columns are a scrambled Sobol sequence, even in several columns at once. With a hundred columns and few
points the late ones of such a sequence run together (two of them may agree to 0.9 in 64 points), so that one unknown
is taken for another; beyond the first few each column is a Latin hypercube of its own instead, which grows by halving
its strata. Sobol 1967, USSR Comput Math 7:86; McKay, Beckman & Conover 1979, Technometrics 21:239.
"""

from __future__ import annotations

import numpy as np

from planner.app.chance.sobol import scrambled
from planner.model.records import Floats

TOGETHER = 6
"""Columns spread together: of so many no two agree to more than 0.2 in 64 points, of eight already to 0.4."""


def even_points(count: int, columns: int, generator: np.random.Generator) -> Floats:
    """Points in 0..1, (count, columns)."""
    doublings = max(count - 1, 0).bit_length()
    together = scrambled(doublings, min(columns, TOGETHER), generator)
    apart = _apart(doublings, max(columns - TOGETHER, 0), generator)
    return np.concatenate((together, apart), axis=1)[:count].astype(np.float64)


def points_apart(count: int, columns: int, generator: np.random.Generator) -> Floats:
    """Points in 0..1, (count, columns), each column by itself: for unknowns that are drawn beside others.

    Two scrambled Sobol sequences are one and the same in disguise: their first columns agree to 0.9.
    """
    return _apart(max(count - 1, 0).bit_length(), columns, generator)[:count].astype(np.float64)


def _apart(doublings: int, columns: int, generator: np.random.Generator) -> Floats:
    """2^doublings points, each column by itself: each doubling fills the empty halves of the strata at random."""
    points = generator.random((1, columns))
    for doubling in range(1, doublings + 1):
        strata = 1 << doubling
        empty = np.floor(points * strata).astype(np.int64) ^ 1
        filled = (generator.permuted(empty, axis=0) + generator.random(empty.shape)) / strata
        points = np.concatenate((points, filled))
    return points
