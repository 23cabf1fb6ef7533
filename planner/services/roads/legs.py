"""From what a routing service says leg by leg to one Road: vertices, kilometres, driving time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from planner.model.geo import cumulative_km, great_circle_km
from planner.model.records import Floats, Road
from planner.model.waypoints import LONGEST_DRIVE_S, OFF_ROAD_KM, reached_too_fast
from planner.services.http import CachedResponse, UnreadableError
from planner.services.roads.request import RouteRequest
from planner.words import say

LENGTH_TOLERANCE = 0.1
"""Geometry is simplified a little by services; a tenth says that shape and length belong to different roads."""


@dataclass(frozen=True)
class Leg:
    """One leg: (vertex,) positions, (vertex - 1,) seconds of each piece, and the length the service states."""

    lat_deg: Floats
    lon_deg: Floats
    piece_s: Floats
    length_km: float
    duration_s: float


def road_from_legs(
    legs: Sequence[Leg], request: RouteRequest, *, source: str, attribution: str, time_error_share: float
) -> Road:
    """Join the legs; raises UnreadableError where they do not fit each other or the places asked for."""
    if len(legs) != len(request.sites) - 1:
        raise UnreadableError(say("services.answer_holds_legs", count=len(legs), count_2=len(request.sites)))
    for leg in legs:
        _check(leg)
    km_of = [_lengths_km(leg) for leg in legs]
    pieces = [_scaled(leg.piece_s, leg.duration_s) for leg in legs]
    ends = np.cumsum([leg.lat_deg.size - 1 for leg in legs])
    km = np.concatenate([[0.0], *km_of])
    drive_s = np.concatenate([[0.0], *pieces])
    lat = np.concatenate([legs[0].lat_deg[:1], *(leg.lat_deg[1:] for leg in legs)])
    lon = np.concatenate([legs[0].lon_deg[:1], *(leg.lon_deg[1:] for leg in legs)])
    road = Road(
        lat_deg=lat,
        lon_deg=lon,
        elevation_m=np.full(lat.shape, np.nan),
        km=np.cumsum(km),
        drive_s=np.cumsum(drive_s),
        waypoint_vertex=(0, *(int(end) for end in ends)),
        source=source,
        time_error_share=time_error_share,
        attribution=attribution,
    )
    _check_waypoints(road, request)
    _check_speed(road)
    return road


def with_age(roads: Sequence[Road], answer: CachedResponse[Any]) -> tuple[Road, ...]:
    """The roads with every remark on the age of the answer added to their source lines."""
    if not answer.notes:
        return tuple(roads)
    return tuple(replace(road, source=f"{road.source}; {'; '.join(answer.notes)}") for road in roads)


def slowed(legs: Sequence[Leg], top_speed_kmh: float) -> list[Leg]:
    """The legs with no piece driven faster than ``top_speed_kmh``; for services that know cars only."""
    return [_slow(leg, top_speed_kmh) for leg in legs]


def with_time_factor(road: Road, factor: float) -> Road:
    """The road with every driving time multiplied by the user's own factor."""
    return replace(road, drive_s=road.drive_s * factor)


def spread_by_length(lat_deg: Floats, lon_deg: Floats, parts: Sequence[tuple[int, int, float]]) -> Floats:
    """Seconds of each piece where a service times only longer parts (first vertex, last vertex, seconds)."""
    length_km = np.diff(cumulative_km(lat_deg, lon_deg))
    piece_s = np.zeros(length_km.shape)
    for first, last, seconds in parts:
        inside = slice(first, last)
        total = float(length_km[inside].sum())
        if last > first:
            share = length_km[inside] / total if total > 0.0 else np.full(last - first, 1.0 / (last - first))
            piece_s[inside] += seconds * share
    return piece_s


def _slow(leg: Leg, top_speed_kmh: float) -> Leg:
    fastest_s = _lengths_km(leg) / top_speed_kmh * 3600.0
    timed_s = _scaled(leg.piece_s, leg.duration_s)
    piece_s = np.maximum(timed_s, fastest_s)
    return replace(leg, piece_s=piece_s, duration_s=leg.duration_s + float((piece_s - timed_s).sum()))


def _scaled(piece_s: Floats, duration_s: float) -> Floats:
    """Times of the pieces made to sum up to the leg's, which also counts turns."""
    total = float(piece_s.sum())
    if total > 0.0:
        return piece_s * (duration_s / total)
    return np.full(piece_s.shape, duration_s / max(piece_s.size, 1))


def _lengths_km(leg: Leg) -> Floats:
    """Lengths of the pieces, scaled to the length the service states."""
    along = np.diff(cumulative_km(leg.lat_deg, leg.lon_deg))
    total = float(along.sum())
    return along * (leg.length_km / total) if total > 0.0 else np.zeros(along.shape)


def _check(leg: Leg) -> None:
    if leg.lat_deg.size < 2 or leg.piece_s.size != leg.lat_deg.size - 1:
        raise UnreadableError(
            say("services.answer_gives_times", size=str(leg.piece_s.size), size_2=str(leg.lat_deg.size))
        )
    numbers = (leg.lat_deg, leg.lon_deg, leg.piece_s, [leg.length_km, leg.duration_s])
    if (
        not all(np.isfinite(values).all() for values in numbers)
        or np.any(leg.piece_s < 0.0)
        or leg.duration_s < 0.0
    ):
        raise UnreadableError("the answer holds impossible numbers")
    if np.any(np.abs(leg.lat_deg) > 90.0) or np.any(np.abs(leg.lon_deg) > 180.0):
        raise UnreadableError("the answer holds places outside the earth")
    shape_km = float(cumulative_km(leg.lat_deg, leg.lon_deg)[-1])
    if abs(shape_km - leg.length_km) > LENGTH_TOLERANCE * max(leg.length_km, 1.0):
        raise UnreadableError(
            say("services.shape_km_length", shape_km=f"{shape_km:.1f}", length_km=f"{leg.length_km:.1f}")
        )


def _check_speed(road: Road) -> None:
    at = reached_too_fast(road.km, road.drive_s)
    if at is not None:
        minutes = road.drive_s[at] / 60.0
        raise UnreadableError(
            say("services.times_impossible", value=f"{road.km[at]:.0f}", minutes=f"{minutes:.0f}")
        )
    if road.driving_s > LONGEST_DRIVE_S:
        raise UnreadableError(say("services.more_than_a_month", length_km=f"{road.length_km:.0f}"))


def _check_waypoints(road: Road, request: RouteRequest) -> None:
    for site, vertex in zip(request.sites, road.waypoint_vertex, strict=True):
        off_km = great_circle_km(site.lat_deg, site.lon_deg, road.lat_deg[vertex], road.lon_deg[vertex])
        if off_km > OFF_ROAD_KM:
            raise UnreadableError(
                say("services.nearest_road_far", name=str(site.name), off_km=f"{float(off_km):.0f}")
            )
