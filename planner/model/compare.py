"""Ranking candidates: harm first, then headroom, then convenience. The order is decided here and nowhere else."""

from __future__ import annotations

import numpy as np

from planner.model.limits import CAUTION, HARM, MOST_HEADROOM_K
from planner.model.records import Bools, Floats, Ints

ENOUGH_HEADROOM_K = 4.0
"""Candidates with at least this much headroom differ by convenience only; more of it buys nothing.

A rule of this program, like the next two, and no property of bees or boxes: so none is a row of the table.
"""

HEADROOM_STEP_K = 0.5
"""Headrooms closer than this count as equal: the model cannot tell them apart."""

DEAD_STEP = 0.05
"""Shares of dead workers closer than this count as equal."""


def rank(
    crowded: Bools,
    level: Ints,
    agitated_level: Ints,
    harmed_share: Floats,
    dead_share: Floats,
    ruined_share: Floats,
    first_harm_s: Floats,
    headroom_k: Floats,
    by_day: Bools,
    inconvenience: Floats,
) -> Ints:
    """Order of candidates, best first, as indices of the flattened arrays.

    Parameters
    ----------
    crowded : more boxes ride than the loading place holds; never ahead of a candidate that fits
    level, agitated_level : worst of the five verdicts with typical and with agitated bees (unknown highest)
    harmed_share : share of boxes harmed, expected over the kinds of bees
    dead_share, ruined_share : share of all workers dead, of boxes ruined, with typical bees
    first_harm_s : seconds from closing to the first harm, inf where there is none
    headroom_k : the smaller headroom with typical bees
    by_day : boxes shut while bees fly; weighs as a caution, since the foragers are lost
    inconvenience : any scale, smaller is better

    All arrays share one shape. The order: room, then harm with typical bees. Of those that harm: fewer boxes harmed,
    fewer workers dead in steps of DEAD_STEP, fewer boxes ruined, later harm; how hot the dead get is no measure. Of
    those that do not: harm with agitated bees, headroom up to ENOUGH_HEADROOM_K in steps of HEADROOM_STEP_K. Then
    inconvenience.
    """
    typical = np.where(by_day, np.maximum(level, CAUTION), level)
    harms = level >= HARM
    enough = np.clip(np.nan_to_num(headroom_k, nan=-np.inf), -MOST_HEADROOM_K, ENOUGH_HEADROOM_K)
    spare = np.floor(enough / HEADROOM_STEP_K)
    keys = (
        inconvenience,
        np.where(harms, -first_harm_s, -spare),
        np.where(harms, np.round(ruined_share, 2), 0.0),
        np.where(harms, np.round(dead_share / DEAD_STEP), agitated_level),
        np.where(harms, np.round(harmed_share, 2), 0.0),
        typical,
        crowded,
    )
    return np.lexsort([np.broadcast_to(key, level.shape).ravel() for key in keys])
