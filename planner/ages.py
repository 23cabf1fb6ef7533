"""How old something is, by clocks that may have been wrong."""

from __future__ import annotations

import math

CLOCKS_DIFFER_S = 300.0
"""By so much two clocks that are right may differ."""


def age_s(made_s: float, now_s: float) -> float:
    """How long ago that was, s, never negative; NaN where nobody knows.

    What claims to come from later than now was dated by a clock that was wrong, or is looked at by one: it may be
    of any age, and nothing of it is fresh.
    """
    age = now_s - made_s
    return max(age, 0.0) if age >= -CLOCKS_DIFFER_S and math.isfinite(made_s) else math.nan
