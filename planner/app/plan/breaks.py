"""Breaks that the law on driving hours asks for: put in where a trip lacks them, judged with it, and said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import count

import numpy as np

from planner.model.records import Floats, Group, Road, Site, Stop, Trip
from planner.store.rules import BreakRule, answer_rules
from planner.zones import zone_at

LOOKED_AT = 100
"""So many points of a road are looked at for the law that holds there."""

LAWFUL = ("truck",)
"""Vehicles that the law on driving hours binds: lorries. What smaller ones owe depends on mass and purpose."""
PUT_IN = "Break"
"""What a break that was put in is called, with the first number that no call of the trip has."""


@dataclass(frozen=True, slots=True)
class PutIn:
    """A break that was put in: where along the road, how long, and by which law."""

    name: str
    km: float
    break_s: float
    law: str


def with_breaks(trip: Trip, road: Road) -> tuple[Trip, Road, tuple[PutIn, ...]]:
    """The trip and its road with the breaks it lacks, and which they are; the same where nothing is missing.

    A stop in the file counts as a break when it is as long as the law asks. Missing ones are put in at the last
    vertex of the road before the driving time is up.
    """
    rule = rule_of(trip, road)
    if rule is None or any(group.stages for group in trip.groups):
        return trip, road, ()
    put_in: list[PutIn] = []
    while (found := _first_missing(trip, road, rule)) is not None:
        leg, vertex = found
        trip, road, one = _put_in(trip, road, rule, leg, vertex)
        put_in.append(one)
    return trip, road, tuple(put_in)


def rule_of(trip: Trip, road: Road) -> BreakRule | None:
    """The law that binds the driver, by vehicle and by where the road lies; of several the one that binds first."""
    if not _bound(trip, road):
        return None
    found = [rule for zone in zones_along(trip, road) if (rule := answer_rules().breaks_in(zone))]
    return min(found, key=lambda rule: rule.driving_s, default=None)


def without_rest(trip: Trip, road: Road) -> tuple[float, BreakRule] | None:
    """Seconds of driving with no stop as long as a daily rest, and the law; None where it is not too much for a day."""
    rule = rule_of(trip, road)
    if rule is None:
        return None
    calls = zip(trip.stops, road.waypoint_vertex[1:-1], strict=True)
    rests = [vertex for stop, vertex in calls if stop.dwell_s >= rule.daily_rest_s]
    between_s = np.diff(road.drive_s[[0, *rests, -1]]) * trip.drive_time_factor
    driven_s = float(between_s.max())
    return (driven_s, rule) if driven_s > rule.daily_driving_s else None


def lawless(trip: Trip, road: Road) -> tuple[str, ...]:
    """The time zones along the road for which no law on breaks is known, where the driver may need one."""
    if not _bound(trip, road):
        return ()
    return tuple(zone for zone in zones_along(trip, road) if answer_rules().breaks_in(zone) is None)


def _bound(trip: Trip, road: Road) -> bool:
    """Whether any law that is known would ask a break of somebody who drives so long; else none is looked up."""
    soonest_s = min(rule.driving_s for rule in answer_rules().breaks)
    return trip.road_vehicle in LAWFUL and float(road.drive_s[-1]) * trip.drive_time_factor > soonest_s


def zones_along(trip: Trip, road: Road) -> tuple[str, ...]:
    """The time zones on land that the road passes, in their order, by where it lies and not by what a file calls it."""
    rows = np.unique(np.linspace(0, road.km.size - 1, LOOKED_AT).astype(np.int64))
    found = [zone_at(float(road.lat_deg[row]), float(road.lon_deg[row])) for row in rows]
    on_land = tuple(dict.fromkeys(zone for zone in found if not zone.startswith("Etc/")))
    return on_land or (trip.origin.zone,)


def is_put_in(stop: Stop, breaks: Iterable[PutIn]) -> bool:
    """Whether a stop is one of the breaks that were put in: it lies wherever it is due, and nobody named it."""
    return any(one.name == stop.site.name for one in breaks)


def _first_missing(trip: Trip, road: Road, rule: BreakRule) -> tuple[int, int] | None:
    """Leg and vertex at which the first break is due; None where none is missing."""
    drive_s = road.drive_s * trip.drive_time_factor
    begun = 0.0
    for leg, (first, last) in enumerate(zip(road.waypoint_vertex, road.waypoint_vertex[1:], strict=False)):
        if leg and trip.stops[leg - 1].dwell_s >= rule.break_s:
            begun = float(drive_s[first])
        if drive_s[last] - begun > rule.driving_s:
            due = int(np.searchsorted(drive_s, begun + rule.driving_s, side="right")) - 1
            return leg, max(due, first)
    return None


def _put_in(trip: Trip, road: Road, rule: BreakRule, leg: int, vertex: int) -> tuple[Trip, Road, PutIn]:
    due_s = _begun_s(trip, road, rule, leg) + rule.driving_s
    road, vertex = _with_vertex(road, due_s / trip.drive_time_factor, vertex)
    taken = {site.name for site in trip.waypoints}
    name = next(
        name for n in count(1) if (name := f"{PUT_IN} {n}") not in taken
    )  # the user may call a stop so
    zone = trip.waypoints[leg].zone
    site = Site(name, float(road.lat_deg[vertex]), float(road.lon_deg[vertex]), zone)
    stop = Stop(site, "break", rule.break_s)
    waypoints = (*road.waypoint_vertex[: leg + 1], vertex, *road.waypoint_vertex[leg + 1 :])
    trip = replace(
        trip,
        stops=(*trip.stops[:leg], stop, *trip.stops[leg:]),
        groups=tuple(_moved(group, leg) for group in trip.groups),
    )
    return (
        trip,
        replace(road, waypoint_vertex=waypoints),
        PutIn(name, float(road.km[vertex]), rule.break_s, rule.law),
    )


def _begun_s(trip: Trip, road: Road, rule: BreakRule, leg: int) -> float:
    """Driving seconds at the last break before a leg ends."""
    kept = [0, *(i + 1 for i in range(leg) if trip.stops[i].dwell_s >= rule.break_s)]
    return float(road.drive_s[road.waypoint_vertex[kept[-1]]]) * trip.drive_time_factor


def _with_vertex(road: Road, drive_s: float, vertex: int) -> tuple[Road, int]:
    """The road with a vertex at a driving time, which lies behind ``vertex``, and its index."""
    if road.drive_s[vertex] >= drive_s - 1.0:
        return road, vertex
    moved = tuple(at + (at > vertex) for at in road.waypoint_vertex)

    def between(values: Floats) -> Floats:
        return np.insert(values, vertex + 1, np.interp(drive_s, road.drive_s, values))

    lon_deg = between(np.unwrap(road.lon_deg, period=360.0))  # over the date line, not round the world
    longer = replace(
        road,
        lat_deg=between(road.lat_deg),
        lon_deg=(lon_deg + 180.0) % 360.0 - 180.0,
        elevation_m=between(road.elevation_m),
        km=between(road.km),
        drive_s=between(road.drive_s),
        waypoint_vertex=moved,
    )
    return longer, vertex + 1


def _moved(group: Group, leg: int) -> Group:
    """A group's waypoints after one more was put in behind ``leg``."""

    def after(waypoint: int) -> int:
        return waypoint + (waypoint > leg)

    unload = group.unload_waypoint if group.unload_waypoint < 0 else after(group.unload_waypoint)
    return replace(group, load_waypoint=after(group.load_waypoint), unload_waypoint=unload)
