"""The weather to both sides of a road, for the map alone: a mesh of places, asked for in one request.

No answer rests on it; that takes the weather along the road itself. Only a service that answers for many places at
once is asked, and only for hours it can forecast.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from planner.model.geo import great_circle_km
from planner.model.records import Floats, Road
from planner.services.forecast.points import Points
from planner.services.forecast.registry import OPEN_METEO, named
from planner.services.forecast.span import DAY_S, HOUR_S, Span, whole_days
from planner.services.http import Client
from planner.services.settings import Settings

MOST_PLACES = 80
LEAST_MESH_KM, MESH_GROWS = 5.0, 1.15
HALF_MESHES = 1.5
"""The corridor reaches so many meshes to either side of the road."""
ROAD_POINTS = 300
KM_PER_DEG = 111.2
WIDEST_DEG = 60.0
FIELDS = ("air_c", "wind_ms", "ghi_w_m2", "rain_mm")


@dataclass(frozen=True, eq=False)
class Beside:
    """Weather on a mesh around a road.

    ``time_s`` (hour,) POSIX seconds; ``lat_deg`` (row,) and ``lon_deg`` (column,) rising; ``air_c``, ``wind_ms``
    instants, ``ghi_w_m2`` mean and ``rain_mm`` sum of the hour before the stamp, all (hour, row, column), NaN where
    no place was asked for; it holds within ``half_km`` of the road. ``issued_s`` when the forecast was fetched.
    """

    time_s: Floats
    lat_deg: Floats
    lon_deg: Floats
    air_c: Floats
    wind_ms: Floats
    ghi_w_m2: Floats
    rain_mm: Floats
    half_km: float
    attribution: str = ""
    issued_s: float = float("nan")


def weather_beside(
    client: Client, settings: Settings, road: Road, first_s: float, last_s: float, *, now_s: float
) -> Beside | None:
    """The forecast around ``road`` from ``first_s`` to ``last_s`` (POSIX seconds), or None where none is to be had.

    Raises
    ------
    ServiceError, Cancelled
    """
    if named(settings.forecast.service) is not OPEN_METEO or np.ptp(road.lon_deg) > WIDEST_DEG:
        return None
    from planner.services.forecast import open_meteo

    asked = whole_days(first_s, last_s)
    today_s = math.floor(now_s / DAY_S) * DAY_S
    horizon_s = today_s + OPEN_METEO.horizon_days * DAY_S
    if asked.first_s < today_s - DAY_S or asked.first_s >= horizon_s:
        return None
    lat_deg, lon_deg, wanted, half_km = mesh(road)
    row, column = np.nonzero(wanted)
    places = Points(
        np.arange(row.size, dtype=float), lat_deg[row], lon_deg[column], np.full(row.size, np.nan)
    )
    span = Span(asked.first_s, min(asked.last_s, horizon_s - HOUR_S))
    found = open_meteo.forecast(client, settings, places, span)

    def laid_out(values: Floats) -> Floats:
        table = np.full((found.time_s.size, *wanted.shape), np.nan)
        table[:, row, column] = values
        return table

    return Beside(
        time_s=found.time_s,
        lat_deg=lat_deg,
        lon_deg=lon_deg,
        air_c=laid_out(found.air_c),
        wind_ms=laid_out(np.hypot(found.wind_east_ms, found.wind_north_ms)),
        ghi_w_m2=laid_out(found.ghi_w_m2),
        rain_mm=laid_out(found.rain_mm),
        half_km=half_km,
        attribution=found.attribution,
        issued_s=found.issued_s,
    )


def mesh(road: Road, most: int = MOST_PLACES) -> tuple[Floats, Floats, np.ndarray, float]:
    """Latitudes, longitudes, which crossings are wanted (row, column), and how far they reach to a side, km.

    As fine as ``most`` places allow; every cell within reach has one of its corners among them.
    """
    step_km = LEAST_MESH_KM
    while True:
        lat_deg, lon_deg, away_km = _crossings(road, step_km)
        half_km = HALF_MESHES * step_km
        wanted = away_km <= half_km + 0.5 * step_km
        if int(wanted.sum()) <= most:
            return lat_deg, lon_deg, wanted, half_km
        step_km *= MESH_GROWS


def _crossings(road: Road, step_km: float) -> tuple[Floats, Floats, Floats]:
    """A mesh over the road and a margin: its latitudes, longitudes, and each crossing's distance from the road, km."""
    margin_km = (HALF_MESHES + 1.5) * step_km
    middle = math.radians(float(np.mean([road.lat_deg.min(), road.lat_deg.max()])))
    axes = []
    for values, per_deg in ((road.lat_deg, KM_PER_DEG), (road.lon_deg, KM_PER_DEG * math.cos(middle))):
        low, high = values.min() - margin_km / per_deg, values.max() + margin_km / per_deg
        count = max(math.ceil((high - low) * per_deg / step_km), 1) + 1
        spare = ((count - 1) * step_km / per_deg - (high - low)) / 2.0
        axes.append(low - spare + np.arange(count) * step_km / per_deg)
    lat_deg, lon_deg = axes
    return lat_deg, lon_deg, away_from_km(road, lat_deg[:, None], lon_deg[None, :])


def away_from_km(road: Road, lat_deg: Floats, lon_deg: Floats) -> Floats:
    """How far places are from the road, km; broadcast together. The road is taken at some hundred of its points."""
    pick = np.unique(np.linspace(0, road.km.size - 1, ROAD_POINTS).round().astype(int))
    km = np.linspace(road.km[0], road.km[-1], ROAD_POINTS)
    lats = np.interp(km, road.km[pick], road.lat_deg[pick])
    lons = np.interp(km, road.km[pick], road.lon_deg[pick])
    shape = np.broadcast_shapes(lat_deg.shape, lon_deg.shape)
    nearest = np.full(shape, np.inf)
    for lat, lon in zip(lats, lons, strict=True):
        np.minimum(nearest, great_circle_km(lat_deg, lon_deg, lat, lon), out=nearest)
    return nearest
