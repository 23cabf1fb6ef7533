"""How the stand-in speaks the routing services' formats: straight roads at a fixed pace between the places."""

from __future__ import annotations

import itertools
import math
from typing import Any

from tests.services.standin import Seen, StandIn, speaks

SPEED_MS = 22.0
PIECE_KM = 2.0


def encode(points: list[tuple[float, float]]) -> str:
    """The encoded polyline of (lat, lon) points with six decimals."""
    text, before = [], (0, 0)
    for lat, lon in points:
        now = (round(lat * 1e6), round(lon * 1e6))
        for value, last in zip(now, before, strict=True):
            step = (value - last) << 1
            step = ~step if step < 0 else step
            while step >= 32:
                text.append(chr((step & 31 | 32) + 63))
                step >>= 5
            text.append(chr(step + 63))
        before = now
    return "".join(text)


def metres(a: tuple[float, float], b: tuple[float, float]) -> float:
    lat = math.radians((a[0] + b[0]) / 2.0)
    north, east = b[0] - a[0], (b[1] - a[1]) * math.cos(lat)
    return math.hypot(north, east) * 111_195.0


def straight(a: tuple[float, float], b: tuple[float, float]) -> list[tuple[float, float]]:
    pieces = max(1, round(metres(a, b) / 1000.0 / PIECE_KM))
    return [(a[0] + (b[0] - a[0]) * k / pieces, a[1] + (b[1] - a[1]) * k / pieces) for k in range(pieces + 1)]


def _legs(places: list[tuple[float, float]]) -> list[list[tuple[float, float]]]:
    return [straight(a, b) for a, b in itertools.pairwise(places)]


def _length(leg: list[tuple[float, float]]) -> float:
    return sum(metres(a, b) for a, b in itertools.pairwise(leg))


@speaks(r"/route/v1/driving/([-\d.,;]+)")
def _osrm(world: StandIn, seen: Seen, text: str) -> Any:
    places = [(float(pair.split(",")[1]), float(pair.split(",")[0])) for pair in text.split(";")]
    if any(lat < -60.0 for lat, _ in places):
        said = {"code": "NoSegment", "message": "Could not find a matching segment for coordinate 0"}
        return 400, said, {}
    legs = _legs(places)
    points = [legs[0][0], *(point for leg in legs for point in leg[1:])]

    def route(pace: float) -> dict[str, Any]:
        documents = []
        for leg in legs:
            steps = [metres(a, b) for a, b in itertools.pairwise(leg)]
            times = [step / pace for step in steps]
            documents.append(
                {
                    "annotation": {"distance": steps, "duration": times, "speed": [pace] * len(steps)},
                    "distance": sum(steps),
                    "duration": sum(times) + 20.0,
                    "summary": "",
                    "steps": [],
                    "weight": 1.0,
                }
            )
        return {"geometry": encode(points), "legs": documents, "weight_name": "routability"}

    count = 1 + int(seen.query.get("alternatives", 0))
    return {
        "code": "Ok",
        "routes": [route(SPEED_MS - 4.0 * k) for k in range(count)],
        "waypoints": [{"distance": 12.0, "name": "", "location": [lon, lat]} for lat, lon in places],
    }


@speaks("/route")
def _valhalla(world: StandIn, seen: Seen) -> Any:
    asked = seen.json
    if len(asked.get("locations", [])) < 2:
        return _valhalla_error(120, "Insufficient number of locations provided")
    places = [(place["lat"], place["lon"]) for place in asked["locations"]]
    if any(lat < -60.0 for lat, _ in places):
        return _valhalla_error(171, "No suitable edges near location")
    trip_legs = []
    for leg in _legs(places):
        seconds, km = _length(leg) / SPEED_MS, _length(leg) / 1000.0
        half = len(leg) // 2
        trip_legs.append(
            {
                "shape": encode(leg),
                "summary": {"time": seconds, "length": km, "has_toll": False},
                "maneuvers": [
                    _manoeuvre(seconds * 0.5, 0, half),
                    _manoeuvre(seconds * 0.5, half, len(leg) - 1),
                    _manoeuvre(0.0, len(leg) - 1, len(leg) - 1),
                ],
            }
        )
    trip = {"legs": trip_legs, "status": 0, "status_message": "Found route", "units": "kilometers"}
    others = [{"trip": trip}] * asked.get("alternates", 0)
    return {"trip": trip, **({"alternates": others} if others else {})}


def _manoeuvre(seconds: float, first: int, last: int) -> dict[str, Any]:
    return {"type": 1, "time": seconds, "length": 1.0, "begin_shape_index": first, "end_shape_index": last}


def _valhalla_error(code: int, words: str) -> Any:
    return 400, {"error_code": code, "error": words, "status_code": 400, "status": "Bad Request"}, {}


@speaks("/trace_attributes")
def _trace(world: StandIn, seen: Seen) -> Any:
    """Slow in the first half of the edges, twice as fast in the second."""
    from planner.services.roads.polyline import decode

    lat, lon = decode(seen.json["encoded_polyline"])
    points = list(zip(lat.tolist(), lon.tolist(), strict=True))
    edges = []
    for index, (a, b) in enumerate(itertools.pairwise(points)):
        speed = 50.0 if index < (len(points) - 1) / 2.0 else 100.0
        edges.append(
            {
                "length": metres(a, b) / 1000.0,
                "speed": speed,
                "begin_shape_index": index,
                "end_shape_index": index + 1,
            }
        )
    return {"units": "kilometers", "edges": edges}


@speaks(r"/v2/directions/(driving-car|driving-hgv)/geojson")
def _openrouteservice(world: StandIn, seen: Seen, profile: str) -> Any:
    if not seen.headers.get("Authorization"):
        return 403, {"error": "Access to this API has been disallowed"}, {}
    places = [(lat, lon) for lon, lat in seen.json["coordinates"]]
    if any(lat < -60.0 for lat, _ in places):
        message = "Could not find routable point within a radius of 1000.0 meters of specified coordinate 0"
        return 404, {"error": {"code": 2010, "message": message}, "info": {}}, {}
    legs = _legs(places)
    points = [legs[0][0], *(point for leg in legs for point in leg[1:])]
    segments, start = [], 0
    for leg in legs:
        count = len(leg) - 1
        seconds = _length(leg) / SPEED_MS
        steps = [
            {"distance": _length(leg), "duration": seconds, "way_points": [start, start + count]},
            {"distance": 0.0, "duration": 0.0, "way_points": [start + count, start + count]},
        ]
        segments.append({"distance": _length(leg), "duration": seconds, "steps": steps})
        start += count
    feature = {
        "type": "Feature",
        "geometry": {"type": "LineString", "coordinates": [[lon, lat] for lat, lon in points]},
        "properties": {"segments": segments, "way_points": [0, start]},
    }
    return {"type": "FeatureCollection", "features": [feature]}
