"""Roads from files: GPX, GeoJSON or KML tracks out of the user's own planner or logger.

Untrusted input: size is capped and XML with a document type (the way to entity bombs) is refused unread.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import gpxpy
import gpxpy.gpx
import msgspec
import numpy as np

from planner.errors import Fault, InputError, StorageError, reason_of
from planner.model.geo import cumulative_km
from planner.model.records import Floats, Road, Site
from planner.model.waypoints import OFF_ROAD_KM, distances_km, found_in_order, reached_too_fast
from planner.reading import reading_file
from planner.services.roads.estimate import mean_speed_kmh
from planner.services.roads.request import VEHICLES, RoadVehicle
from planner.words import say

MOST_BYTES = 32 * 1024 * 1024
MOST_POINTS = 150_000
MOST_MARKS = 8 * MOST_POINTS
"""Brackets or tags of a file, counted before anybody lays them out in memory."""
STANDING_KMH = 3.0
SLOWEST_KMH = 5.0
TIME_ERROR_SHARE = 0.3
"""Where a track has no times, speeds are guessed from its length (D)."""


@dataclass(frozen=True)
class Track:
    """A line from a file, each (point,): degrees, metres and POSIX seconds (NaN where the file has none)."""

    name: str
    lat_deg: Floats
    lon_deg: Floats
    elevation_m: Floats
    time_s: Floats


def load_track(path: Path) -> Track:
    """The track in a file; raises StorageError or InputError in plain words."""
    try:
        if path.exists() and not path.is_file():
            raise InputError([_fault("this is not a file", "Choose a track")], path.name)
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as fault:
        raise StorageError(
            say("services.track_cannot_read", path=str(path), reason=reason_of(fault))
        ) from fault
    return read_track(data, path.name)


def read_track(data: bytes, name: str) -> Track:
    """The track in the bytes of a GPX, GeoJSON or KML file; its kind is seen from its content."""
    if len(data) > MOST_BYTES:
        raise InputError([_fault("the file is larger than 32 MB", "Simplify the track")], name)
    with reading_file(name, "a GPX, GeoJSON or KML track"):
        return _read(data, name)


def _read(data: bytes, name: str) -> Track:
    start = data.lstrip(b"\xef\xbb\xbf \t\r\n")[:1]
    marks = data.count(b"[") * 4 if start == b"{" else data.count(b"<")
    if marks > MOST_MARKS:
        raise InputError(
            [_fault(say("services.more_points", most_points=str(MOST_POINTS)), "Simplify the track")],
            name,
        )
    if start == b"{":
        rows = _from_geojson(data, name)
    elif start == b"<":
        _refuse_document_type(data, name)
        rows = _from_gpx(data, name) if b"<gpx" in data[:4096].lower() else _from_kml(data, name)
    else:
        raise InputError([_fault("this is neither GPX nor GeoJSON nor KML", "Export the track again")], name)
    return _checked(rows, name)


def road_along(track: Track, sites: Sequence[Site] = (), vehicle: RoadVehicle = VEHICLES["car"]) -> Road:
    """The track as a road through ``sites`` (default: from its first to its last point).

    Driving times are the recorded ones with standing left out, or guessed from length where there are none.
    Raises InputError naming each site that the track does not pass, or not in this order.
    """
    km = cumulative_km(track.lat_deg, track.lon_deg)
    recorded_s = _recorded_s(track, km)
    if recorded_s is not None:
        drive_s, source, error = recorded_s, say("services.track_recorded_times", name=str(track.name)), 0.1
    else:
        speed_kmh = mean_speed_kmh(float(km[-1]), vehicle.top_speed_kmh)
        drive_s = km / speed_kmh * 3600.0
        source, error = (
            say("services.track_times_estimated", name=str(track.name), speed_kmh=f"{speed_kmh:.0f}"),
            TIME_ERROR_SHARE,
        )
    return Road(
        lat_deg=track.lat_deg,
        lon_deg=track.lon_deg,
        elevation_m=track.elevation_m,
        km=km,
        drive_s=drive_s,
        waypoint_vertex=_calls(track, sites),
        source=source,
        estimated=recorded_s is None,
        time_error_share=error,
    )


def _calls(track: Track, sites: Sequence[Site]) -> tuple[int, ...]:
    """The vertex of each site, in order along the track; it may begin before the first and go on after the last."""
    if not sites:
        return 0, track.lat_deg.size - 1
    lat, lon = np.array([(site.lat_deg, site.lon_deg) for site in sites]).T
    away_km = distances_km(lat, lon, track.lat_deg, track.lon_deg)
    vertex = found_in_order(away_km)
    remedy = "Move the place, change the order, or choose the road anew"
    faults = [
        Fault(
            site.name, "", say("services.off_the_track", off_km=f"{off_km:.0f}", name=str(track.name)), remedy
        )
        for site, off_km in zip(sites, away_km[np.arange(len(sites)), vertex], strict=True)
        if off_km > OFF_ROAD_KM
    ]
    if faults:
        raise InputError(faults, track.name)
    return tuple(int(at) for at in vertex)


def _recorded_s(track: Track, km: Floats) -> Floats | None:
    """Driving time from recorded stamps without standing; None where they cannot be a drive."""
    steps_s = np.diff(track.time_s)
    if not np.isfinite(steps_s).all() or np.any(steps_s < 0.0) or track.time_s[-1] <= track.time_s[0]:
        return None
    if reached_too_fast(km, track.time_s) is not None:
        return None
    steps_km = np.diff(km)
    standing = steps_km * 3600.0 < STANDING_KMH * steps_s
    driving_s = np.where(standing, 0.0, steps_s)
    total_s = float(driving_s.sum())
    if total_s <= 0.0 or km[-1] / total_s * 3600.0 <= SLOWEST_KMH:
        return None
    return np.concatenate(([0.0], np.cumsum(driving_s)))


# -- reading -------------------------------------------------------------------------------------


def _fault(problem: str, remedy: str) -> Fault:
    return Fault("track", "", problem, remedy)


def _refuse_document_type(data: bytes, name: str) -> None:
    """Entities can make a small file fill the memory; neither GPX nor KML needs a document type."""
    if re.search(rb"<!\s*(DOCTYPE|ENTITY)", data, re.IGNORECASE) or b"\x00" in data[:200]:
        raise InputError(
            [_fault("the file declares a document type or is not UTF-8", "Export it again as plain GPX")],
            name,
        )


def _from_gpx(data: bytes, name: str) -> list[tuple[float, float, float, float]]:
    """Tracks of the file one after another, else its routes."""
    try:
        gpx = gpxpy.parse(data)
    except (gpxpy.gpx.GPXException, UnicodeDecodeError, ValueError, LookupError) as fault:
        raise InputError(
            [_fault(say("services.gpx_cannot_read", fault=str(fault)), "Export it again")], name
        ) from fault
    points: list[Any] = [point for track in gpx.tracks for part in track.segments for point in part.points]
    points = points or [point for route in gpx.routes for point in route.points]
    return [
        (
            point.latitude,
            point.longitude,
            np.nan if point.elevation is None else point.elevation,
            np.nan if point.time is None else point.time.timestamp(),
        )
        for point in points
    ]


def _from_geojson(data: bytes, name: str) -> list[tuple[float, float, float, float]]:
    try:
        lines = list(_lines(msgspec.json.decode(data)))
        rows = [position for line in lines for position in line]
        return [
            (float(row[1]), float(row[0]), float(row[2]) if len(row) > 2 else np.nan, np.nan) for row in rows
        ]
    except (msgspec.DecodeError, UnicodeDecodeError) as fault:
        raise InputError(
            [_fault(say("services.json_cannot_read", fault=str(fault)), "Export it again")], name
        ) from fault
    except (TypeError, ValueError, KeyError, IndexError, AttributeError, RecursionError) as fault:
        raise InputError(
            [_fault("the GeoJSON has another form than its standard", "Export it again")], name
        ) from fault


def _lines(thing: Any) -> Any:
    """Every line of positions in a GeoJSON object (RFC 7946), in file order."""
    kind = thing.get("type")
    if kind == "FeatureCollection":
        for feature in thing["features"]:
            yield from _lines(feature)
    elif kind == "Feature" and thing.get("geometry"):
        yield from _lines(thing["geometry"])
    elif kind == "GeometryCollection":
        for geometry in thing["geometries"]:
            yield from _lines(geometry)
    elif kind == "LineString":
        yield thing["coordinates"]
    elif kind == "MultiLineString":
        yield from thing["coordinates"]


def _from_kml(data: bytes, name: str) -> list[tuple[float, float, float, float]]:
    try:
        root = ElementTree.fromstring(data)
        rows = []
        for element in root.iter():
            tag = element.tag.rpartition("}")[2]
            if tag == "LineString":
                text = next((part.text for part in element if part.tag.endswith("coordinates")), "") or ""
                rows += [[float(number) for number in word.split(",")] for word in text.split()]
            elif tag == "coord" and element.text:
                rows.append([float(number) for number in element.text.split()])
        return [(row[1], row[0], row[2] if len(row) > 2 else np.nan, np.nan) for row in rows]
    except (ElementTree.ParseError, ValueError, LookupError) as fault:
        raise InputError(
            [_fault(say("services.kml_cannot_read", fault=str(fault)), "Export it again")], name
        ) from fault


def _checked(rows: list[tuple[float, float, float, float]], name: str) -> Track:
    """Positions on the earth, without repeats, at least two and not too many."""
    if len(rows) > MOST_POINTS:
        raise InputError(
            [_fault(say("services.too_many_points", count=len(rows)), "Simplify the track")], name
        )
    table = np.array(rows, dtype=np.float64).reshape(-1, 4)
    lat, lon = table[:, 0], table[:, 1]
    bad = ~(np.isfinite(lat) & np.isfinite(lon) & (np.abs(lat) <= 90.0) & (np.abs(lon) <= 180.0))
    if bad.any():
        first = int(np.argmax(bad)) + 1
        raise InputError(
            [_fault(say("services.point_off_earth", first=str(first)), "Correct or cut the track")], name
        )
    stays = (np.diff(lat, prepend=np.nan) == 0.0) & (np.diff(lon, prepend=np.nan) == 0.0)
    table = table[~stays]
    if len(table) < 2:
        raise InputError([_fault("there is no line with two points in it", "Export the track again")], name)
    return Track(name, *table.T.copy())
