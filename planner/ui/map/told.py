"""What the map says in words: where standing is worst, how long one may stand, the hours of the trip as a table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.app.plan.results import Curves
from planner.app.plan.sunny import sun_on_load
from planner.model.records import Floats
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.ui.look.paint import Cells
from planner.ui.map.met import written
from planner.units import UnitSystem

if TYPE_CHECKING:
    from planner.app.standing.reserve import Reserve

ROW_S = 1800.0


def stand_words(found: Reserve | None, time_s: float) -> str:
    """How long one may stand where the vehicle is at an instant; empty while that is not known."""
    if found is None or not found.time_s[0] <= time_s <= found.time_s[-1]:
        return ""
    return _left(found, int(np.argmin(np.abs(found.time_s - time_s))))


def sun_words(curves: Curves | None, time_s: float) -> str:
    """From which side the sun shines on the load at an instant; empty by night and where nothing is known."""
    sun = None if curves is None else sun_on_load(curves, time_s)
    if sun is None:
        return ""
    return s.say(s.SUN_FROM[sun.side], degrees=round(sun.elevation_deg))


def worst_standing(found: Reserve | None) -> tuple[int, str] | None:
    """The moment at which standing is worst, and how long 95 of 100 variants may stand there."""
    if found is None:
        return None
    from planner.app.standing.pictures import worst_moment

    at = worst_moment(found)
    return None if at is None else (at, _left(found, at))


def _left(found: Reserve, at: int) -> str:
    from planner.app.standing.pictures import AGITATED_BEES, left_text

    return left_text(float(found.shortest_s(0, AGITATED_BEES)[at]), found.horizon_s)


def hours_met(
    curves: Curves, values: Floats, quantity: str, zone: str, units: UnitSystem, worst: str
) -> Cells:
    """The trip every half hour with what the road is coloured by, and where standing is worst."""
    heads = (
        *(s.say(head) for head in (s.READ_TIME, s.READ_KM, s.MAP_QUANTITIES[quantity])),
        s.say(s.READ_SUN),
    )
    every = max(int(ROW_S / max(float(np.median(np.diff(curves.time_s))), 1.0)), 1)
    rows = tuple(
        (
            clock.day_hour(float(curves.time_s[at]), zone),
            units.distance_text(float(curves.km[at])),
            written(quantity, float(values[at]), units),
            sun_words(curves, float(curves.time_s[at])),
        )
        for at in range(0, len(curves.time_s), every)
    )
    return heads, (*rows, (worst, "", "", "")) if worst else rows
