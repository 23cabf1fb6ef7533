"""What the small functions of the model accept: anything numpy can read as numbers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.model.records import Floats


def floats(values: ArrayLike) -> Floats:
    """The values as a float64 array, without a copy where they are one already."""
    return np.asarray(values, dtype=np.float64)


def floats_alike(*values: ArrayLike) -> tuple[Floats, ...]:
    """The values as float64 arrays broadcast to their common shape (read-only views)."""
    return tuple(np.broadcast_arrays(*(floats(value) for value in values)))
