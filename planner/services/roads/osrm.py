"""OSRM: fast car roads on the public or one's own server.

Protocol: the project's docs/http.md (v1). Its roads are made for cars: heights, weights and closing hours of
bridges are not known to it, which is said in the source line of every road for a larger vehicle; speeds above
the vehicle's own are cut.
"""

from __future__ import annotations

import msgspec
import numpy as np

from planner.model.records import Road
from planner.services.http import Client, UnreadableError, json_as
from planner.services.roads.legs import Leg, road_from_legs, slowed, with_age
from planner.services.roads.polyline import decode
from planner.services.roads.request import VEHICLES, RouteRequest
from planner.services.settings import Settings
from planner.words import say

SERVICE = "OSRM"
ATTRIBUTION = (
    "Road by OSRM, © OpenStreetMap contributors (ODbL), https://www.openstreetmap.org/copyright; "
    "mend the map at https://www.openstreetmap.org/fixthemap"
)
SNAP_M = 1000
TIME_ERROR_SHARE = 0.15
"""No traffic, no loading ramps, a driver's own pace (D)."""


class _Annotation(msgspec.Struct):
    duration: list[float]
    distance: list[float]


class _Leg(msgspec.Struct):
    distance: float
    duration: float
    annotation: _Annotation


class _Route(msgspec.Struct):
    geometry: str
    legs: list[_Leg]


class _Waypoint(msgspec.Struct):
    location: tuple[float, float]
    distance: float = 0.0


class _Reply(msgspec.Struct):
    code: str
    routes: list[_Route] = []
    waypoints: list[_Waypoint] = []
    message: str = ""


def find(client: Client, settings: Settings, request: RouteRequest) -> tuple[Road, ...]:
    """The road and up to ``request.alternatives`` others, best first."""
    places = ";".join(f"{site.lon_deg:.6f},{site.lat_deg:.6f}" for site in request.sites)
    url = f"{settings.roads.osrm_url.rstrip('/')}/route/v1/driving/{places}"
    params = {
        "overview": "full",
        "geometries": "polyline6",
        "annotations": "duration,distance",
        "generate_hints": "false",
        "radiuses": ";".join([str(SNAP_M)] * len(request.sites)),
    }
    if request.alternatives and len(request.sites) == 2:
        params["alternatives"] = str(request.alternatives)

    def read(body: bytes) -> tuple[Road, ...]:
        reply = json_as(_Reply)(body)
        if reply.code != "Ok" or not reply.routes:
            raise UnreadableError(
                say(
                    "services.no_road_code",
                    code=str(reply.code),
                    value=str(reply.message or "no reason given"),
                )
            )
        _check_snapped(reply, request)
        return tuple(_road(route, request) for route in reply.routes)

    answer = client.get(SERVICE, url, read, params=params, gap_s=settings.roads.gap_s, keep_s=7 * 86_400.0)
    return with_age(answer.value, answer)


def _check_snapped(reply: _Reply, request: RouteRequest) -> None:
    for site, waypoint in zip(request.sites, reply.waypoints, strict=False):
        if waypoint.distance > SNAP_M:
            raise UnreadableError(
                say(
                    "services.nearest_road_away",
                    name=str(site.name),
                    value=f"{waypoint.distance / 1000.0:.0f}",
                )
            )


def _road(route: _Route, request: RouteRequest) -> Road:
    lat, lon = decode(route.geometry)
    ends = np.cumsum([len(leg.annotation.duration) for leg in route.legs])
    if not ends.size or ends[-1] != lat.size - 1:
        raise UnreadableError("the shape of the road and its times do not fit")
    starts = [0, *ends[:-1]]
    legs = [
        Leg(
            lat[start : end + 1],
            lon[start : end + 1],
            np.array(leg.annotation.duration, dtype=np.float64),
            leg.distance / 1000.0,
            leg.duration,
        )
        for start, end, leg in zip(starts, ends, route.legs, strict=True)
    ]
    vehicle = request.vehicle
    source = "OSRM"
    if vehicle.top_speed_kmh < VEHICLES["car"].top_speed_kmh:
        legs = slowed(legs, vehicle.top_speed_kmh)
        source += say("services.no_faster_than_km", top_speed_kmh=f"{vehicle.top_speed_kmh:.0f}")
    if vehicle.height_m > VEHICLES["car"].height_m or vehicle.weight_t > 3.5:
        source += "; a car's road: low bridges and weight limits are NOT checked"
    return road_from_legs(
        legs, request, source=source, attribution=ATTRIBUTION, time_error_share=TIME_ERROR_SHARE
    )
