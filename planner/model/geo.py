"""Distances, bearings and points between on a spherical earth, vectorised, safe across the antimeridian.

Angles in degrees, distances in km. A sphere is within 0.6 % of the ellipsoid, which is far finer than
a forecast grid or a guessed road.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.model.records import Floats

EARTH_RADIUS_KM = 6371.0088
"""Mean radius R1 = (2a + b) / 3 of the GRS 80 ellipsoid (Moritz 2000, J Geodesy 74:128)."""


def great_circle_km(lat1: ArrayLike, lon1: ArrayLike, lat2: ArrayLike, lon2: ArrayLike) -> Floats:
    """Shortest distance over the sphere in km; arguments in degrees, broadcast together.

    Haversine formula (Sinnott 1984, Sky and Telescope 68:159), exact for short distances.
    """
    phi1, lam1, phi2, lam2 = _radians(lat1, lon1, lat2, lon2)
    half = np.sin((phi2 - phi1) / 2) ** 2 + np.cos(phi1) * np.cos(phi2) * np.sin((lam2 - lam1) / 2) ** 2
    return np.asarray(2 * EARTH_RADIUS_KM * np.arcsin(np.sqrt(np.clip(half, 0.0, 1.0))))


def bearing_deg(lat1: ArrayLike, lon1: ArrayLike, lat2: ArrayLike, lon2: ArrayLike) -> Floats:
    """Initial course from the first point to the second, 0..360 degrees clockwise from north.

    Spherical triangle, four-part formula (Snyder 1987, USGS Professional Paper 1395, eq. 5-4b).
    Between equal points the course is 0 by convention.
    """
    phi1, lam1, phi2, lam2 = _radians(lat1, lon1, lat2, lon2)
    east = np.sin(lam2 - lam1) * np.cos(phi2)
    north = np.cos(phi1) * np.sin(phi2) - np.sin(phi1) * np.cos(phi2) * np.cos(lam2 - lam1)
    return np.asarray(np.mod(np.degrees(np.arctan2(east, north)), 360.0))


def intermediate(
    lat1: ArrayLike, lon1: ArrayLike, lat2: ArrayLike, lon2: ArrayLike, share: ArrayLike
) -> tuple[Floats, Floats]:
    """Latitude and longitude at ``share`` (0..1) of the great circle between two points.

    Spherical linear interpolation of the unit vectors (Shoemake 1985, SIGGRAPH, slerp); longitudes come
    back in -180..180. For exactly opposite points every course is shortest and the result is arbitrary.
    """
    start, end = _unit(lat1, lon1), _unit(lat2, lon2)
    angle = np.asarray(great_circle_km(lat1, lon1, lat2, lon2)) / EARTH_RADIUS_KM
    along = np.asarray(share, dtype=np.float64)
    sine = np.sin(angle)
    tiny = sine < 1e-12
    divisor = np.where(tiny, 1.0, sine)
    weight1 = np.where(tiny, 1.0 - along, np.sin((1.0 - along) * angle) / divisor)
    weight2 = np.where(tiny, along, np.sin(along * angle) / divisor)
    x, y, z = (weight1 * first + weight2 * second for first, second in zip(start, end, strict=True))
    return np.degrees(np.arctan2(z, np.hypot(x, y))), np.degrees(np.arctan2(y, x))


def cumulative_km(lat: ArrayLike, lon: ArrayLike) -> Floats:
    """Distance from the first vertex along a line of vertices; (vertex,) degrees to (vertex,) km."""
    lat_deg, lon_deg = np.asarray(lat, dtype=np.float64), np.asarray(lon, dtype=np.float64)
    steps = great_circle_km(lat_deg[:-1], lon_deg[:-1], lat_deg[1:], lon_deg[1:])
    return np.concatenate(([0.0], np.cumsum(steps)))[: lat_deg.size]


def _radians(*angles_deg: ArrayLike) -> list[Floats]:
    return [np.radians(np.asarray(angle, dtype=np.float64)) for angle in angles_deg]


def _unit(lat: ArrayLike, lon: ArrayLike) -> tuple[Floats, Floats, Floats]:
    """Unit vector of a point: towards (0, 0), towards (0, 90 E), towards the north pole."""
    phi, lam = _radians(lat, lon)
    return np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)
