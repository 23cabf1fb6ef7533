"""Ranking candidates: harm first, then margin, then convenience. The order is decided here and nowhere else."""

from __future__ import annotations

import numpy as np

from planner.model.limits import CAUTION, HARM
from planner.model.records import Bools, Floats, Ints

ENOUGH_MARGIN_K = 4.0
"""Candidates with at least this much margin differ by convenience only; a wider margin buys nothing more.

A rule of this program, like the next, and no property of bees or boxes: so neither is a row of the table.
"""

MARGIN_STEP_K = 0.5
"""Margins closer than this count as equal: the model cannot tell them apart."""

LOWEST_MARGIN_K = -100.0
"""Where margins end, so that one of minus infinity has a step."""


def rank(
    crowded: Bools,
    level: Ints,
    agitated_level: Ints,
    harmed_share: Floats,
    margin_k: Floats,
    agitated_margin_k: Floats,
    by_day: Bools,
    inconvenience: Floats,
) -> Ints:
    """Order of candidates, best first, as indices of the flattened arrays.

    Parameters
    ----------
    crowded : more boxes ride than the loading place holds; never ahead of a candidate that fits
    level, agitated_level : worst of the five verdicts with typical and with agitated bees (unknown highest)
    harmed_share : share of boxes harmed with typical bees
    margin_k, agitated_margin_k : smallest margin with typical and with agitated bees; the latter counts
        unless agitated bees come to harm anyway
    by_day : boxes shut while bees fly; weighs as a caution, since the foragers are lost
    inconvenience : any scale, smaller is better

    All arrays share one shape. The order: room, harm with typical bees, harmed share, harm with agitated bees,
    margin up to ENOUGH_MARGIN_K in steps of MARGIN_STEP_K, inconvenience.
    """
    typical = np.where(by_day, np.maximum(level, CAUTION), level)
    telling = np.where(agitated_level < HARM, agitated_margin_k, margin_k)
    margin = np.minimum(np.nan_to_num(telling, nan=-np.inf), ENOUGH_MARGIN_K)
    stepped = np.floor(np.maximum(margin, LOWEST_MARGIN_K) / MARGIN_STEP_K)
    harmed = np.where(level >= HARM, np.round(harmed_share, 2), 0.0)
    keys = (inconvenience, -stepped, agitated_level, harmed, typical, crowded)
    return np.lexsort([np.broadcast_to(key, level.shape).ravel() for key in keys])
