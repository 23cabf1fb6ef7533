"""Where along a road the weather is asked for.

The rule. Every call (origin, stops, destination) is a point. Between two of them the road is cut into equal
stretches of at most 30 km and at most 25 minutes of driving, about the mesh of today's forecast grids. A stretch
whose height departs by more than 50 m from the straight line between its ends is cut at the place where it
departs most, until none does: a pass or a valley floor thus gets a point of its own, and what is interpolated
between points is wrong by no more than about a third of a kelvin for height. Where this would make more points
than a service takes at once, all three limits grow together.

What it costs: halving all limits moves no typical answer below 39 C by more than 0.2 K on the demo trips, under a
front of 6 K across 80 km (``tests/services/test_weather_spacing.py``). Nearer to running away any small change of
weather grows, and the bands of a plan are wider than that.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from planner.model.geo import intermediate
from planner.model.records import Floats, Road

STRETCH_KM = 30.0
STRETCH_S = 1500.0
HEIGHT_M = 50.0
NEAREST_KM = 0.5
"""Points closer than this along the road count as one."""


@dataclass(frozen=True)
class Points:
    """Places along a road, each (point,): km from the origin, degrees, metres (NaN where unknown)."""

    km: Floats
    lat_deg: Floats
    lon_deg: Floats
    elevation_m: Floats

    def __len__(self) -> int:
        return int(self.km.size)

    def only(self, index: int) -> Points:
        """One of the points alone."""
        one = slice(index, index + 1)
        return Points(self.km[one], self.lat_deg[one], self.lon_deg[one], self.elevation_m[one])


def choose_points(road: Road, *, density: float = 1.0, most: int = 100) -> Points:
    """Points along ``road`` by the rule above; ``density`` 2 halves every limit, ``most`` caps their number."""
    limits = np.array([STRETCH_KM, STRETCH_S, HEIGHT_M]) / density
    waypoints_km = road.km[list(road.waypoint_vertex)]
    most = max(most, len(waypoints_km))
    while (km := _cut(road, waypoints_km, limits)).size > most:
        limits = limits * 1.25
    return points_at(road, km)


def points_at(road: Road, km: Floats) -> Points:
    """The places ``km`` kilometres along the road, on the great circle between its vertices."""
    last = max(road.km.size - 2, 0)
    start = np.clip(np.searchsorted(road.km, km, side="right") - 1, 0, last)
    end = np.minimum(start + 1, road.km.size - 1)
    length = road.km[end] - road.km[start]
    share = np.where(length > 0.0, (km - road.km[start]) / np.where(length > 0.0, length, 1.0), 0.0)
    lat, lon = intermediate(
        road.lat_deg[start], road.lon_deg[start], road.lat_deg[end], road.lon_deg[end], share
    )
    return Points(km, lat, lon, _height(road, km))


def _height(road: Road, km: Floats) -> Floats:
    known = np.isfinite(road.elevation_m)
    if not known.any():
        return np.full(km.shape, np.nan)
    return np.interp(km, road.km[known], road.elevation_m[known])


def _cut(road: Road, waypoints_km: Floats, limits: Floats) -> Floats:
    found = [float(waypoints_km[0])]
    for start, end in pairwise(waypoints_km):
        for left, right in _equal_stretches(road, float(start), float(end), limits):
            found += [*_by_height(road, left, right, float(limits[2])), right]
    return _apart(np.array(found))


def _equal_stretches(road: Road, start: float, end: float, limits: Floats) -> list[tuple[float, float]]:
    drive_s = np.interp([start, end], road.km, road.drive_s)
    count = max(1, math.ceil((end - start) / limits[0]), math.ceil((drive_s[1] - drive_s[0]) / limits[1]))
    edges = np.linspace(start, end, count + 1)
    return [(float(left), float(right)) for left, right in pairwise(edges)]


def _by_height(road: Road, left: float, right: float, limit_m: float) -> list[float]:
    """Where to cut a stretch so that no part of it departs too far from the line between its ends."""
    todo, cuts = [(left, right)], []
    while todo:
        start, end = todo.pop()
        inside = road.km[(road.km > start + NEAREST_KM) & (road.km < end - NEAREST_KM)]
        ends = _height(road, np.array([start, end]))
        departs = np.abs(_height(road, inside) - np.interp(inside, [start, end], ends))
        if inside.size and np.nanmax(departs, initial=0.0) > limit_m:
            middle = float(inside[np.nanargmax(departs)])
            cuts.append(middle)
            todo += [(start, middle), (middle, end)]
    return sorted(cuts)


def _apart(km: Floats) -> Floats:
    """The positions without those too close to the one before; the last takes the place of such a one."""
    kept = [float(km[0])]
    for position in km[1:-1]:
        if position - kept[-1] >= NEAREST_KM:
            kept.append(float(position))
    if km[-1] - kept[-1] >= NEAREST_KM:
        kept.append(float(km[-1]))
    elif len(kept) > 1:
        kept[-1] = float(km[-1])
    return np.array(kept)
