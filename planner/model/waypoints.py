"""Where on the line of a road the places of a trip lie, in the order they are driven to."""

from __future__ import annotations

import numpy as np

from planner.model.geo import great_circle_km
from planner.model.records import Floats, Ints

OFF_ROAD_KM = 5.0
"""A place farther than this from its road is on another road; common practice, no source."""

MAX_SPEED_KMH = 180.0
SLACK_KM = 0.2
"""Faster than this nobody drives bees, give or take the rounding of a piece; common practice, no source."""
LONGEST_DRIVE_S = 3_000_000.0
"""Five weeks at the wheel; more is a slip."""


def reached_too_fast(km: Floats, drive_s: Floats) -> int | None:
    """The first vertex no vehicle reaches in its time, from the one before or from the start; None where all can.

    ``km`` and ``drive_s`` (vertex,) since the start, never falling.
    """
    hours = drive_s / 3600.0
    from_start = km - km[0] > (hours - hours[0]) * MAX_SPEED_KMH + SLACK_KM
    from_start[1:] |= np.diff(km) > np.diff(hours) * MAX_SPEED_KMH + SLACK_KM
    return int(np.argmax(from_start)) if from_start.any() else None


def distances_km(lat_deg: Floats, lon_deg: Floats, line_lat_deg: Floats, line_lon_deg: Floats) -> Floats:
    """Distance of every place to every vertex, (place, vertex) in km; all arguments in degrees."""
    return great_circle_km(lat_deg[:, None], lon_deg[:, None], line_lat_deg, line_lon_deg)


def found_in_order(away_km: Floats) -> Ints:
    """The vertex of each place, (place,), never falling, so that the places lie nearest to the line in sum.

    ``away_km`` is (place, vertex), infinite where a place must not be. Solved place by place (dynamic
    programming), because the vertex nearest to a place may lie on the way back, past the places that follow.
    """
    best = away_km.copy()
    for at in range(1, len(best)):
        best[at] += np.minimum.accumulate(best[at - 1])
    vertex = np.zeros(len(best), dtype=np.int64)
    end = best.shape[1]
    for at in range(len(best) - 1, -1, -1):
        vertex[at] = np.argmin(best[at, :end])
        end = int(vertex[at]) + 1
    return vertex


def with_ends_fixed(away_km: Floats) -> Floats:
    """The distances for a line known to begin at the first place and to end at the last."""
    fixed = away_km.copy()
    fixed[0], fixed[-1] = np.inf, np.inf
    fixed[0, 0] = fixed[-1, -1] = 0.0
    return fixed
