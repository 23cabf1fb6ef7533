"""openrouteservice: car and truck roads from a service that wants a key of one's own.

Protocol: https://openrouteservice.org/dev/#/api-docs (v2 directions, GeoJSON answer).
"""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np

from planner.errors import ServiceError
from planner.model.records import Road
from planner.services.http import Client, UnreadableError, json_as
from planner.services.roads.legs import Leg, road_from_legs, slowed, spread_by_length, with_age
from planner.services.roads.request import RouteRequest
from planner.services.settings import Settings
from planner.words import say

SERVICE = "openrouteservice"
ATTRIBUTION = (
    "Road by openrouteservice.org, © HeiGIT, © OpenStreetMap contributors (ODbL), "
    "https://www.openstreetmap.org/copyright"
)
SNAP_M = 1000
TIME_ERROR_SHARE = 0.15
"""No live traffic, a driver's own pace (D)."""


class _Step(msgspec.Struct):
    duration: float
    way_points: tuple[int, int]


class _Segment(msgspec.Struct):
    distance: float
    duration: float
    steps: list[_Step]


class _Properties(msgspec.Struct):
    segments: list[_Segment]


class _Line(msgspec.Struct):
    coordinates: list[list[float]]


class _Feature(msgspec.Struct):
    geometry: _Line
    properties: _Properties


class _Reply(msgspec.Struct):
    features: list[_Feature]


def find(client: Client, settings: Settings, request: RouteRequest) -> tuple[Road, ...]:
    """The road and up to ``request.alternatives`` others, best first."""
    if not settings.roads.key:
        raise ServiceError(SERVICE, "this service wants a key", "Enter your key in settings.toml")
    profile = "driving-hgv" if request.vehicle.kind == "truck" else "driving-car"
    url = f"{settings.roads.openrouteservice_url.rstrip('/')}/v2/directions/{profile}/geojson"

    def read(body: bytes) -> tuple[Road, ...]:
        features = json_as(_Reply)(body).features
        if not features:
            raise UnreadableError("no road in the answer")
        return tuple(_road(feature, request) for feature in features)

    answer = client.get(
        SERVICE,
        url,
        read,
        json=_question(request),
        headers={"Authorization": settings.roads.key},
        gap_s=settings.roads.gap_s,
        keep_s=7 * 86_400.0,
    )
    return with_age(answer.value, answer)


def _question(request: RouteRequest) -> dict[str, Any]:
    vehicle = request.vehicle
    asked: dict[str, Any] = {
        "coordinates": [[round(site.lon_deg, 6), round(site.lat_deg, 6)] for site in request.sites],
        "instructions": True,
        "radiuses": [SNAP_M] * len(request.sites),
    }
    if vehicle.kind == "truck":
        size = {
            "height": vehicle.height_m,
            "width": vehicle.width_m,
            "length": vehicle.length_m,
            "weight": vehicle.weight_t,
            "axleload": vehicle.axle_load_t,
        }
        asked["options"] = {"vehicle_type": "hgv", "profile_params": {"restrictions": size}}
    if request.alternatives and len(request.sites) == 2:
        asked["alternative_routes"] = {"target_count": request.alternatives + 1}
    return asked


def _road(feature: _Feature, request: RouteRequest) -> Road:
    try:
        lon, lat = np.array([point[:2] for point in feature.geometry.coordinates], dtype=np.float64).T
    except ValueError as fault:
        raise UnreadableError("the shape of the road is broken") from fault
    legs = []
    for segment in feature.properties.segments:
        parts = [(*step.way_points, step.duration) for step in segment.steps]
        if not parts or any(not 0 <= first <= last < lat.size for first, last, _ in parts):
            raise UnreadableError("the steps lie outside the road")
        first, last = parts[0][0], parts[-1][1]
        inside = [(start - first, end - first, seconds) for start, end, seconds in parts]
        here = slice(first, last + 1)
        piece_s = spread_by_length(lat[here], lon[here], inside)
        legs.append(Leg(lat[here], lon[here], piece_s, segment.distance / 1000.0, segment.duration))
    vehicle = request.vehicle
    return road_from_legs(
        slowed(legs, vehicle.top_speed_kmh),
        request,
        source=say(
            "services.openrouteservice_no_faster",
            kind=str(vehicle.kind),
            top_speed_kmh=f"{vehicle.top_speed_kmh:.0f}",
        ),
        attribution=ATTRIBUTION,
        time_error_share=TIME_ERROR_SHARE,
    )
