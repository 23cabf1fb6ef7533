"""Valhalla: roads for cars and trucks that know height, width, weight and time, on any server or one's own.

Protocol: the project's api-reference. The route gives times for each manoeuvre; a second request walks along
each leg for the speed on every edge, and where that fails the manoeuvres' times serve.
"""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np

from planner.errors import ServiceError
from planner.model.records import Floats, Road
from planner.services.http import Client, UnreadableError, json_as
from planner.services.roads.legs import Leg, road_from_legs, spread_by_length, with_age
from planner.services.roads.polyline import decode
from planner.services.roads.request import RoadVehicle, RouteRequest
from planner.services.settings import Settings
from planner.words import say

SERVICE = "Valhalla"
ATTRIBUTION = (
    "Road by Valhalla, © OpenStreetMap contributors (ODbL), https://www.openstreetmap.org/copyright; "
    "mend the map at https://www.openstreetmap.org/fixthemap"
)
CLIENT_ID = {"X-Client-Id": "skepway"}
TIME_ERROR_SHARE = 0.15
"""No live traffic, a driver's own pace (D)."""
WEEK_S = 7 * 86_400.0


class _Manoeuvre(msgspec.Struct):
    time: float
    begin_shape_index: int
    end_shape_index: int


class _Summary(msgspec.Struct):
    time: float
    length: float


class _Leg(msgspec.Struct):
    shape: str
    summary: _Summary
    maneuvers: list[_Manoeuvre]


class _Trip(msgspec.Struct):
    legs: list[_Leg]
    status: int = 0
    status_message: str = ""
    units: str = "kilometers"


class _Alternate(msgspec.Struct):
    trip: _Trip


class _Reply(msgspec.Struct):
    trip: _Trip
    alternates: list[_Alternate] = []


class _Edge(msgspec.Struct):
    length: float
    speed: float
    begin_shape_index: int
    end_shape_index: int


class _Trace(msgspec.Struct):
    edges: list[_Edge]
    units: str = "kilometers"


def find(
    client: Client, settings: Settings, request: RouteRequest, *, own_engine: bool = False
) -> tuple[Road, ...]:
    """The road and up to ``request.alternatives`` others, best first."""
    base = settings.roads.valhalla_url.rstrip("/")
    gap_s = 0.0 if own_engine else settings.roads.gap_s
    vehicle = _costing(request.vehicle)

    def read(body: bytes) -> _Reply:
        reply = json_as(_Reply)(body)
        if reply.trip.status != 0:
            raise UnreadableError(
                say("services.no_road", value=str(reply.trip.status_message or "no reason given"))
            )
        for trip in (reply.trip, *(other.trip for other in reply.alternates)):
            _road(trip, [None] * len(trip.legs), request)
        return reply

    answer = client.get(
        SERVICE, f"{base}/route", read, json=_question(request), headers=CLIENT_ID, gap_s=gap_s, keep_s=WEEK_S
    )

    def speeds(leg: _Leg) -> Floats | None:
        asked = {"encoded_polyline": leg.shape, "shape_match": "edge_walk", "units": "kilometers", **vehicle}
        count = decode(leg.shape)[0].size
        try:
            return client.get(
                SERVICE,
                f"{base}/trace_attributes",
                lambda body: _piece_times(body, count),
                json=asked,
                headers=CLIENT_ID,
                gap_s=gap_s,
                keep_s=WEEK_S,
            ).value
        except ServiceError:
            return None

    trips = (answer.value.trip, *(other.trip for other in answer.value.alternates))
    roads = [_road(trip, [speeds(leg) for leg in trip.legs], request) for trip in trips]
    return with_age(roads, answer)


def _question(request: RouteRequest) -> dict[str, Any]:
    asked: dict[str, Any] = {
        "locations": [
            {"lat": round(site.lat_deg, 6), "lon": round(site.lon_deg, 6)} for site in request.sites
        ],
        "units": "kilometers",
        "directions_type": "maneuvers",
        **_costing(request.vehicle),
    }
    if request.depart_local:
        asked["date_time"] = {"type": 1, "value": request.depart_local}
    if request.alternatives and len(request.sites) == 2:
        asked["alternates"] = request.alternatives
    return asked


def _costing(vehicle: RoadVehicle) -> dict[str, Any]:
    """Cars are weighed and measured too: the engine honours height and width for both."""
    size: dict[str, Any] = {
        "height": vehicle.height_m,
        "width": vehicle.width_m,
        "length": vehicle.length_m,
        "weight": vehicle.weight_t,
        "top_speed": round(vehicle.top_speed_kmh),
    }
    if vehicle.kind == "truck":
        size["axle_load"] = vehicle.axle_load_t
    costing = "truck" if vehicle.kind == "truck" else "auto"
    return {"costing": costing, "costing_options": {costing: size}}


def _road(trip: _Trip, times: list[Floats | None], request: RouteRequest) -> Road:
    if trip.units != "kilometers":
        raise UnreadableError(say("services.answer_counts", units=str(trip.units)))
    legs = [_leg(leg, piece_s) for leg, piece_s in zip(trip.legs, times, strict=True)]
    vehicle = request.vehicle
    size = f"{vehicle.kind}, {vehicle.height_m:g} m high, {vehicle.weight_t:g} t"
    return road_from_legs(
        legs,
        request,
        source=f"Valhalla ({size})",
        attribution=ATTRIBUTION,
        time_error_share=TIME_ERROR_SHARE,
    )


def _leg(leg: _Leg, piece_s: Floats | None) -> Leg:
    lat, lon = decode(leg.shape)
    if piece_s is None:
        parts = [(m.begin_shape_index, m.end_shape_index, m.time) for m in leg.maneuvers]
        if any(not 0 <= first <= last < lat.size for first, last, _ in parts):
            raise UnreadableError("the manoeuvres lie outside the road")
        piece_s = spread_by_length(lat, lon, parts)
    return Leg(lat, lon, piece_s, leg.summary.length, leg.summary.time)


def _piece_times(body: bytes, vertices: int) -> Floats:
    """Seconds of each piece from the edges' speeds; every piece must lie on an edge."""
    trace = json_as(_Trace)(body)
    piece_s = np.full(vertices - 1, np.nan)
    for edge in trace.edges:
        count = edge.end_shape_index - edge.begin_shape_index
        if count > 0 and edge.speed > 0.0:
            piece_s[edge.begin_shape_index : edge.end_shape_index] = edge.length / edge.speed * 3600.0 / count
    if trace.units != "kilometers" or not np.isfinite(piece_s).all():
        raise UnreadableError("the speeds do not cover the whole road")
    return piece_s
