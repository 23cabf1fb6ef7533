"""Heights for a road that came without: one request to the terrain model, at evenly spaced places."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.errors import ServiceError
from planner.model.records import Road
from planner.services.forecast.open_meteo import ELEVATIONS_AT_ONCE, elevations_m
from planner.services.forecast.points import points_at
from planner.services.http import Client
from planner.services.settings import Settings


def with_heights(client: Client, settings: Settings, road: Road) -> Road:
    """The road with a height at every vertex, or unchanged where it has them or nobody can be asked.

    Heights only choose weather points and refine air pressure, so a road without them is still a road.
    """
    if np.isfinite(road.elevation_m).all():
        return road
    count = min(ELEVATIONS_AT_ONCE, max(2, int(road.length_km) + 1))
    places = points_at(road, np.linspace(0.0, road.length_km, count))
    try:
        found = elevations_m(client, settings, places.lat_deg, places.lon_deg)
    except ServiceError:
        return road
    known = np.isfinite(found)
    if not known.any():
        return road
    heights = np.interp(road.km, places.km[known], found[known])
    return replace(road, elevation_m=np.where(np.isfinite(road.elevation_m), road.elevation_m, heights))
