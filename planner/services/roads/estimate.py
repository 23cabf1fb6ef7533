"""A road without any service: great-circle legs, a winding factor and speeds by length of leg. An estimate.

Winding: road length over great circle is about 1.3 across whole motorway networks (Wang, Bette, Schreckenberg &
Guhr 2024, "How much longer do you have to drive than the crow has to fly?", arXiv:2406.06490); 1.4 on short
legs over minor roads is from memory (D). Mean speeds by length are common practice, no source (D). Together the
time may be wrong by a third, which every answer carries as its band.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np

from planner.model.geo import great_circle_km, intermediate
from planner.model.records import Floats, Road
from planner.services.roads.legs import Leg, road_from_legs
from planner.services.roads.request import RouteRequest

WINDING_AT_KM = ((20.0, 1.4), (100.0, 1.3))
SPEED_AT_KM = ((5.0, 35.0), (20.0, 50.0), (100.0, 75.0), (300.0, 90.0))
OPEN_ROAD_SHARE = 0.9
"""No vehicle keeps its top speed all the way (D)."""
TIME_ERROR_SHARE = 0.33
VERTEX_EVERY_KM = 5.0


def find(request: RouteRequest) -> Road:
    """The estimated road through ``request.sites``; marked ``estimated``."""
    top_kmh = request.vehicle.top_speed_kmh
    legs = [
        _leg(here.lat_deg, here.lon_deg, there.lat_deg, there.lon_deg, top_kmh)
        for here, there in pairwise(request.sites)
    ]
    return _with_winding(legs, request)


def mean_speed_kmh(length_km: float, top_speed_kmh: float) -> float:
    """Mean speed over a leg of this length on roads of the usual classes."""
    known_km, speeds = np.array(SPEED_AT_KM).T
    usual = float(np.interp(np.log(max(length_km, 0.1)), np.log(known_km), speeds))
    return min(usual, OPEN_ROAD_SHARE * top_speed_kmh)


def winding(straight_km: float) -> float:
    """Road length over great-circle length."""
    known_km, factors = np.array(WINDING_AT_KM).T
    return float(np.interp(straight_km, known_km, factors))


def _leg(lat1: float, lon1: float, lat2: float, lon2: float, top_speed_kmh: float) -> Leg:
    straight_km = float(great_circle_km(lat1, lon1, lat2, lon2))
    share = np.linspace(0.0, 1.0, max(2, round(straight_km / VERTEX_EVERY_KM) + 1))
    lat, lon = intermediate(lat1, lon1, lat2, lon2, share)
    road_km = straight_km * winding(straight_km)
    duration_s = road_km / mean_speed_kmh(road_km, top_speed_kmh) * 3600.0
    return Leg(lat, lon, np.full(share.size - 1, 1.0), straight_km, duration_s)


def _with_winding(legs: list[Leg], request: RouteRequest) -> Road:
    """Joined like any other road, then its kilometres lengthened: the shape stays the straight line."""
    road = road_from_legs(
        legs,
        request,
        source="estimated from great circles (no road service)",
        attribution="",
        time_error_share=TIME_ERROR_SHARE,
    )
    longer: list[Floats] = [np.zeros(1)]
    for first, last in pairwise(road.waypoint_vertex):
        steps = np.diff(road.km[first : last + 1])
        longer.append(steps * winding(float(steps.sum())))
    return replace(road, km=np.cumsum(np.concatenate(longer)), estimated=True)
