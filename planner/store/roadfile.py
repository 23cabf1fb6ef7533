"""The road of a trip file: stated legs, vertices in the file, or a GeoJSON or CSV file beside it."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from planner.errors import Fault, InputError
from planner.model.geo import cumulative_km, great_circle_km, intermediate
from planner.model.records import Floats, Ints, Road, Site
from planner.model.waypoints import (
    MAX_SPEED_KMH,
    OFF_ROAD_KM,
    distances_km,
    found_in_order,
    reached_too_fast,
    with_ends_fixed,
)
from planner.store.documents import MAX_TABLE_BYTES, Document, read_text
from planner.store.schema import shown
from planner.store.tables import Column, read_table
from planner.words import say

VERTEX_KM = 5.0
"""Spacing of the vertices put between calls where only the legs are stated."""

MAX_VERTICES = 200_000

ROAD_COLUMNS = {
    "lat": Column(-90.0, 90.0),
    "lon": Column(-180.0, 180.0),
    "minutes": Column(0.0, 50_000.0),
    "km": Column(0.0, 50_000.0, required=False),
    "elevation_m": Column(-450.0, 6000.0, required=False, gaps=True),
}

STATED_LEGS = "legs stated in the trip file"
"""Source of a road of which only length and time from call to call are known; the line between is straight."""

GEOMETRIES = ("legs", "points", "file")


@dataclass(frozen=True)
class Line:
    """Vertices of a road before its calls are found on it, all (vertex,)."""

    lat_deg: Floats
    lon_deg: Floats
    minutes: Floats
    km: Floats
    elevation_m: Floats


def road_of(table: Document, waypoints: Sequence[Site], base_folder: Path | None) -> Road | None:
    """The road a checked ``road`` table states, None when it states no geometry.

    ``base_folder`` None leaves a named file unread. Raises InputError.
    """
    given = [key for key in GEOMETRIES if table.get(key)]
    if len(given) > 1:
        problem = " and ".join(given) + " are both given"
        raise _fault("road", "", problem, "Keep one of them")
    if not given:
        return None
    if given == ["legs"]:
        return _from_legs(table, waypoints)
    line = _inline(table["points"]) if given == ["points"] else _from_file(table["file"], base_folder)
    return None if line is None else _on_line(table, line, waypoints)


def road_table(road: Road) -> Document:
    """The ``road`` table that states a road: vertices, calls and who computed it."""
    heights = np.isfinite(road.elevation_m)
    rows = zip(
        road.lat_deg, road.lon_deg, road.drive_s / 60.0, road.km, road.elevation_m, heights, strict=True
    )
    return {
        "source": road.source,
        **({"attribution": road.attribution} if road.attribution else {}),
        "estimated": road.estimated,
        "time_error_share": road.time_error_share,
        "calls": [int(vertex) for vertex in road.waypoint_vertex],
        "points": [
            [round(float(lat), 5), round(float(lon), 5), round(float(minutes), 3), round(float(km), 3)]
            + ([round(float(elevation), 1)] if known else [])
            for lat, lon, minutes, km, elevation, known in rows
        ],
    }


def file_beside(name: str, base_folder: Path, field: str) -> Path:
    """A file in the folder of the trip, day or lane that names it; names that lead elsewhere are refused."""
    try:
        path = (base_folder / name).resolve()
    except (OSError, RuntimeError) as error:  # a circle of links
        raise _fault(field, name, say("files.not_beside"), say("files.check_name")) from error
    if Path(name).is_absolute() or not path.is_relative_to(base_folder.resolve()):
        raise _fault(field, name, say("files.outside_folder"), say("files.put_beside"))
    if not path.is_file():
        raise _fault(field, name, say("files.not_beside"), say("files.check_name"))
    return path


# -- legs ----------------------------------------------------------------------------------------


def _from_legs(table: Document, waypoints: Sequence[Site]) -> Road:
    """Great circles between the calls, stretched to the stated lengths and times."""
    legs = table["legs"]
    if len(legs) != len(waypoints) - 1:
        problem = say("files.legs_between_calls", count=len(legs), count_2=len(waypoints))
        raise _fault("road.legs", "", problem, say("files.give_so_many_legs", value=str(len(waypoints) - 1)))
    faults = [
        fault
        for at, leg in enumerate(legs)
        for fault in _leg_faults(at, leg, waypoints[at], waypoints[at + 1])
    ]
    if faults:
        raise InputError(faults)
    pieces = [_leg_line(leg, waypoints[at], waypoints[at + 1]) for at, leg in enumerate(legs)]
    line = _joined(pieces)
    vertex = np.cumsum([0, *(piece.km.size - 1 for piece in pieces)])
    return _road(table, line, vertex, STATED_LEGS, estimated=True)


def _leg_faults(at: int, leg: Document, start: Site, end: Site) -> list[Fault]:
    field, km, minutes = f"road.legs[{at}]", leg["km"], leg["minutes"]
    straight = float(great_circle_km(start.lat_deg, start.lon_deg, end.lat_deg, end.lon_deg))
    faults = []
    if km < 0.98 * straight - 0.5:
        problem = say(
            "files.km_crow_flies", name=str(start.name), name_2=str(end.name), straight=f"{straight:.0f}"
        )
        faults.append(Fault(f"{field}.km", shown(km), problem, "Check the length and both places"))
    if km > minutes / 60.0 * MAX_SPEED_KMH + 0.2:
        problem = say(
            "files.too_fast",
            km=f"{km:g}",
            minutes=f"{minutes:g}",
            max_speed_kmh=f"{MAX_SPEED_KMH:g}",
        )
        faults.append(Fault(f"{field}.minutes", shown(minutes), problem, "Check length and time of this leg"))
    return faults


def _leg_line(leg: Document, start: Site, end: Site) -> Line:
    share = np.linspace(0.0, 1.0, max(1, math.ceil(leg["km"] / VERTEX_KM)) + 1)
    lat, lon = intermediate(start.lat_deg, start.lon_deg, end.lat_deg, end.lon_deg, share)
    heights = [math.nan if site.elevation_m is None else site.elevation_m for site in (start, end)]
    return Line(
        lat, lon, share * leg["minutes"], share * leg["km"], heights[0] + share * (heights[1] - heights[0])
    )


def _joined(pieces: Sequence[Line]) -> Line:
    """Legs end to end; the vertex two legs share is kept once."""

    def chained(name: str, *, add: bool) -> Floats:
        parts, offset = [], 0.0
        for at, piece in enumerate(pieces):
            values = getattr(piece, name)
            parts.append((values if at == 0 else values[1:]) + offset)
            offset += values[-1] if add else 0.0
        return np.concatenate(parts)

    return Line(
        chained("lat_deg", add=False),
        chained("lon_deg", add=False),
        chained("minutes", add=True),
        chained("km", add=True),
        chained("elevation_m", add=False),
    )


# -- vertices ------------------------------------------------------------------------------------


def _inline(points: list[list[float]]) -> Line:
    lengths = {len(row) for row in points}
    with_km = min(lengths) > 3
    if not with_km and max(lengths) > 3:
        short = next(at for at, row in enumerate(points) if len(row) == 3)
        raise _fault(f"road.points[{short}]", "", "km is missing here", "Give km in every row or in none")
    table = np.array([[*row, *[math.nan] * (5 - len(row))] for row in points], dtype=np.float64)
    _require_range(table, "road.points")
    lat, lon, minutes, km, elevation = table.T
    return Line(lat, lon, minutes, km if with_km else cumulative_km(lat, lon), elevation)


def _require_range(table: Floats, field: str) -> None:
    limits = np.array([(c.low, c.high) for c in ROAD_COLUMNS.values()])
    with np.errstate(invalid="ignore"):
        bad = (table < limits[:, 0]) | (table > limits[:, 1])
    bad[:, :3] |= np.isnan(table[:, :3])
    if np.any(bad):
        at, column = np.argwhere(bad)[0]
        problem = say(
            "files.value_out_of_bounds",
            value=str(list(ROAD_COLUMNS)[column]),
            limit=f"{limits[column, 0]:g}",
            limit_2=f"{limits[column, 1]:g}",
        )
        raise _fault(
            f"{field}[{at}]", f"{table[at, column]:g}", problem, "Check the order: lat, lon, minutes"
        )


def _from_file(name: str, base_folder: Path | None) -> Line | None:
    if base_folder is None:
        return None
    path = file_beside(name, base_folder, "road.file")
    text = read_text(path, MAX_TABLE_BYTES, "a GeoJSON or CSV file")
    if path.suffix.lower() in (".geojson", ".json"):
        return _from_geojson(text, path.name)
    return _from_csv(text, path.name)


def _from_csv(text: str, where: str) -> Line:
    columns = read_table(text, ROAD_COLUMNS, where).columns
    lat, lon, km = columns["lat"], columns["lon"], columns["km"]
    stated = not np.any(np.isnan(km))
    return Line(
        lat, lon, columns["minutes"], km if stated else cumulative_km(lat, lon), columns["elevation_m"]
    )


def _from_geojson(text: str, where: str) -> Line:
    """A LineString whose properties hold ``minutes``, one for each vertex."""
    try:
        feature = _feature(json.loads(text, parse_constant=_refuse_constant))
        coordinates, stated = feature["geometry"]["coordinates"], feature["properties"]["minutes"]
        rows = [[c[1], c[0], m, *c[2:3]] for c, m in zip(coordinates, stated, strict=True)]
        table = np.array([[*row, *[math.nan] * (4 - len(row))] for row in rows], dtype=np.float64)
    except (ValueError, TypeError, KeyError, IndexError, RecursionError, OverflowError) as error:
        problem = "this is not a GeoJSON line with driving times"
        remedy = "Give one LineString whose properties hold minutes, one number for each vertex"
        raise InputError([Fault("road.file", "", problem, remedy)], where) from error
    if table.ndim != 2 or not 2 <= len(table) <= MAX_VERTICES:
        problem = f"{len(table)} vertices"
        raise InputError(
            [
                Fault(
                    "road.file",
                    "",
                    problem,
                    say("files.give_so_many_vertices", max_vertices=str(MAX_VERTICES)),
                )
            ],
            where,
        )
    lat, lon, minutes, elevation = table.T
    _require_range(np.column_stack([lat, lon, minutes, np.zeros(len(lat)), elevation]), "road.file")
    return Line(lat, lon, minutes, cumulative_km(lat, lon), elevation)


def _feature(loaded: Any) -> Any:
    return loaded["features"][0] if loaded["type"] == "FeatureCollection" else loaded


def _refuse_constant(word: str) -> float:
    raise ValueError(say("files.no_number", word=str(word)))


def _on_line(table: Document, line: Line, waypoints: Sequence[Site]) -> Road:
    _require_forward(line, "road.points" if "points" in table else "road.file")
    vertex = (
        _stated_waypoints(table["calls"], line, waypoints)
        if table.get("calls")
        else _found_waypoints(line, waypoints)
    )
    return _road(table, line, vertex, "vertices of the trip file", estimated=False)


def _require_forward(line: Line, field: str) -> None:
    """Times and distances never run back, and no stretch is faster than any vehicle."""
    for values, name in ((line.minutes, "minutes"), (line.km, "km")):
        if np.any(back := np.diff(values) < 0):
            at = int(np.argmax(back)) + 1
            raise _fault(
                f"{field}[{at}]",
                "",
                say("files.times_run_back", name=str(name)),
                say("files.give_since_start", name=str(name)),
            )
    fast = reached_too_fast(line.km, line.minutes * 60.0)
    if fast is not None:
        raise _fault(
            f"{field}[{fast}]",
            "",
            say("files.too_fast_to_here", max_speed_kmh=f"{MAX_SPEED_KMH:g}"),
            "Check the minutes",
        )
    if not np.isfinite(line.minutes).all() or line.km[-1] <= 0:
        raise _fault(field, "", "the road leads nowhere", "Give at least two vertices apart")


def _stated_waypoints(stated: list[int], line: Line, waypoints: Sequence[Site]) -> Ints:
    vertex = np.array(stated, dtype=np.int64)
    right = vertex.size == len(waypoints) and vertex[0] == 0 and vertex[-1] == line.km.size - 1
    if not right or np.any(np.diff(vertex) < 0):
        problem = say("files.not_rising_vertices", count=len(waypoints), value=str(line.km.size - 1))
        raise _fault("road.calls", shown(stated), problem, "Leave calls out to have them found")
    _require_near(line, waypoints, vertex)
    return vertex


def _found_waypoints(line: Line, waypoints: Sequence[Site]) -> Ints:
    """The vertex of each call in driving order; the line begins and ends with the first and the last."""
    vertex = found_in_order(with_ends_fixed(_away_km(line, waypoints)))
    _require_near(line, waypoints, vertex)
    return vertex


def _away_km(line: Line, waypoints: Sequence[Site]) -> Floats:
    """Distance of every call to every vertex, (call, vertex)."""
    lat, lon = np.array([(site.lat_deg, site.lon_deg) for site in waypoints]).T
    return distances_km(lat, lon, line.lat_deg, line.lon_deg)


def _require_near(line: Line, waypoints: Sequence[Site], vertex: Ints) -> None:
    lat, lon = np.array([(site.lat_deg, site.lon_deg) for site in waypoints]).T
    away = great_circle_km(lat, lon, line.lat_deg[vertex], line.lon_deg[vertex])
    faults = [
        Fault(
            _waypoint_field(at, len(waypoints)),
            site.name,
            say("files.lies_km_off", away=f"{away[at]:.0f}"),
            "Check the coordinates, the order of the stops, or the road",
        )
        for at, site in enumerate(waypoints)
        if away[at] > OFF_ROAD_KM
    ]
    if faults:
        raise InputError(faults)


def _waypoint_field(at: int, count: int) -> str:
    return "origin" if at == 0 else "destination" if at == count - 1 else f"stops[{at - 1}]"


def _road(table: Document, line: Line, vertex: Ints, source: str, *, estimated: bool) -> Road:
    return Road(
        lat_deg=line.lat_deg,
        lon_deg=line.lon_deg,
        elevation_m=line.elevation_m,
        km=line.km - line.km[0],
        drive_s=(line.minutes - line.minutes[0]) * 60.0,
        waypoint_vertex=tuple(int(at) for at in vertex),
        source=table.get("source", source),
        estimated=table.get("estimated", estimated),
        time_error_share=float(table.get("time_error_share", 0.0)),
        attribution=table.get("attribution", ""),
    )


def _fault(field: str, value: str, problem: str, remedy: str) -> InputError:
    return InputError([Fault(field, value, problem, remedy)])
